"""What to move to match a hold, in terms of the controls: the planner with the hold as its aim."""

from __future__ import annotations

import msgspec

from analysis.exposure.aims import ANY_SITTER, level_of, third_words, thirds
from analysis.exposure.match import NO_CURVE, difference
from analysis.exposure.match_light import Light, Seen
from analysis.exposure.plan import plan
from analysis.exposure.plan_words import SUN
from analysis.exposure.policy import OPEN_SKY, Policy, Weights, suggest
from analysis.measure.examiner import known_curve
from analysis.model.camera import CameraProfile
from analysis.model.controls import ControlLimits, Controls
from analysis.model.errors import UsageError
from analysis.model.hold import Difference
from analysis.model.plan import Plan, Planned
from analysis.model.reading import Reading
from analysis.model.sitter import Aim, SitterReading, SpotReading
from analysis.signal.curves import Curve

TOLERANCE = 1.0 / 6.0
"""Stops within which two pictures match: half the step in which light is spoken of."""
MATCH = "match"
"""The name of the policy that plans to match follow."""
_BEHIND = "background"


def to_match(
    live: Reading | Light,
    hold: Reading | Light,
    controls: Controls,
    *,
    limits: ControlLimits | None = None,
    camera: CameraProfile | None = None,
    found: Difference | None = None,
) -> Planned:
    """The best ways from the live picture to the hold: the sitter's skin, and the background where a key can move.

    Where no sitter is read in both, the middle of the picture stands for the skin. ``found`` is their difference where
    it is known already. Raises UsageError in one line where the two cannot be compared.
    """
    now = live if isinstance(live, Light) else Light(live, known_curve(live.encoding.curve))
    then = hold if isinstance(hold, Light) else Light(hold, known_curve(hold.encoding.curve))
    if now.curve is None or then.curve is None:
        raise UsageError(NO_CURVE, MATCH, "name it with --curve")
    found = found or difference(now, then)
    limits = limits or ControlLimits()
    here, there = (now.skin(), then.skin()) if found.sitter is not None else (now.middle(), then.middle())
    if here is None or there is None or (found.sitter is None and found.middle is None):
        raise UsageError("neither skin nor picture can be compared", MATCH, "keep a hold of a picture that is not lost")
    by = found.background_by
    behind = (getattr(now, by)(), getattr(then, by)()) if by is not None else (None, None)
    aims = [Aim(target=ANY_SITTER, value=there.stops, tolerance=TOLERANCE, unit="stops")]
    if behind[1] is not None:
        aims.append(Aim(target=_BEHIND, value=behind[1].stops, tolerance=TOLERANCE, unit="stops"))
    key = controls.key_percent is not None and limits.free("key") and found.sitter is not None
    policy = _policy(then.reading, key, behind[1] is not None)
    reading = _reading(now, now.curve, here, behind[0], skin=found.sitter is not None)
    made = plan(reading, controls, policy, now.curve, tuple(aims), limits=limits, camera=camera)
    wall = None if behind[1] is None else behind[1].stops
    # Who need not move anything is not offered what to move.
    stays = bool(made.plans) and made.plans[0].controls == controls
    ways = tuple(_told(way, found, wall, stays) for way in (made.plans[:1] if stays else made.plans))
    made = msgspec.structs.replace(made, plans=ways)
    cautions = () if stays else made.cautions
    sky = OPEN_SKY in {suggest(reading, now.curve).policy, suggest(then.reading, then.curve).policy}
    if SUN not in cautions and _opens(made) and sky:
        cautions = (*cautions, SUN)
    if there.hidden == "above":
        cautions = (*cautions, "The hold is clipped there: it was at least so bright, so look again when it is done.")
    return msgspec.structs.replace(made, cautions=cautions)


def _policy(hold: Reading, key: bool, behind: bool) -> Policy:
    """What costs what when matching: the aim above all; no more may clip than in the hold, or than half a percent."""
    clipped = 0.0 if hold.clipped is None else hold.clipped.any
    return Policy(
        name=MATCH,
        title="match the hold",
        why="The picture is to be as it was: what moves everything for the background, the key for the sitter.",
        most_clipped=max(0.5, clipped),
        background_first=key and behind,
        key_moves=key,
        # Of ways to the same picture the one that touches least is the best.
        weights=Weights(aim=4.0, background=4.0 if key else 0.0, move=1.0, highlights=0.1),
    )


def _reading(now: Light, curve: Curve, here: Seen, behind: Seen | None, *, skin: bool) -> Reading:
    """The reading as the planner wants it: what is to be moved is its sitter, and the background a spot of it."""
    reading, sitter = now.reading, now.main()
    level = level_of(here.stops, curve)
    if skin and sitter is not None and sitter.level is not None:
        level = sitter.level
    stand_in = SitterReading(
        name=ANY_SITTER,
        main=True,
        state="seen",
        box=sitter.box if skin and sitter is not None else (0, 0, 0, 0),
        confidence=1.0,
        level=level,
        low=sitter.low if skin and sitter is not None else None,
        high=sitter.high if skin and sitter is not None else None,
        stops=here.stops,
        clipped=100.0 if here.hidden == "above" else 0.0,
    )
    spots = None
    if behind is not None:
        beyond = 100.0 if behind.hidden == "above" else 0.0
        wall = SpotReading(level=level_of(behind.stops, curve), stops=behind.stops, clipped=beyond, kind="background")
        spots = {_BEHIND: wall}
    made = msgspec.structs.replace(reading, sitters=(stand_in,), spots=spots)
    if now.told:
        return made
    # What was counted through another curve says nothing of light.
    encoding = msgspec.structs.replace(reading.encoding, curve=curve.name)
    return msgspec.structs.replace(made, encoding=encoding, spread=None, peaks=msgspec.UNSET)


def _told(way: Plan, found: Difference, wall: float | None, stays: bool) -> Plan:
    """The way with its one sentence: how near to the hold it comes; ``wall`` is the hold's background in stops.

    ``stays`` where nothing is moved.
    """
    off, after = way.costs.off_aim_stops, way.predicted.background_stops
    what = "the skin" if found.sitter is not None else "the middle of the picture"
    parts = [f"Leaves {what} {_off(off)} the hold" if thirds(off) else f"Brings {what} to the hold"]
    if stays:
        which = f"{what[0].upper()}{what[1:]}"
        parts = [f"{which} stays {_off(off)} the hold" if thirds(off) else f"{which} lies as in the hold"]
    if found.sitter is not None and after is not None and wall is not None:
        still = after - wall
        parts.append(f"the background is {_off(still)} it" if thirds(still) else "and the background too")
    if way.costs.noise_stops > 0.1:
        parts.append(f"costs {way.costs.noise_stops:.1f} stops of signal-to-noise in the shadows")
    return msgspec.structs.replace(way, reason=f"{'; '.join(parts)}.")


def _off(stops: float) -> str:
    return f"{third_words(thirds(stops))} {'over' if stops > 0.0 else 'under'}"


def _opens(made: Planned) -> bool:
    now = made.now.controls
    return any(
        way.controls.nd_stops < now.nd_stops
        or (way.controls.t_stop is not None and now.t_stop is not None and way.controls.t_stop < now.t_stop)
        for way in made.plans
    )
