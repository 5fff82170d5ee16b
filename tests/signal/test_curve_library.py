"""Every closed form against colour-science, a general-purpose library that others wrote, over a grid."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.signal.curves import curve
from analysis.signal.curves.display import REFERENCE_WHITE, pq_eotf, pq_inverse_eotf
from tests.support.colour_library import colour_library

STOPS = np.linspace(-10.0, 8.0, 3001)
LIGHT = np.concatenate((np.linspace(0.0, 0.02, 500), 0.18 * 2.0**STOPS))


@pytest.mark.parametrize("name,theirs", [("acescct", "ACEScct"), ("acescc", "ACEScc"), ("cineon", "Cineon")])
def test_log_curves(name: str, theirs: str) -> None:
    """Academy S-2016-001, Academy S-2014-003, Cineon printing density."""
    colour = colour_library()
    with np.errstate(all="ignore"):
        expected = colour.log_encoding(LIGHT, function=theirs)
        np.testing.assert_allclose(curve(name).encode(LIGHT), expected, atol=2e-12)
        back = colour.log_decoding(expected, function=theirs)
    np.testing.assert_allclose(curve(name).decode(expected), back, rtol=1e-9, atol=1e-12)


def test_bt709() -> None:
    """ITU-R BT.709-6 item 1.2, from both sides."""
    colour = colour_library()
    light = LIGHT[np.abs(LIGHT - 0.018) > 1e-4]
    expected = colour.oetf(light, function="ITU-R BT.709")
    np.testing.assert_allclose(curve("bt709").encode(light), expected, atol=1e-12)
    back = colour.oetf_inverse(expected, function="ITU-R BT.709")
    np.testing.assert_allclose(curve("bt709").decode(expected), back, rtol=1e-9)


def test_srgb() -> None:
    """IEC 61966-2-1."""
    colour = colour_library()
    expected = colour.eotf_inverse(LIGHT, function="sRGB")
    np.testing.assert_allclose(curve("srgb").encode(LIGHT), expected, atol=1e-12)
    signal = np.linspace(0.0, 1.0, 4001)
    np.testing.assert_allclose(curve("srgb").decode(signal), colour.eotf(signal, function="sRGB"), rtol=1e-9)


def test_hlg() -> None:
    """ITU-R BT.2100 Table 5, the standard's light scaled so that white lies at 75 %."""
    colour = colour_library()
    with np.errstate(all="ignore"):
        expected = colour.oetf(LIGHT * REFERENCE_WHITE, function="ITU-R BT.2100 HLG")
    np.testing.assert_allclose(curve("hlg").encode(LIGHT), expected, atol=1e-8)


def test_pq_and_the_rendering_before_it() -> None:
    """SMPTE ST 2084 alone, and after the reference OOTF of ITU-R BT.2100 Table 5 as BT.2408 uses it."""
    colour = colour_library()
    nits = np.geomspace(1e-4, 10_000.0, 2001)
    signal = colour.eotf_inverse(nits, function="ST 2084")
    np.testing.assert_allclose(pq_inverse_eotf(nits), signal, atol=1e-12)
    np.testing.assert_allclose(pq_eotf(signal), nits, rtol=1e-8)
    light = 0.18 * 2.0 ** np.linspace(-8.0, 4.0, 401)
    display = colour.models.ootf_BT2100_HLG(np.repeat((light * REFERENCE_WHITE)[:, None], 3, axis=1))
    expected = colour.eotf_inverse(display[:, 0], function="ST 2084")
    np.testing.assert_allclose(curve("pq").encode(light), expected, atol=1e-7)


def test_the_library_gives_its_own_published_examples() -> None:
    """Its documentation: OOTF of 0.1 is 63.0957344, BT.709 of 0.18 is 0.4090077. Else we compare with noise."""
    colour = colour_library()
    grey = colour.models.ootf_BT2100_HLG(np.full(3, 0.1))
    assert grey == pytest.approx(63.0957344, abs=1e-6)
    assert float(colour.models.oetf_BT709(0.18)) == pytest.approx(0.4090077, abs=1e-7)
