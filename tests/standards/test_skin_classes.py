"""Six complexions on faces of known light: the level and the stops must be true for every one, to the same tolerance.

Skin: median face chips by ITA class of the International Skin Spectra Archive (Y. Lu et al., Scientific Data 2025;
4,603 cheek and forehead spectra, D65). Curve and luma: ITU-R BT.709-6 items 1.2 and 3.2. Log: Academy S-2016-001. Two
tolerances are our own and the same for all classes: level within 0.5 IRE, a stop of light within 0.05 stop.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from tests.measure import drawn_faces, face_rig
from tests.measure.drawn_faces import CHIPS, LUMA, PUBLISHED

LEVEL, STOPS = 0.5, 0.05
LAYOUTS = ["yuv422p10le", "yuyv422"]


def true_stops(name: str, light: float = 0.0) -> float:
    return float(np.log2(drawn_faces.reflectance(name) @ LUMA / 0.18)) + light


def true_level(name: str, light: float = 0.0) -> float:
    return 100.0 * float(drawn_faces.bt709(drawn_faces.reflectance(name) * 2.0**light) @ LUMA)


@cache
def seen(name: str, light: float = 0.0, layout: str = "yuyv422", curve: str = "bt709", **how: float):
    """A face of that class and the room around it, with that many stops more light."""
    linear = drawn_faces.draw(drawn_faces.reflectance(name), size=(800, 450), centre=(400, 215), height=170.0)
    return face_rig.only(drawn_faces.frame(linear * 2.0**light, layout=layout, curve=curve, noise=0.5, **how))


@pytest.mark.parametrize("name", CHIPS)
def test_chips_say_what_was_published(name: str) -> None:
    """The chips are printed to a tenth: their luma and stops must be those published beside them."""
    level, stops = PUBLISHED[name]
    assert true_level(name) == pytest.approx(level, abs=0.15)
    assert true_stops(name) == pytest.approx(stops, abs=0.011)


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("name", CHIPS)
def test_level_and_stops_are_those_of_the_class(name: str, layout: str) -> None:
    reading = seen(name, layout=layout)
    assert reading.state == "seen" and reading.main
    assert reading.level == pytest.approx(PUBLISHED[name][0], abs=LEVEL)
    assert reading.stops == pytest.approx(PUBLISHED[name][1], abs=STOPS)
    assert reading.low is not None and reading.high is not None
    assert reading.low < reading.level <= reading.high < reading.level + 2.0
    assert reading.clipped == pytest.approx(0.0, abs=0.2)


@pytest.mark.parametrize("light", [-2.0, -1.0, 1.0])
@pytest.mark.parametrize("name", CHIPS)
def test_a_stop_of_light_is_a_stop(name: str, light: float) -> None:
    before, after = seen(name), seen(name, light)
    assert after.stops - before.stops == pytest.approx(light, abs=STOPS)
    assert after.level == pytest.approx(true_level(name, light), abs=LEVEL)


@pytest.mark.parametrize("light", [-3.0, -1.0, 0.0, 1.0, 3.0])
@pytest.mark.parametrize("name", CHIPS)
def test_the_same_stops_in_log(name: str, light: float) -> None:
    reading = seen(name, light, curve="acescct", layout="yuv422p10le")
    skin = drawn_faces.reflectance(name) * 2.0**light
    assert reading.stops == pytest.approx(true_stops(name, light), abs=STOPS)
    assert reading.level == pytest.approx(100.0 * float(drawn_faces.acescct(skin) @ LUMA), abs=LEVEL)


def test_the_error_is_the_same_for_all_classes() -> None:
    errors = [seen(name, layout="yuv422p10le").stops - true_stops(name) for name in CHIPS]
    assert max(errors) - min(errors) < 0.02


def test_a_stop_more_clips_the_red_of_very_light_skin_and_the_share_says_so() -> None:
    """R' of the very light chip is 102.5 % one stop up, luma only 86 %: a camera that ends at 100 % loses it."""
    reading = seen("very light", 1.0, layout="yuv422p10le", most=1.0)
    assert reading.clipped is not None and reading.clipped > 40.0
    assert reading.level == pytest.approx(86.0, abs=1.0)
    assert reading.ratio_stops is None
    assert seen("light", 1.0, layout="yuv422p10le", most=1.0).clipped < 5.0  # R' 98.8 %
