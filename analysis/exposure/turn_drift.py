"""Slow changes of light: clouds, dusk, a lamp that warms up; followed second by second for minutes.

The light is measured against an anchor, a look of the same view a few seconds old, so errors hardly add up. A
change is a drift when it has gone one way through all five fifths of a window of at least five seconds; steps do not.
"""

from __future__ import annotations

import math

import msgspec
import numpy as np

from analysis.exposure.turn_compare import Change, Look, compare
from analysis.exposure.turn_rest import middle_of
from analysis.exposure.turn_zones import lit_change, zones_of
from analysis.model.instant import Instant
from analysis.model.turn import DriftOf, DriftRate, DriftStage, Turn

EVERY_SECONDS = 1.0
ANCHOR_SECONDS = 8.0
LOST_SECONDS = 4.0
LOOKS = 12
WINDOWS = (5.0, 10.0, 20.0, 40.0, 80.0, 160.0, 320.0)
KEPT_POINTS = 340
LEAST = 0.2
"""Stops that a drift has gone before it is told."""
QUICK = 0.05
"""Stops more where it is told after ten seconds or less: a step may still be among them."""
ONE_WAY, ONE_WAY_SOON = 0.3, 0.5
"""Each fifth of the window moves at least this part of its fair share, and the same way; in the shortest more, so
that what took four seconds is no drift yet: it may be a turn by hand."""
HOLE = 1.6
"""Points farther apart than this many times the usual say too little of what happened in between."""
OVER = 0.12
"""A drift is looked at over the time in which it should go so many stops, between 5 and 60 seconds."""
STOPPED, SLOWER, FASTER = 0.3, 0.6, 1.7
"""Parts of the rate told last: below the first it has ended, outside the others its rate is told anew."""
AGAIN_SECONDS = 10.0
EVEN = 0.2
"""Half a window holds half of what a steady drift goes in it, give or take this part of the whole."""
ARRIVED = 0.04
NEARER_SECONDS = 2.0
SOON_SECONDS = 60.0
"""When the clip comes this near for the first time, the drift is told again."""
FARTHEST_SECONDS = 600.0
SAME_VIEW = 0.35
"""Structure kept below which the anchor says nothing; people before it may hide much of it."""
UNLIKE, ALIKE, LONG_ENOUGH = 0.3, 0.7, 40.0
"""Sitter and ground drift apart when one goes less than the first part of what the other does, and together from the
second on; in between it is waited for so many seconds, until more is seen of it."""
SMALLEST = 4
"""Cells that are the brightest of the picture."""


class Point(msgspec.Struct, frozen=True, kw_only=True):
    """Stops gone by since the following began, of the ground, its brightest tenth and the sitter."""

    at: Instant
    ground: float
    bright: float | None
    sitter: float | None


class Drift(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """What is remembered: the anchor with the point it stands for, the looks since the last point, a point a second,
    and what was told last.
    """

    anchor: Look | None = None
    looks: tuple[Look, ...] = ()
    base: Point | None = None
    points: tuple[Point, ...] = ()
    began: Point | None = None
    told: DriftRate | None = None
    told_at: Instant | None = None


def settle_drift(drift: Drift, rest: Look, begun: Instant, now: Instant) -> Drift:
    """After a step that began at ``begun``: the drift goes on from where it was, the step is not part of it."""
    points = tuple(point for point in drift.points if point.at < begun)
    if not points:
        return Drift(anchor=rest, base=Point(at=now, ground=0.0, bright=0.0, sitter=0.0))
    return msgspec.structs.replace(
        drift, anchor=rest, base=_known(msgspec.structs.replace(points[-1], at=now), points), points=points
    )


def follow(
    drift: Drift, look: Look, now: Instant, restless: float = 0.0, doubt: bool = False
) -> tuple[Drift, tuple[Turn, ...]]:
    """One more look: the drift as it is known now, and what is to be told of it.

    ``restless`` is a known beat of the light in stops. While there is ``doubt`` about a step no drift is begun with it.
    """
    looks = (*drift.looks, look)[-LOOKS:]
    if drift.anchor is None or drift.base is None:
        if now.since(looks[0].light.at) < EVERY_SECONDS - 0.02:
            return msgspec.structs.replace(drift, looks=looks), ()
        look = _middle(look, looks)
        start = Point(at=now, ground=0.0, bright=0.0, sitter=0.0)
        return msgspec.structs.replace(drift, anchor=look, looks=(), base=start, points=(start,)), ()
    anchor, base = drift.anchor, drift.base
    last = drift.points[-1].at if drift.points else base.at
    if now.since(last) < EVERY_SECONDS - 0.02:
        return msgspec.structs.replace(drift, looks=looks), ()
    look = _middle(look, looks)
    drift = msgspec.structs.replace(drift, looks=())
    change = compare(anchor, look)
    if change.ground is None or (change.kept is not None and change.kept < SAME_VIEW):
        return (Drift() if now.since(last) > LOST_SECONDS else drift), ()
    point = _added(base, change, _of_sitter(anchor, look, change.ground), now)
    drift = msgspec.structs.replace(drift, points=(*drift.points, point)[-KEPT_POINTS:])
    if now.since(base.at) >= ANCHOR_SECONDS:
        drift = msgspec.structs.replace(drift, anchor=look, base=_known(point, drift.points))
    if drift.told is None:
        if doubt:
            return drift, ()
        return _begun(drift, look, now, LEAST + restless)
    return _gone_on(drift, look, now)


def seconds_ahead(drift: Drift, look: Look, now: Instant) -> float | None:
    """Seconds until the brightest clips if the drift that was told last goes on as it does now; inf where it does not.

    The rate is the lesser of that of its last seconds and of half as many, so that light which has stopped is soon
    known to have. None without a drift, and where no cell can be vouched for.
    """
    told = drift.told
    if told is None:
        return None
    room = _room(look, told.of)
    if room is None:
        return None
    window = min(max(OVER / max(abs(told.stops_a_minute) / 60.0, 1e-6), 5.0), 60.0)
    name = _series(drift, told)
    moved = (_moved(drift.points, name, now, window), _moved(drift.points, name, now, window / 2.0))
    rates = [gone / part for gone, part in zip(moved, (window, window / 2.0), strict=True) if gone is not None]
    rate = min(rates, default=told.stops_a_minute / 60.0)
    return room / rate if rate > 0.0 else math.inf


def _middle(look: Look, looks: tuple[Look, ...]) -> Look:
    """A look with the sitter's light as it was in most of some: one who moves is lit differently from look to look."""
    face, body = middle_of(looks)
    return msgspec.structs.replace(look, face=face, body=body)


def _of_sitter(anchor: Look, look: Look, ground: float) -> float | None:
    """The change of the sitter's light where they are each time; None where they or a part of it cannot be seen."""
    face, hidden = lit_change(anchor.face, look.face)
    if face is None or hidden:
        return None
    body, hidden = lit_change(anchor.body, look.body)
    # A face that only turns changes alone; light changes the body too.
    return face if body is None or hidden else sorted((face, body, ground))[1]


def _added(base: Point, change: Change, sitter: float | None, now: Instant) -> Point:
    ground = change.ground or 0.0
    return Point(
        at=now,
        ground=base.ground + ground,
        bright=None if change.bright is None or base.bright is None else base.bright + change.bright,
        sitter=None if sitter is None or base.sitter is None else base.sitter + sitter,
    )


def _known(point: Point, points: tuple[Point, ...]) -> Point:
    """The point with what is not known of it as it was last known, and gone on since as the ground has.

    A sitter who sways is lost at times; taken to stand still in between, they would lag behind any drift.
    """

    def last(name: str) -> float:
        for each in (point, *reversed(points)):
            value = getattr(each, name)
            if value is not None:
                return float(value + point.ground - each.ground)
        return point.ground

    return msgspec.structs.replace(point, bright=last("bright"), sitter=last("sitter"))


def _begun(drift: Drift, look: Look, now: Instant, least: float) -> tuple[Drift, tuple[Turn, ...]]:
    for window in WINDOWS:
        if now.since(drift.points[0].at) < window - 0.5:
            break
        gone = {
            name: _one_way(drift.points, name, now, window, least + (QUICK if window <= 10.0 else 0.0))
            for name in ("ground", "bright", "sitter")
        }
        which = _which(drift.points, gone, now, window)
        if which is None:
            continue
        of, name = which
        knowing = [point for point in drift.points if getattr(point, name) is not None]
        began = min(knowing, key=lambda point: abs(now.since(point.at) - window))
        drift = msgspec.structs.replace(drift, began=began)
        rate = 60.0 * gone[name] / window
        return _tell(drift, look, now, of, rate, "begun")
    return drift, ()


def _which(
    points: tuple[Point, ...], gone: dict[str, float], now: Instant, window: float
) -> tuple[DriftOf, str] | None:
    """Of what the drift is, and which series tells its rate; None while that is not clear."""
    if gone["ground"]:
        sitter = _moved(points, "sitter", now, window)
        part = 1.0 if sitter is None else sitter / gone["ground"]
        if UNLIKE < part < ALIKE and window < LONG_ENOUGH:
            return None
        return ("background" if part < 0.5 * (UNLIKE + ALIKE) else "whole"), "ground"
    # The brightest and the sitter are told where the ground is not as good as gone as far as they.
    others: tuple[tuple[str, DriftOf], ...] = (("bright", "background"), ("sitter", "sitter"))
    for name, of in others:
        if gone[name]:
            part = (_moved(points, "ground", now, window) or 0.0) / gone[name]
            return (of, name) if part < UNLIKE or (part < ALIKE and window >= LONG_ENOUGH) else None
    return None


def _gone_on(drift: Drift, look: Look, now: Instant) -> tuple[Drift, tuple[Turn, ...]]:
    """A drift that was told: whether it has ended or changed its rate, or the clip has come near."""
    told, told_at = drift.told, drift.told_at
    assert told is not None and told_at is not None
    name = _series(drift, told)
    window = min(max(OVER / max(abs(told.stops_a_minute) / 60.0, 1e-6), 5.0), 60.0)
    moved = _moved(drift.points, name, now, window)
    if moved is None:
        return drift, ()
    rate = 60.0 * moved / window
    part = rate / told.stops_a_minute
    since = now.since(told_at)
    if part < STOPPED:
        if since < window:
            return drift, ()
        return _ended(drift, look, now, told.of, rate, name)
    clip = _seconds_to_clip(look, told.of, rate)
    nearer = clip is not None and clip < SOON_SECONDS <= (told.seconds_to_clip or FARTHEST_SECONDS)
    lately = _moved(drift.points, name, now, window / 2.0)
    even = lately is not None and abs(lately / moved - 0.5) < EVEN
    other = even and not SLOWER <= part <= FASTER and since >= AGAIN_SECONDS
    if other or (nearer and since >= NEARER_SECONDS):
        return _tell(drift, look, now, told.of, rate, "changed")
    return drift, ()


def _ended(
    drift: Drift, look: Look, now: Instant, of: DriftOf, rate: float, name: str
) -> tuple[Drift, tuple[Turn, ...]]:
    """The drift is over since the last point that was still on its way; what came after begins anew."""
    known = [point for point in drift.points if getattr(point, name) is not None]
    on_the_way = [point for point in known if abs(getattr(point, name) - getattr(known[-1], name)) > ARRIVED]
    last = on_the_way[-1].at if on_the_way else drift.points[0].at
    drift, turns = _tell(drift, look, now, of, rate, "ended")
    assert drift.began is not None
    took = max(0.0, last.since(drift.began.at))
    turns = tuple(msgspec.structs.replace(turn, seconds=took) for turn in turns)
    return msgspec.structs.replace(drift, told=None, told_at=None, began=None, points=drift.points[-1:]), turns


def _tell(
    drift: Drift, look: Look, now: Instant, of: DriftOf, rate: float, stage: DriftStage
) -> tuple[Drift, tuple[Turn, ...]]:
    began, last = drift.began, drift.points[-1]
    assert began is not None
    clip = None if stage == "ended" else _seconds_to_clip(look, of, rate)
    told = DriftRate(of=of, stage=stage, stops_a_minute=rate, seconds_to_clip=clip)
    drift = msgspec.structs.replace(drift, told=told, told_at=now)
    name = _series(drift, told)
    since = (began, *drift.points)
    turn = Turn(
        kind="drift",
        at=began.at,
        stops=_gone(since, name) or 0.0,
        seconds=last.at.since(began.at),
        share=1.0,
        sitter_stops=_gone(since, "sitter"),
        background_stops=_gone(since, "bright" if name == "bright" else "ground"),
        drift=told,
    )
    return drift, (turn,)


def _gone(points: tuple[Point, ...], name: str) -> float | None:
    """Stops from the first of these points to the newest that knows them."""
    first, known = getattr(points[0], name), [getattr(point, name) for point in points[1:]]
    known = [value for value in known if value is not None]
    return float(known[-1] - first) if known and first is not None else None


def _series(drift: Drift, told: DriftRate) -> str:
    if told.of == "sitter":
        return "sitter"
    assert drift.began is not None
    last = drift.points[-1]
    since = (drift.began, *drift.points)
    ground, bright = last.ground - drift.began.ground, _gone(since, "bright") or 0.0
    return "bright" if told.of == "background" and abs(bright) > 2.0 * abs(ground) else "ground"


def _values(points: tuple[Point, ...], name: str) -> tuple[list[float], list[float]] | None:
    known = [(point.at.monotonic, value) for point in points if (value := getattr(point, name)) is not None]
    return ([at for at, _ in known], [value for _, value in known]) if len(known) >= 2 else None


def _moved(points: tuple[Point, ...], name: str, now: Instant, window: float) -> float | None:
    """Stops gone in the last ``window`` seconds; None when not known for so long."""
    found = _values(points, name)
    if found is None or found[0][0] > now.monotonic - window + 1.0:
        return None
    early, late = np.interp((now.monotonic - window, now.monotonic), *found)
    return float(late - early)


def _one_way(points: tuple[Point, ...], name: str, now: Instant, window: float, least: float) -> float:
    """Stops gone through the window when every fifth of it went the same way, else 0."""
    found = _values(points, name)
    if found is None or found[0][0] > now.monotonic - window + 0.5:
        return 0.0
    times = np.array([at for at in found[0] if at > now.monotonic - window - EVERY_SECONDS])
    if np.diff(times).max(initial=0.0) > max(HOLE * EVERY_SECONDS, window / 5.0):
        return 0.0
    parts = np.diff(np.interp(now.monotonic - window + window / 5.0 * np.arange(6), *found))
    total = float(parts.sum())
    part = ONE_WAY_SOON if window <= WINDOWS[0] else ONE_WAY
    steady = bool((parts * np.sign(total) >= part * abs(total) / 5.0).all())
    return total if abs(total) >= least and steady else 0.0


def _seconds_to_clip(look: Look, of: DriftOf, rate: float) -> float | None:
    """When the brightest that does not clip yet will, at this rate; None where that is far off."""
    room = _room(look, of)
    if rate <= 0.0 or room is None:
        return None
    seconds = 60.0 * room / rate
    return seconds if 0.0 <= seconds <= FARTHEST_SECONDS else None


def _room(look: Look, of: DriftOf) -> float | None:
    """Stops by which the brightest that does not clip lies below the clip; None where too few cells are known."""
    zones = zones_of(look.sitters)
    cells = {"whole": np.ones_like(zones.ground), "background": zones.ground, "sitter": zones.face}[of]
    room = look.light.room[cells & look.light.trusted & ~look.light.clipped]
    return float(np.partition(room, SMALLEST - 1)[SMALLEST - 1]) if room.size >= SMALLEST else None
