"""The camera model: saturation, ISO, noise."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.feed.scene.camera import NOISE_REACH, STEPS_PER_SIGMA, Camera, NoiseBank
from analysis.feed.scene.controls import SceneControls, Sensor
from analysis.feed.scene.develop import BAND
from analysis.feed.scene.lights import LightLevels
from analysis.signal.curves import curve
from tests.feed.scene.pictures import SMALL, STILL, inside, renderer, signal444

PRECISE = {"clouds": False, "sway": False, "layout": "yuv444p12le", "curve": "acescct", "width": 640, "height": 360}
LIT = LightLevels(sky=1.0, sun=0.0, lamp=1.0)


def camera(**controls: float) -> Camera:
    return Camera(SceneControls(curve="linear", **controls), -10.0, 1000.0)  # type: ignore[arg-type]


def test_headroom_is_where_the_sensor_says() -> None:
    """6 stops over an 18 % card at native ISO: 0.18 x 2^6 = 11.52."""
    made = camera()
    assert float(made.caught(np.array(1e6))) == pytest.approx(11.52, rel=1e-6)
    assert not made.full(np.array(11.5))
    assert made.full(np.array(11.53))


@pytest.mark.parametrize("iso,level", [(800.0, 11.52), (400.0, 5.76), (200.0, 2.88), (1600.0, 23.04)])
def test_lower_iso_lowers_the_level_at_which_highlights_clip(iso: float, level: float) -> None:
    assert float(camera(iso=iso).caught(np.array(1e6))) == pytest.approx(level, rel=1e-6)


@pytest.mark.parametrize("iso", [50.0, 100.0, 400.0, 800.0, 3200.0])
def test_iso_does_not_bring_back_what_the_sensor_lost(iso: float) -> None:
    """Two bright things that both fill the sensor stay one level at every ISO, and as many pixels are full."""
    made = camera(iso=iso, nd=0.0)
    two = made.caught(np.array([20.0, 40.0]))
    assert two[0] == two[1]
    full = renderer(**SMALL, **STILL, nd=0.0, iso=iso, lamp=True).truth(0.0).saturated
    assert full == renderer(**SMALL, **STILL, nd=0.0, iso=800.0, lamp=True).truth(0.0).saturated
    assert full > 0.0


def test_nd_does_bring_it_back() -> None:
    two = camera(nd=5.0).caught(np.array([20.0, 40.0]))
    assert two[1] == pytest.approx(2.0 * two[0], rel=1e-6)


def test_log_signal_stops_rising_at_the_sensors_ceiling() -> None:
    """ACEScct of 11.52 is (log2 11.52 + 9.72) / 17.52 = 0.7561 (Academy S-2016-001)."""
    made = renderer(**SMALL, **STILL, curve="acescct", layout="yuv444p10le")
    rgb = signal444(made.picture(0.0, 0, LIT))
    assert rgb.max() == pytest.approx(0.7561, abs=0.002)
    assert made.truth(0.0, LIT).regions["lamp"].saturated == 100.0


def test_a_ceiling_of_its_own_stops_every_channel() -> None:
    made = renderer(**SMALL, **STILL, layout="yuv444p10le", ceiling=92.0, sun="on")
    rgb = signal444(made.picture(0.0, 0))
    assert rgb.max() == pytest.approx(0.92, abs=0.003)


@pytest.mark.parametrize("light", [0.002, 0.02, 0.18, 1.0, 6.0])
@pytest.mark.parametrize("iso", [800.0, 1600.0])
def test_noise_follows_the_photon_transfer_form(light: float, iso: float) -> None:
    """EMVA 1288 R4.0 (from memory): in linear data, variance = K x mean + read variance, K the gain per electron."""
    made = camera(iso=iso)
    mean, sigma = made.noise_of(light)
    n = 400_000
    steady = int(made.stabilised(np.array(light)))
    drawn = np.random.default_rng(5).standard_normal(n) * STEPS_PER_SIGMA + NOISE_REACH
    values = made.response[0][np.clip(np.round(steady + drawn), 0, 65535).astype(int)].astype(np.float64)
    gain = made.controls.gain / made.controls.sensor.electrons_per_unit
    expected = gain * mean + (gain * made.controls.sensor.read_noise) ** 2
    assert sigma**2 == pytest.approx(expected, rel=1e-6)
    assert values.mean() == pytest.approx(mean, abs=4.0 * sigma / n**0.5 + 2e-4 * mean)
    assert values.var() == pytest.approx(expected, rel=0.015)


def test_rendered_noise_matches_the_model() -> None:
    """Two-frame temporal noise, ISO 15739 6.2: sigma = std(A - B) / sqrt(2), on the grey card in linear light."""
    made = renderer(**PRECISE)
    box = made.truth(0.0).regions["card"].box
    a, b = (curve("acescct").decode(inside(signal444(made.picture(0.0, n)), box)) for n in (0, 1))
    for channel in range(3):
        mean = made.truth(0.0).regions["card"].linear[channel]
        per_unit = Sensor().electrons_per_unit
        expected = np.sqrt(mean * per_unit + 36.0) / per_unit
        found = np.std(a[..., channel] - b[..., channel]) / np.sqrt(2.0)
        assert found == pytest.approx(expected, rel=0.06)
        assert a[..., channel].mean() == pytest.approx(mean, rel=0.005)


def test_photon_transfer_slope_across_regions() -> None:
    """Variance against mean over regions of very different light gives back the electrons per unit (EMVA 1288)."""
    made = renderer(**PRECISE)
    frames = [curve("acescct").decode(signal444(made.picture(0.0, n)))[..., 1] for n in (2, 3)]
    means, variances = [], []
    for name in ("card", "sky", "lake", "hull", "cheek"):
        box = made.truth(0.0).regions[name].box
        a, b = (inside(frame, box) for frame in frames)
        means.append(float((a + b).mean() / 2.0))
        variances.append(float(np.var(a - b) / 2.0))
    slope = np.polyfit(means, variances, 1)[0]
    assert 1.0 / slope == pytest.approx(Sensor().electrons_per_unit, rel=0.12)


def test_channels_have_noise_of_their_own() -> None:
    made = renderer(**PRECISE)
    box = made.truth(0.0).regions["card"].box
    a, b = (curve("acescct").decode(inside(signal444(made.picture(0.0, n)), box)) for n in (4, 5))
    together = np.corrcoef((a - b).reshape(-1, 3).T)
    assert np.all(np.abs(together[np.triu_indices(3, 1)]) < 0.1)


def test_iso_raises_noise_with_the_signal() -> None:
    """Doubling ISO doubles the signal of a card and its noise: the ratio of the two is the sensor's."""
    one, two = camera(iso=800.0).noise_of(0.18), camera(iso=1600.0).noise_of(0.18)
    assert two[0] / two[1] == pytest.approx(one[0] / one[1], rel=1e-6)
    assert two[1] == pytest.approx(2.0 * one[1], rel=1e-6)


def test_a_stop_more_light_is_half_a_stop_better_in_shot_noise() -> None:
    """Shot noise alone: signal to noise grows by the square root of light, 3.01 dB a stop (EMVA 1288)."""
    dim, bright = camera(nd=2.0).noise_of(1.0), camera(nd=1.0).noise_of(1.0)
    assert 20.0 * np.log10((bright[0] / bright[1]) / (dim[0] / dim[1])) == pytest.approx(3.01, abs=0.05)


def noise(wide: int, high: int, sequence: int) -> np.ndarray:
    """A frame of nothing but noise, (3, height, width), in standard deviations."""
    bank = NoiseBank(wide, high, 3)
    frame = np.zeros((3, high, wide), np.uint16)
    places = bank.places(sequence)
    for channel in range(3):
        for top in range(0, high, BAND):
            bank.add(frame[channel, top : top + BAND], top, places[channel])
    assert frame.min() >= 0 and frame.max() <= 2 * NOISE_REACH
    return (frame.astype(float) - NOISE_REACH) / STEPS_PER_SIGMA


@pytest.mark.parametrize("size", [(640, 360), (2100, 1200)])
def test_noise_bank_covers_the_picture_with_unit_noise(size: tuple[int, int]) -> None:
    frame = noise(*size, sequence=0)
    for part in (frame[:, :100, :100], frame[:, -100:, -100:], frame):
        assert part.mean() == pytest.approx(0.0, abs=0.03)
        assert part.std() == pytest.approx(1.0, abs=0.03)
    assert abs(np.corrcoef(frame[0].ravel(), frame[1].ravel())[0, 1]) < 0.01


def test_noise_of_neighbouring_frames_is_independent() -> None:
    one, two = noise(640, 360, 0), noise(640, 360, 1)
    assert abs(np.corrcoef(one.ravel(), two.ravel())[0, 1]) < 0.01
    assert noise(1, 1, 0).shape == (3, 1, 1)


@pytest.mark.parametrize("power", [0.5, 1.0, 2.0])
def test_lamp_power_is_linear(power: float) -> None:
    base = renderer(**SMALL, **STILL)
    dark = base.truth(0.0).regions["hull"].scene
    one = base.truth(0.0, LIT).regions["hull"].scene
    lit = renderer(**SMALL, **STILL, lamp=True, lamp_power=power).truth(0.0).regions["hull"].scene
    np.testing.assert_allclose(np.subtract(lit, dark), power * np.subtract(one, dark), rtol=1e-4)
