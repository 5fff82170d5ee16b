"""Spots on the rendered boathouse, whose light is known before noise, curve and codes."""

from __future__ import annotations

from typing import Any

import pytest

from analysis.feed.scene.truth import RegionTruth
from analysis.measure.spots import read_spots
from analysis.model.frame import Frame, Picture
from analysis.model.instant import Instant
from analysis.model.sitter import Spot, SpotReading
from analysis.signal.curves import curve
from tests.feed.scene.pictures import STILL, renderer

WIDTH, HEIGHT = 640, 360
REGIONS = ("card", "cheek", "shade-cheek", "forehead", "sky", "lake", "hull")
COMPLEXIONS = ("very-light", "light", "intermediate", "tan", "brown", "dark")


def frame_of(picture: Picture) -> Frame:
    return Frame(planes=picture.planes, format=picture.format, instant=Instant(0.0, 0.0), generation=1, sequence=0)


def readings(curve_name: str, **controls: Any) -> dict[str, tuple[SpotReading, RegionTruth]]:
    made = renderer(width=WIDTH, height=HEIGHT, curve=curve_name, **{**STILL, **controls})
    truths = made.truth(0.0).regions
    spots = []
    for name in REGIONS:
        left, top, right, bottom = truths[name].box
        place = {
            "x": left / WIDTH,
            "y": top / HEIGHT,
            "width": (right - left) / WIDTH,
            "height": (bottom - top) / HEIGHT,
        }
        spots.append(Spot(name=name, kind="watch", **place))
    found = read_spots(frame_of(made.picture(0.0, 0)), (0, 0, WIDTH, HEIGHT), spots, curve(curve_name))
    return {name: (found[name], truths[name]) for name in REGIONS}


@pytest.mark.parametrize("name", ["bt709", "hlg", "pq", "acescct"])
@pytest.mark.parametrize("layout", ["yuv422p10le", "yuv444p10le"])
def test_level_and_stops_are_those_of_the_scene(name: str, layout: str) -> None:
    for region, (read, true) in readings(name, layout=layout).items():
        assert read.level == pytest.approx(true.level, abs=0.35), region
        assert read.stops == pytest.approx(true.stops, abs=0.05), region


def test_eight_bit_420_reads_alike() -> None:
    for region, (read, true) in readings("bt709", layout="nv12").items():
        assert read.level == pytest.approx(true.level, abs=0.5), region
        assert read.stops == pytest.approx(true.stops, abs=0.06), region


@pytest.mark.parametrize("complexion", COMPLEXIONS)
@pytest.mark.parametrize("step", [-1.0, 1.0])
def test_one_stop_of_light_reads_one_stop_for_every_complexion(complexion: str, step: float) -> None:
    """Same tolerance for each. ND counts in stops (ISO 2720 exposure equation)."""
    how = {"layout": "yuv444p10le", "complexion": complexion}
    before, _ = readings("acescct", **how)["cheek"]
    after, _ = readings("acescct", nd=2.0 - step, **how)["cheek"]
    assert after.stops - before.stops == pytest.approx(step, abs=0.02)


@pytest.mark.parametrize("noise", [False, True])
def test_noise_does_not_move_a_reading(noise: bool) -> None:
    read, true = readings("bt709", layout="yuv422p10le", noise=noise, iso=1600.0, nd=3.0)["card"]
    assert read.level == pytest.approx(true.level, abs=0.4)


def test_a_window_in_the_sun_clips_and_the_card_does_not() -> None:
    found = readings("bt709", layout="yuv444p10le", sun="on", nd=0.0)
    assert found["sky"][0].clipped > 50.0 and found["lake"][0].clipped > 10.0
    assert readings("bt709", layout="yuv444p10le")["card"][0].clipped == 0.0
