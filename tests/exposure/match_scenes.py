"""The boathouse read as the program reads it, small picture and all, for pictures that are to match."""

from __future__ import annotations

from functools import cache
from typing import Any

import msgspec

from analysis.exposure.match_light import Light
from analysis.feed.scene.renderer import Renderer
from analysis.measure.examiner import Examiner, ExaminerSettings, known_curve
from analysis.measure.extras import ExtrasSettings
from analysis.measure.meter_settings import MeterSettings
from analysis.measure.peaks import PeaksMeter
from analysis.model.frame import Frame
from analysis.model.instant import Instant
from analysis.model.reading import Measurement
from analysis.model.sitter import SitterReading, Spot
from tests.exposure.boathouse import renderer

WALL = Spot(name="wall", kind="background", x=0.05, y=0.35, width=0.1, height=0.2)


def measured(scene: Renderer, frames: int = 2, spots: tuple[Spot, ...] = (WALL,)) -> Measurement:
    """The last of some frames with its view and peaks; the sitter is the cheek that faces the key, in a whole head."""
    examiner = Examiner(
        ExaminerSettings(
            meter=MeterSettings(active_picture=False),
            extras=ExtrasSettings(flicker=None, tolerance="off", spread_every=0.0, noise_every=None),
            ends_every=0.0,
        )
    )
    truth = scene.truth(0.0)
    wide, high = scene.controls.width, scene.controls.height
    cheeks = []
    for name in ("cheek", "shade-cheek"):
        left, top, right, bottom = truth.regions[name].box
        cheeks.append(
            Spot(
                name=name,
                kind="watch",
                x=left / wide,
                y=top / high,
                width=(right - left) / wide,
                height=(bottom - top) / high,
            )
        )
    examiner.place_spots((*cheeks, *spots))
    found: Measurement | None = None
    frame: Frame | None = None
    for number in range(frames):
        picture = scene.picture(number / 25.0, number)
        now = Instant(number / 25.0, number / 25.0)
        frame = Frame(planes=tuple(picture.planes), format=scene.format, instant=now, generation=1, sequence=number)
        found = examiner.measure(frame, None, Instant(0.0, 0.0))
    assert found is not None and frame is not None
    reading, curve = found.reading, known_curve(scene.format.encoding.curve)
    read = dict(reading.spots or {})
    lit, shade = read.pop("cheek"), read.pop("shade-cheek")
    one, other = truth.regions["cheek"].box, truth.regions["shade-cheek"].box
    left, right = min(one[0], other[0]), max(one[2], other[2])
    top, bottom = min(one[1], other[1]), max(one[3], other[3])
    face = (left - 10, top - (right - left) // 2, right - left + 20, 2 * (right - left) + (bottom - top) // 2)
    ratio = None
    if lit.stops is not None and shade.stops is not None:
        ratio = (lit.stops - shade.stops) * (1.0 if one[0] < other[0] else -1.0)
    sitter = SitterReading(
        name="sitter 1",
        main=True,
        state="seen",
        box=face,
        confidence=0.9,
        level=lit.level,
        low=lit.level - 6.0,
        high=lit.level + 2.0,
        stops=lit.stops,
        ratio_stops=ratio,
        clipped=lit.clipped,
    )
    peaks = PeaksMeter(scene.format, curve).look_closely(frame, reading.picture.active) if curve else msgspec.UNSET
    reading = msgspec.structs.replace(reading, sitters=(sitter,), spots=read or None, peaks=peaks)
    return msgspec.structs.replace(found, reading=reading)


@cache
def lit(spots: bool = False, **controls: Any) -> tuple[Renderer, Light]:
    """A scene and its light; with ``spots`` the wall is named as the background."""
    scene = renderer(**controls)
    found = measured(scene, spots=(WALL,) if spots else ())
    assert found.view is not None
    curve = known_curve(found.reading.encoding.curve)
    return scene, Light(found.reading, curve, found.view.small)
