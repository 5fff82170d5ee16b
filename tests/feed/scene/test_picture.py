"""The shot as a picture: what is bright, what is dark, and what each light does to it."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.feed.scene import complexion
from analysis.feed.scene.hull import BRASS_PLACE
from analysis.feed.scene.lights import LightLevels
from analysis.model.errors import UsageError
from analysis.signal.curves import curve
from tests.feed.scene.pictures import STILL, inside, renderer, signal444

SHOT = {**STILL, "width": 640, "height": 360, "layout": "yuv444p10le"}
GREY = LightLevels(sky=1.0, sun=0.0, lamp=0.0)
SUNNY = LightLevels(sky=1.0, sun=1.0, lamp=0.0)


def luminance(lights: LightLevels = GREY, **more: object) -> np.ndarray:
    """Linear luminance of the frame as its codes tell it, in a log curve so that nothing is cut off."""
    made = renderer(**{**SHOT, "curve": "acescct", **more})
    linear = curve("acescct").decode(signal444(made.picture(0.0, 0, lights)))
    return np.asarray(linear @ np.array([0.2126, 0.7152, 0.0722]))


def place(x: float, y: float, size: float = 0.01) -> np.s_:
    """Pixels around a place given in heights from the middle."""
    column, row, half = 320 + x * 360, y * 360, max(1, int(size * 360))
    return np.s_[int(row) - half : int(row) + half + 1, int(column) - half : int(column) + half + 1]


def test_the_order_of_light_is_that_of_the_room() -> None:
    regions = renderer(**SHOT).truth(0.0).regions
    stops = [regions[name].stops for name in ("sky", "lake", "cheek", "card", "hull", "rafters")]
    assert stops[0] > stops[1] > 0.0
    assert stops[2] > stops[3] > stops[4] > stops[5]
    assert regions["rafters"].stops < -4.0


def test_the_shot_spans_more_than_ten_stops() -> None:
    light = luminance()
    assert np.log2(light.max() / np.percentile(light, 0.5)) > 9.0


def test_the_brass_has_one_small_hard_reflection() -> None:
    around = luminance()[place(*BRASS_PLACE, size=0.03)]
    assert np.log2(around.max() / 0.18) > 3.0
    assert np.mean(around > 1.0) < 0.15


@pytest.mark.parametrize("lights", [GREY, SUNNY])
def test_the_open_doors_are_the_brightest_part(lights: LightLevels) -> None:
    light = luminance(lights)
    doors, room = light[60:300, 40:240], light[60:300, 260:]
    assert np.median(doors) > 8.0 * np.median(room)


def test_the_sun_brightens_the_outside_more_than_the_sitter() -> None:
    made = renderer(**SHOT)
    grey, sunny = made.truth(0.0, GREY).regions, made.truth(0.0, SUNNY).regions
    assert sunny["sky"].scene[1] > 1.5 * grey["sky"].scene[1]
    assert sunny["cheek"].stops - grey["cheek"].stops < 0.4
    assert sunny["sky"].stops > 2.4739  # log2(1 / 0.18): beyond nominal white in BT.709


def test_the_lamp_clips_only_a_little() -> None:
    made = renderer(**SHOT)
    lit = made.truth(0.0, LightLevels(sky=1.0, sun=0.0, lamp=1.0))
    assert 0.05 < lit.clipped.any < 1.0
    assert lit.regions["lamp"].saturated == 100.0


def test_the_lamp_is_warm_and_the_lake_is_cool() -> None:
    made = renderer(**SHOT)
    dark, lit = made.truth(0.0, GREY).regions["hull"].scene, made.truth(
        0.0, LightLevels(sky=1.0, sun=0.0, lamp=3.0)).regions["hull"].scene  # fmt: skip
    assert lit[0] / lit[2] > dark[0] / dark[2]
    sky = made.truth(0.0, GREY).regions["sky"].scene
    assert sky[2] > sky[0]


def test_both_cheeks_and_the_forehead_are_clean_skin() -> None:
    """No feature inside the patches whose truth is quoted: their levels are even, and of the chip's own hue."""
    made = renderer(**SHOT)
    linear = curve("bt709").decode(signal444(made.picture(0.0, 0)))
    chip = complexion.reflectance("intermediate")
    for name in ("forehead", "cheek", "shade-cheek"):
        part = inside(linear, made.truth(0.0).regions[name].box)
        level = part @ np.array([0.2126, 0.7152, 0.0722])
        assert np.log2(level.max() / level.min()) < 0.75
        ratio = part.reshape(-1, 3).mean(axis=0)
        # The lake light is a little cooler than the D65 of the chips.
        assert ratio[0] / ratio[1] == pytest.approx(chip[0] / chip[1] * 0.985, rel=0.03)


@pytest.mark.parametrize("rate", [23.976, 25.0, 59.94])
def test_any_rate(rate: float) -> None:
    made = renderer(**{**SHOT, "rate": rate})
    assert made.format.rate == rate
    assert made.truth(0.0).regions["card"].stops == pytest.approx(np.log2(25.0 / rate), abs=0.01)


def test_unknown_complexion_names_the_nearest() -> None:
    with pytest.raises(UsageError, match="did you mean brown"):
        complexion.reflectance("brwn")


@pytest.mark.parametrize(
    "name,y",
    # Median luminance by complexion class, percent: International Skin Spectra Archive (Lu et al., 2025), computed.
    [("very-light", 38.0), ("light", 33.7), ("intermediate", 29.3), ("tan", 24.6), ("brown", 18.3), ("dark", 9.0)],
)
def test_chips_have_the_published_luminance(name: str, y: float) -> None:
    assert 100.0 * float(complexion.reflectance(name) @ np.array([0.2126, 0.7152, 0.0722])) == pytest.approx(y, abs=0.6)
