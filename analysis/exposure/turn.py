"""Recognises turns: compares the light as it last stood still with the light as it stands now.

Maps come some ten times a second. While the light moves nothing is told; when it has stood still for half a second
the change is measured between means over the two still times, so that a frame in the middle of a change, a hand
before the lens and noise do not count.
"""

from __future__ import annotations

import msgspec
import numpy as np

from analysis.exposure.turn_compare import Change, Look, compare, look_at, shift_between, shifted, structure
from analysis.exposure.turn_doubt import weighed
from analysis.exposure.turn_drift import Drift, follow, settle_drift
from analysis.exposure.turn_kind import LEAST, Kind, kind_of
from analysis.exposure.turn_rest import Rest, carried, middle_of, rest_of
from analysis.exposure.turn_unseen import unseen_change
from analysis.model.instant import Instant
from analysis.model.light import LightMap, SeenSitter
from analysis.model.turn import Turn

STILL_SECONDS = 0.5
"""Light that stood still for so long has settled."""
BACK_SECONDS = 0.35
"""Movement of light is told against the look so long ago."""
GAP_SECONDS = 2.0
"""After a longer time without a map nothing can be said of what happened in between."""
KEPT_SECONDS, KEPT_LOOKS = 1.5, 32
MOVES, SITTER_MOVES, FACE_MOVES = 0.025, 0.06, 0.12
"""Stops in ``BACK_SECONDS`` from which on the light of the ground, of the sitter, or of a face elsewhere moves."""
IMPATIENT_SECONDS = 3.2
"""After so long only the ground's light is waited for: sitters may never rest."""
SAME_VIEW = 0.5
"""Structure kept from which on it is the same view for certain."""
AGREED = 0.45
"""When this share of the ground changed by one amount, as two shots hardly do, less structure is enough."""
OTHER_VIEW = 0.22
"""Structure kept below which it is another view for certain: 18 photographs kept at most 0.19 of one another."""
BREAK = 0.4
"""Two looks in a row that fit each other less well than this, wherever they are put, are a break."""
UNSEEN = 0.02
"""When fewer cells than this share are trusted both before and after, only bounds of the change are known."""
BARE = 0.25
"""A view with less than this part of the structure that was there is something before the lens."""
REMEMBERED, REMEMBERED_EVERY = 7, 0.9
"""Times of rest that are kept, and the seconds between them: changes too slow to be seen are told across them."""
TURNED, WELL_FITTED = 1.0, 0.8
"""Cells by which the camera was turned from which on less structure kept than this lets edges pass for light."""
PASSING = 0.15
"""Stops by which a cell differs between two times of rest without a turn when something passes before it."""
AGAIN = 0.06
"""A change found twice is the same when its amounts differ by no more than this, and a little with the amount."""
SITTER_SECONDS, DOUBT_SECONDS = 2.4, 4.0
"""How long a sitter who cannot be seen is waited for; after how long a change that is another each time is none."""
LONGEST_STEP, BEGUN_WITH = 4.0, 1.0
"""A change that took longer than this belongs to the drift, if one was told; or began within so many seconds of it."""
SMALL = 0.5
"""A change smaller than this may be the end of one that began too slowly to be seen."""
SLOWED = 0.08
"""Such a change is over when the newest of those times has less than this part of it."""


class Still(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """The light at a time when it stood still."""

    look: Look
    at: Instant


class Motion(msgspec.Struct, frozen=True, kw_only=True):
    """Whether light moves, that of the ground, and whether the view broke off."""

    any: bool = False
    ground: bool = False
    torn: bool = False


class Pending(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """A change that was found once, first at ``since``, and in which light; when it began and how long it took."""

    kind: Kind
    light: LightMap
    since: Instant
    begun: Instant
    took: float


class TurnState(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """What the recogniser remembers: the newest looks, the last times of rest, and the drift.

    ``moved_from`` and ``moved_at`` are the first and the last time at which light was seen moving since the light last
    stood still, ``ground_from`` and ``ground_at`` those of the ground; ``broken`` whether the view changed abruptly in
    between; ``settled`` when it was last compared, ``pending`` what was found then and waits to be found again.
    ``fresh`` says that light stood still only once so far: nobody knows who was passing then.
    """

    looks: tuple[Look, ...] = ()
    stills: tuple[Still, ...] = ()
    moved_from: Instant | None = None
    moved_at: Instant | None = None
    ground_from: Instant | None = None
    ground_at: Instant | None = None
    settled: Instant | None = None
    pending: Pending | None = None
    broken: bool = False
    fresh: bool = True
    drift: Drift = Drift()


def begin() -> TurnState:
    """Nothing seen yet."""
    return TurnState()


def step(
    state: TurnState,
    light: LightMap,
    sitters: tuple[SeenSitter, ...],
    now: Instant,
    restless: float = 0.0,
) -> tuple[TurnState, tuple[Turn, ...]]:
    """One more map: the next state, and the turns that are complete with it.

    ``sitters`` are the faces at the time of the map. ``restless`` is the peak-to-peak beat of the light in stops where
    one is known: changes no larger than it are not told. Maps of another feed life or another active picture, and a
    gap of two seconds, begin afresh.
    """
    look = look_at(light, sitters)
    if _begins_afresh(state, light, now):
        return TurnState(looks=(look,)), ()
    motion = _motion(state, look, now, restless)
    looks = tuple(each for each in state.looks if now.since(each.light.at) <= KEPT_SECONDS)[1 - KEPT_LOOKS :]
    drift, told = follow(state.drift, look, now, restless, state.pending is not None)
    last = state.looks[-1].light.at
    state = msgspec.structs.replace(
        state,
        looks=(*looks, look),
        moved_from=(state.moved_from or last) if motion.any else state.moved_from,
        moved_at=now if motion.any else state.moved_at,
        ground_from=(state.ground_from or last) if motion.ground else state.ground_from,
        ground_at=now if motion.ground else state.ground_at,
        broken=state.broken or motion.torn,
        drift=drift,
    )
    if not _due(state, now):
        return state, told
    state, turns = _settle(state, now, restless)
    return state, told + turns


def _begins_afresh(state: TurnState, light: LightMap, now: Instant) -> bool:
    if not state.looks:
        return True
    last = state.looks[-1].light
    return (last.generation, last.area) != (light.generation, light.area) or not 0.0 < now.since(last.at) <= GAP_SECONDS


def _due(state: TurnState, now: Instant) -> bool:
    """Whether the light has stood still long enough to be compared with what it was."""
    since = state.moved_at or state.looks[0].light.at
    if len(state.looks) < 4 or now.since(since) < STILL_SECONDS - 0.02:
        return False
    return state.moved_at is not None or state.settled is None or now.since(state.settled) >= STILL_SECONDS - 0.02


def _motion(state: TurnState, look: Look, now: Instant, restless: float) -> Motion:
    """What moves between the look a moment ago and this one."""
    old = [each for each in state.looks if now.since(each.light.at) >= BACK_SECONDS - 0.02]
    change = compare(old[-1] if old else state.looks[0], look)
    if change.kept is not None and change.kept < SAME_VIEW and change.even < AGREED:
        last = state.looks[-1]
        near = compare(last, look).kept
        torn = near is not None and near < BREAK and shift_between(last.light, look.light)[2] < BREAK
        return Motion(any=True, torn=torn)
    calm = MOVES + 0.5 * restless
    if change.ground is not None and abs(change.ground) > calm:
        return Motion(any=True, ground=True)
    if state.moved_from is not None and now.since(state.moved_from) > IMPATIENT_SECONDS:
        return Motion()
    bright = change.bright is not None and abs(change.bright) > 2.0 * calm
    most = (FACE_MOVES if change.sitter_moved else SITTER_MOVES) + restless
    return Motion(any=bright or abs(_both(change)) > most)


def _both(change: Change) -> float:
    """The sitter's light as face and body both show it: a face that only turns moves alone."""
    if change.face is None or change.body is None:
        return 0.0 if change.sitter_moved else change.face or 0.0
    return min(change.face, change.body, key=abs) if change.face * change.body > 0.0 else 0.0


def _settle(state: TurnState, now: Instant, restless: float) -> tuple[TurnState, tuple[Turn, ...]]:
    """The light stands still: what changed since it last did."""
    newest = [look for look in state.looks if now.since(look.light.at) <= STILL_SECONDS + 0.02]
    rest = rest_of(tuple(newest if len(newest) >= 2 else state.looks[-2:]), restless)
    if not state.stills:
        return _rested(state, rest.look, now, ()), ()
    # Somebody who passed before the sitter may have been taken for them in one time of rest, not in most.
    face, body = middle_of(each.look for each in state.stills)
    still = msgspec.structs.replace(state.stills[-1].look, face=face, body=body)
    still = _lasting(still, state.stills)
    change, seen_from = _aligned(still, rest.look)
    hidden = change.seen < UNSEEN
    if not hidden and _another_view(change):
        if structure(rest.look.light) < BARE * structure(still.light):
            return state, ()
        turns = (_cut(still, rest.look, change, *_when(state, None, now)),) if state.broken else ()
        return _rested(msgspec.structs.replace(state, drift=Drift()), rest.look, now, ()), turns
    least = max(LEAST, 1.5 * restless)
    kind = unseen_change(still, rest.look) if hidden else kind_of(seen_from, rest.look, change, least)
    begun, took = _when(state, kind, now)
    if kind is not None and kind.of_part and (state.fresh or _looks_elsewhere(still, rest.look, change)):
        return _rested(state, rest.look, now, state.stills), ()
    if kind is None and not hidden:
        kind, change, begun = _slowly(state, rest, change, least, begun)
        took = now.since(begun) - STILL_SECONDS
    if kind is None:
        return _rested(state, still if hidden else carried(rest, seen_from, 0.0, 0.0), now, state.stills), ()
    found = state.pending or Pending(kind=kind, light=rest.look.light, since=now, begun=begun, took=took)
    if not _certain(kind, state, still, rest.look, now):
        pending = msgspec.structs.replace(found, kind=kind, light=rest.look.light)
        if now.since(found.since) > DOUBT_SECONDS:
            return _rested(state, carried(rest, seen_from, 0.0, 0.0), now, state.stills), ()
        return msgspec.structs.replace(state, pending=pending, settled=now, moved_at=None), ()
    seen_moving = kind.kind == "whole" and state.ground_from is not None
    if abs(kind.stops) < SMALL and not (hidden or seen_moving or state.drift.told is not None):
        kind, change = _from_the_start(state.stills[0].look, rest.look, kind, change, least)
    found_before = None if state.pending is None else state.pending.kind
    kind = weighed(kind, found_before, (each.look for each in state.stills), newest)
    whole = kind.stops if kind.kind == "whole" else None
    look = carried(rest, seen_from, whole, change.face or change.ground or 0.0)
    own = _is_drift(state.drift, found)
    drift = state.drift if own else settle_drift(state.drift, look, found.begun, now)
    state = _rested(msgspec.structs.replace(state, drift=drift), look, now, ())
    return state, () if own else (_turn(kind, found.begun, found.took),)


def _certain(kind: Kind, state: TurnState, before: Look, after: Look, now: Instant) -> bool:
    """Whether a change is told now. That of a part must be found twice: somebody may only have passed before it."""
    waited = 0.0 if state.pending is None else now.since(state.pending.since)
    if kind.kind == "whole":
        known = kind.sitter is not None or kind.at_least or not (before.sitters or after.sitters)
        return known or waited > SITTER_SECONDS
    if state.pending is None or state.pending.kind.kind != kind.kind:
        return False
    if _goes_on(kind, before.light, state.pending.light, after.light):
        return False
    return abs(state.pending.kind.stops - kind.stops) < AGAIN + 0.03 * abs(kind.stops)


def _is_drift(drift: Drift, found: Pending) -> bool:
    """Whether a change is what was told as a drift: too slow for a step, or begun with it."""
    if drift.told is None or drift.began is None:
        return False
    return found.took > LONGEST_STEP or abs(drift.began.at.since(found.begun)) <= BEGUN_WITH


def _when(state: TurnState, kind: Kind | None, now: Instant) -> tuple[Instant, float]:
    """When the change began and how long it took: by the ground's movement where the ground changed."""
    begun, ended = state.moved_from, state.moved_at
    if kind is not None and kind.kind != "sitter" and state.ground_from is not None:
        begun, ended = state.ground_from, state.ground_at
    if begun is None or ended is None:
        # It was not seen moving, so it was sudden, and came after the light last stood as before.
        return state.stills[-1].at if state.stills else now, 0.0
    return begun, max(0.0, ended.since(begun) - BACK_SECONDS)


def _slowly(
    state: TurnState, rest: Rest, newest: Change, least: float, begun: Instant
) -> tuple[Kind | None, Change, Instant]:
    """A change too slow to be seen moving, told against the oldest time of rest once it is over."""
    if len(state.stills) < REMEMBERED - 1 or state.drift.told is not None:
        return None, newest, begun
    old = state.stills[0]
    change, seen_from = _aligned(old.look, rest.look)
    if _another_view(change):
        return None, newest, begun
    kind = kind_of(seen_from, rest.look, change, least)
    if kind is None or (kind.of_part and _looks_elsewhere(old.look, rest.look, change)):
        return None, newest, begun
    if _goes_on(kind, old.look.light, state.stills[-2].look.light, rest.look.light):
        return None, newest, begun
    return kind, change, old.at


def _from_the_start(first: Look, rest: Look, kind: Kind, change: Change, least: float) -> tuple[Kind, Change]:
    """A small change against the oldest time of rest, where it is the same but more: its beginning was not seen."""
    longer, seen_from = _aligned(first, rest)
    if _another_view(longer) or _looks_elsewhere(first, rest, longer):
        return kind, change
    found = kind_of(seen_from, rest, longer, least)
    more = found is not None and found.kind == kind.kind and found.stops * np.sign(kind.stops) > abs(kind.stops)
    return (found, longer) if found is not None and more else (kind, change)


def _goes_on(kind: Kind, old: LightMap, latest: LightMap, rest: LightMap) -> bool:
    """Whether the cells that made a change are still changing."""
    cells = old.trusted & rest.trusted & latest.trusted
    cells &= (rest.stops - old.stops) * np.sign(kind.stops) > 0.5 * abs(kind.stops)
    return bool(cells.any()) and abs(float(np.median((rest.stops - latest.stops)[cells]))) > SLOWED * abs(kind.stops)


def _aligned(still: Look, rest: Look) -> tuple[Change, Look]:
    """The change, with the earlier view laid over the later one where the camera was moved a little."""
    change = compare(still, rest)
    if change.kept is None or change.kept >= 0.75:
        return change, still
    down, right, fit = shift_between(still.light, rest.light)
    if fit < SAME_VIEW or not (down or right):
        return change, still
    moved = shifted(still, down, right)
    better = compare(moved, rest)
    return (better, moved) if (better.kept or 0.0) > change.kept else (change, still)


def _another_view(change: Change) -> bool:
    """Whether it is another view; most of the ground changing by one amount is something two shots do not do."""
    if change.kept is None or change.kept >= SAME_VIEW:
        return False
    return change.even < AGREED or change.kept < OTHER_VIEW


def _looks_elsewhere(still: Look, rest: Look, change: Change) -> bool:
    """Whether the camera was turned and the views fit badly: edges that lie beside their own are no light."""
    turned = max(abs(one - other) for one, other in zip(still.light.shift, rest.light.shift, strict=True))
    return turned > TURNED and change.kept is not None and change.kept < WELL_FITTED


def _rested(state: TurnState, look: Look, now: Instant, stills: tuple[Still, ...]) -> TurnState:
    """The state with the light at rest, as it is now; an earlier rest that is not old enough is replaced."""
    if len(stills) >= 2 and stills[-1].at.since(stills[-2].at) < REMEMBERED_EVERY:
        stills = stills[:-1]
    fresh = state.fresh and not (stills and now.since(stills[0].at) >= REMEMBERED_EVERY)
    stills = (*stills, Still(look=look, at=now))[-REMEMBERED:]
    return TurnState(looks=state.looks, stills=stills, settled=now, fresh=fresh, drift=state.drift)


def _lasting(look: Look, stills: tuple[Still, ...]) -> Look:
    """The look without what was not there the time before it: somebody who was passing."""
    if len(stills) < 2:
        return look
    before, light = stills[-2].look.light, look.light
    passing = before.trusted & light.trusted & (np.abs(light.stops - before.stops) > PASSING)
    return msgspec.structs.replace(look, light=msgspec.structs.replace(light, trusted=light.trusted & ~passing))


def _cut(still: Look, rest: Look, change: Change, begun: Instant, took: float) -> Turn:
    middles = [float(np.median(look.light.stops)) for look in (still, rest)]
    return Turn(kind="cut", at=begun, stops=middles[1] - middles[0], seconds=took, share=1.0 - (change.kept or 0.0))


def _turn(kind: Kind, begun: Instant, took: float) -> Turn:
    return Turn(
        kind=kind.kind,
        at=begun,
        stops=kind.stops,
        seconds=took,
        share=kind.share,
        at_least=kind.at_least,
        about=kind.about,
        sitter_stops=kind.sitter,
        background_stops=kind.background,
    )
