"""Codes of a rendered frame against what is known to be true of it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from analysis.feed.scene.lights import LightLevels
from analysis.signal.curves import curve
from tests.feed.scene.pictures import SMALL, STILL, inside, renderer, signal444

LUMINANCE = np.array([0.2126, 0.7152, 0.0722])  # ITU-R BT.709-6 item 3.2
REGIONS = ["card", "forehead", "cheek", "shade-cheek", "hull", "sky", "lake"]


def stops_read(codes_curve: str, region: str, **controls: Any) -> tuple[float, float]:
    """Stops from middle grey as read back from the codes, and as the renderer knows them."""
    made = renderer(**SMALL, **STILL, layout="yuv444p10le", curve=codes_curve, **controls)
    truth = made.truth(0.0).regions[region]
    rgb = signal444(made.picture(0.0, 0))
    linear = curve(codes_curve).decode(inside(rgb, truth.box))
    return float(np.log2(np.mean(linear @ LUMINANCE) / 0.18)), truth.stops


@pytest.mark.parametrize("name", ["bt709", "srgb", "hlg", "pq", "acescct", "acescc", "cineon"])
@pytest.mark.parametrize("region", REGIONS)
def test_codes_decode_to_the_true_stops(name: str, region: str) -> None:
    read, true = stops_read(name, region)
    assert read == pytest.approx(true, abs=0.02)


@pytest.mark.parametrize("region", REGIONS)
def test_ten_bit_linear_is_true_where_light_is_plenty(region: str) -> None:
    read, true = stops_read("linear", region)
    assert read == pytest.approx(true, abs=0.05)


def test_grey_card_lies_at_middle_grey() -> None:
    """An 18 % card in the key light at the reference exposure is 40.9 % in BT.709 (ITU-R BT.709-6 item 1.2)."""
    card = renderer(**SMALL, **STILL).truth(0.0).regions["card"]
    assert card.stops == pytest.approx(0.0, abs=0.01)
    assert card.level == pytest.approx(40.9, abs=0.2)


@pytest.mark.parametrize(
    "complexion,stops",
    # Median stops from 18 % by complexion class: International Skin Spectra Archive
    # (Lu et al., Scientific Data 2025), 4,603 face spectra under D65, computed.
    [("very-light", 1.08), ("light", 0.90), ("intermediate", 0.70), ("tan", 0.45), ("brown", 0.02), ("dark", -1.00)],
)
def test_forehead_has_the_measured_reflectance(complexion: str, stops: float) -> None:
    """The part of the forehead that faces the key: the brightest pixels of it have the chip's own level."""
    made = renderer(**SMALL, **STILL, layout="yuv444p10le", complexion=complexion)
    truth = made.truth(0.0).regions["forehead"]
    linear = curve("bt709").decode(inside(signal444(made.picture(0.0, 0)), truth.box))
    brightest = np.percentile(linear @ LUMINANCE, 98)
    assert np.log2(brightest / 0.18) == pytest.approx(stops, abs=0.06)


def test_key_over_fill_is_a_portrait_ratio() -> None:
    assert 0.8 < renderer(**SMALL, **STILL).truth(0.0).key_over_fill < 1.8


@pytest.mark.parametrize(
    "control,less,more",
    [("nd", 2.0, 1.0), ("nd", 3.0, 2.0), ("shutter", 90.0, 180.0), ("iso", 800.0, 1600.0), ("iso", 400.0, 800.0)],
)
@pytest.mark.parametrize("region", ["card", "cheek", "hull"])
def test_one_stop_doubles_what_reaches_the_curve(control: str, less: float, more: float, region: str) -> None:
    """ND in stops, shutter angle / (360 fps) and ISO all count in powers of two (ISO 2720 exposure equation)."""
    dim = renderer(**SMALL, **STILL, **{control: less}).truth(0.0).regions[region]
    bright = renderer(**SMALL, **STILL, **{control: more}).truth(0.0).regions[region]
    np.testing.assert_allclose(bright.linear, 2.0 * np.array(dim.linear), rtol=1e-5)
    assert bright.stops - dim.stops == pytest.approx(1.0, abs=1e-4)
    assert bright.scene == dim.scene


def test_t_stop_counts_as_a_square() -> None:
    wide = renderer(**SMALL, **STILL, t_stop=2.8).truth(0.0).regions["card"]
    closed = renderer(**SMALL, **STILL, t_stop=2.8 * 2**0.5).truth(0.0).regions["card"]
    assert wide.stops - closed.stops == pytest.approx(1.0, abs=1e-4)


def test_shutter_angle_keeps_the_exposure_time_in_mind() -> None:
    """t = angle / (360 x rate): 180 degrees at 50 fps is half the time of 180 degrees at 25 fps."""
    slow = renderer(**SMALL, **STILL, rate=25.0).truth(0.0).regions["card"]
    fast = renderer(**SMALL, **STILL, rate=50.0).truth(0.0).regions["card"]
    assert slow.stops - fast.stops == pytest.approx(1.0, abs=1e-4)


@pytest.mark.parametrize("step", [-2.0, -1.0, 1.0])
def test_stops_read_back_from_codes_after_an_exposure_change(step: float) -> None:
    before, _ = stops_read("acescct", "cheek")
    after, _ = stops_read("acescct", "cheek", nd=2.0 - step)
    assert after - before == pytest.approx(step, abs=0.02)


def test_clipped_share_is_what_the_codes_show() -> None:
    made = renderer(**SMALL, **STILL, layout="yuv444p10le", sun="on")
    truth = made.truth(0.0)
    rgb = signal444(made.picture(0.0, 0))
    tolerance = 0.5 * 1.6 / 876.0  # half a 10-bit code, through the matrix
    assert 4.0 < truth.clipped.any < 15.0
    for name, plane in zip("rgb", np.moveaxis(rgb, -1, 0), strict=True):
        share = 100.0 * np.mean(plane >= 1.0 - tolerance)
        assert getattr(truth.clipped, name) <= share + 1e-9
        assert share == pytest.approx(getattr(truth.clipped, name), abs=0.25)


def test_clipped_share_counts_channels_not_only_luma() -> None:
    truth = renderer(**SMALL, **STILL, sun="on").truth(0.0)
    shares = truth.clipped
    assert shares.any >= max(shares.r, shares.g, shares.b, shares.luma)
    assert shares.any > shares.luma


def test_shares_follow_the_level_that_is_asked_for() -> None:
    made = renderer(**SMALL, **STILL)
    strict = made.truth(0.0, clip=80.0, crush=5.0)
    plain = made.truth(0.0)
    assert strict.clipped.any > plain.clipped.any
    assert strict.crushed.any > plain.crushed.any
    assert strict.clipped.level == 80.0


def test_the_default_shot_is_well_placed() -> None:
    """Skin about 50 IRE, nothing crushed, next to nothing clipped without the sun, and a tenth of the sky with it."""
    made = renderer(**SMALL, **STILL)
    calm = made.truth(0.0)
    assert 47.0 < calm.skin.level < 56.0
    assert calm.crushed.any == 0.0
    assert calm.clipped.any < 0.5
    assert calm.regions["rafters"].level < 6.0
    assert made.truth(0.0, LightLevels(sky=1.0, sun=1.0, lamp=0.0)).clipped.any > 2.0


def test_mean_level_is_the_mean_of_luma() -> None:
    made = renderer(**SMALL, **STILL, layout="yuv444p10le")
    y = (made.picture(0.0, 0).planes[0].astype(float) / 4.0 - 16.0) / 2.19
    assert made.truth(0.0).mean_level == pytest.approx(float(y.mean()), abs=0.02)
