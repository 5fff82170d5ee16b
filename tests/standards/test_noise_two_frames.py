"""Two-frame temporal noise (ISO 15739:2023 6.2; EMVA 1288 R4.0) against simulations with known truth.

Figures of the simulations: fixed pattern of sigma 3 and temporal noise of sigma 2 codes around 120; the
pattern must cancel; rounding to whole codes adds 1/12 of a code squared. Photon noise K = 0.25 code an electron gives
a signal-to-noise ratio of the square root of the electrons. 40:1 is 32.04 dB (ISO 12232's first excellent
picture), 10:1 is 20 dB.
"""

from __future__ import annotations

from math import log2, log10, sqrt

import numpy as np
import pytest

from analysis.measure.noise import QUANTISATION, NoiseMeter, two_frame_sigma, without_quantisation
from analysis.measure.sample import Sample
from analysis.model.frame import Encoding, FrameFormat
from analysis.model.reading import Noise
from analysis.signal.curves import curve


def test_fixed_pattern_cancels() -> None:
    rng = np.random.default_rng(1)
    pattern = 120.0 + rng.normal(0.0, 3.0, (200, 200))
    first, second = (pattern + rng.normal(0.0, 2.0, pattern.shape) for _ in range(2))
    assert two_frame_sigma(first, second) == pytest.approx(2.0, abs=0.03)  # standard error 0.7 %
    assert first.std() == pytest.approx(sqrt(13.0), abs=0.05)  # what one frame alone would say


def test_rounding_to_codes_is_taken_out() -> None:
    rng = np.random.default_rng(2)
    pattern = 120.0 + rng.normal(0.0, 3.0, (1000, 1000))
    first, second = (np.rint(pattern + rng.normal(0.0, 2.0, pattern.shape)) for _ in range(2))
    rounded = two_frame_sigma(first, second)
    assert rounded == pytest.approx(sqrt(4.0 + QUANTISATION), abs=0.006)  # 2.0207
    assert without_quantisation(rounded) == pytest.approx(2.0, abs=0.006)


@pytest.mark.parametrize("sigma", [0.4, 0.5, 0.7, 1.0])
def test_rounding_of_fine_noise(sigma: float) -> None:
    rng = np.random.default_rng(3)
    ramp = np.linspace(100.0, 140.0, 1_000_000)
    first, second = (np.rint(ramp + rng.normal(0.0, sigma, ramp.size)) for _ in range(2))
    assert without_quantisation(two_frame_sigma(first, second)) == pytest.approx(sigma, rel=0.01)


def test_both_published_forms_are_one() -> None:
    """std(A - B)/sqrt(2), and half of the mean square less the square of the mean."""
    rng = np.random.default_rng(4)
    first, second = rng.normal(50.0, 5.0, 5000), rng.normal(53.0, 5.0, 5000)
    other = sqrt(0.5 * (np.mean((first - second) ** 2) - (first.mean() - second.mean()) ** 2))
    assert two_frame_sigma(first, second) == pytest.approx(other, rel=1e-12)
    assert two_frame_sigma(first, second) == pytest.approx(np.std(first - second) / sqrt(2.0), rel=1e-12)


def test_whole_codes_do_not_wrap_around() -> None:
    first, second = np.array([3, 250, 3, 250], np.uint8), np.array([5, 248, 5, 248], np.uint8)
    assert two_frame_sigma(first, second) == pytest.approx(sqrt(2.0))


def linear_12_bit(electrons: float, factor: float) -> Noise:
    """The meter on an even patch of linear 12-bit full-range codes with photon noise."""
    form = FrameFormat(
        layout="gray12le", width=480, height=135, encoding=Encoding(bits=12, range="full", matrix="bt709")
    )
    rng = np.random.default_rng(int(electrons))
    shots = []
    for _ in range(2):
        codes = np.rint(factor * rng.poisson(electrons, (135, 481))).astype(np.uint16)
        shots.append(Sample(codes[:, :-1].copy(), None, codes[:, 1:].copy()))
    meter = NoiseMeter(form, curve("linear"))
    meter.hold(shots[0], None)
    return meter.compare(shots[1], None).noise


@pytest.mark.parametrize("electrons", [100, 400, 1600, 6400])
def test_photon_noise(electrons: float) -> None:
    found = linear_12_bit(electrons, 0.25)
    assert found.refused is None
    assert 10.0 ** (found.shadow_snr_db / 20.0) == pytest.approx(sqrt(electrons), rel=0.04)
    assert found.shadow_snr_stops == pytest.approx(log2(sqrt(electrons)), abs=0.06)


@pytest.mark.parametrize("sigma", [0.5, 1.0])
def test_rounding_is_taken_out_of_the_ratio_too(sigma: float) -> None:
    """Codes 8 bits deep and a noise of half a code: left in, rounding would cost 1.2 dB."""
    form = FrameFormat(layout="gray", width=480, height=135, encoding=Encoding(bits=8, range="full", matrix="bt709"))
    rng = np.random.default_rng(6)
    ramp = np.linspace(50.0, 60.0, 481)[None, :].repeat(135, axis=0)
    shots = [np.rint(ramp + rng.normal(0.0, sigma, ramp.shape)).astype(np.uint8) for _ in range(2)]
    meter = NoiseMeter(form, curve("linear"))
    meter.hold(Sample(shots[0][:, :-1], None, shots[0][:, 1:]), None)
    found = meter.compare(Sample(shots[1][:, :-1], None, shots[1][:, 1:]), None).noise
    assert found.shadow_snr_db == pytest.approx(20.0 * log10(50.5 / sigma), abs=0.3)


def test_photon_transfer_gives_the_gain_back() -> None:
    """Variance over mean of linear codes is the gain K (EMVA 1288): slope between two exposures."""
    levels, variances = [], []
    for electrons in (400, 6400):
        found = linear_12_bit(electrons, 0.25)
        levels.append(0.25 * electrons)
        variances.append((found.ire / 100.0 * 4095) ** 2)
    assert (variances[1] - variances[0]) / (levels[1] - levels[0]) == pytest.approx(0.25, rel=0.04)


def test_decibels_and_stops_are_of_linear_light() -> None:
    found = linear_12_bit(1600, 0.5)
    assert found.shadow_snr_db == pytest.approx(20.0 * log10(40.0), abs=0.35)  # 32.04 dB
    assert found.shadow_snr_db / found.shadow_snr_stops == pytest.approx(20.0 * log10(2.0))  # 6.0206 dB a stop
