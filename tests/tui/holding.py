"""Snapshots of a watch that compares with a hold, made by the desk itself."""

from __future__ import annotations

import msgspec
import numpy as np

from analysis.engine.matching import MatchDesk, small_picture
from analysis.model.controls import ControlLimits, Controls
from analysis.model.hold import Hold, Matching
from analysis.model.instant import Instant
from analysis.model.planning import Planning
from analysis.model.reading import StopsSpread
from analysis.model.snapshot import Snapshot
from analysis.signal.curves import curve
from tests.tui.measured import SPOT_READINGS, complete
from tests.tui.synthetic import START, picture
from tests.tui.synthetic import measure as measure_picture

BT709 = curve("bt709")
SET = Controls(nd_stops=6.0, iso=800.0, t_stop=2.8)
BELL = tuple(max(0.0, 24.0 - abs(place - 38.0)) / 5.76 for place in range(88))
"""A picture with as much light above its middle as below, in percent for every quarter of a stop."""


def lit(stops: float) -> Snapshot:
    """The complete snapshot with so many stops more light on everything that is read."""
    table = StopsSpread(low=-10.0 + stops, step=0.25, counts=BELL)
    usual = complete()
    assert usual.reading is not None
    sitters = tuple(
        msgspec.structs.replace(each, stops=each.stops + stops) if each.stops is not None else each
        for each in usual.reading.sitters or ()
    )
    now = complete(spread=table, peaks=table, sitters=sitters, spots=SPOT_READINGS)
    assert now.view is not None
    light = BT709.decode(now.view.small / 255.0) * 2.0**stops
    small = np.clip(np.rint(BT709.encode(light) * 255.0), 0, 255).astype(np.uint8)
    return msgspec.structs.replace(now, view=msgspec.structs.replace(now.view, small=small))


def holds(seconds: float = 750.0, more: int = 2) -> tuple[Hold, ...]:
    """The hold ``bench`` kept so long ago with its small picture, and older ones."""
    usual = lit(0.0)
    assert usual.reading is not None
    _, view = measure_picture(picture())
    bench = Hold(
        name="bench",
        at=Instant(0.0, START.utc - seconds),
        feed="scene:boathouse",
        reading=usual.reading,
        picture=small_picture(view.small),
        controls=SET,
    )
    older = [
        msgspec.structs.replace(
            bench, name=f"hold {number} 9.0{number}", at=Instant(0.0, START.utc - seconds - 90000.0 * number)
        )
        for number in range(1, more + 1)
    ]
    return (bench, *older)


def matching(
    stops: float, *, chosen: str | None = "bench", said: bool = True, kept: tuple[Hold, ...] | None = None
) -> Matching:
    """What the desk says of a picture with so many stops more light than the hold."""
    desk = MatchDesk(holds() if kept is None else kept)
    desk.choose(chosen)
    now = lit(stops)
    limits = ControlLimits(nd_range=(0.0, 10.0))
    desk.look(now.reading, now.view, START, controls=SET if said else None, limits=limits, planning_wanted=True)
    return desk.matching


def comparing(stops: float = 0.7, **more) -> Snapshot:
    """A moment of a watch that compares, with so many stops more light than the hold."""
    planning = Planning(controls=SET, said=more.get("said", True))
    return msgspec.structs.replace(lit(stops), matching=matching(stops, **more), planning=planning)
