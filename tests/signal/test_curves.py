"""Each curve against its own document. Every table names the document beside it."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.model.errors import UsageError
from analysis.signal.curves import MIDDLE_GREY, curve, names
from analysis.signal.curves.display import (
    REFERENCE_WHITE,
    bt709_oetf,
    hlg_inverse,
    hlg_oetf,
    pq_eotf,
    pq_inverse_eotf,
)


def code(v: float, bits: int) -> int:
    """Narrow-range code, ITU-R BT.709-6 item 3.4, rounding half up."""
    return int(np.floor((219 * v + 16) * 2 ** (bits - 8) + 0.5))


# ITU-R BT.709-6 item 1.2 and 3.4 (light, V, 8-, 10-, 12-bit narrow code), formula from memory,
# values computed and equal to those of a general colour-science library.
BT709 = [
    (0.0045, 0.020250, 20, 82, 327),
    (0.010, 0.045000, 26, 103, 414),
    (0.045, 0.173235, 54, 216, 863),
    (0.090, 0.272883, 76, 303, 1212),
    (0.180, 0.409008, 106, 422, 1689),
    (0.250, 0.489940, 123, 493, 1973),
    (0.360, 0.594959, 146, 585, 2341),
    (0.500, 0.705515, 171, 682, 2728),
    (0.600, 0.774305, 186, 742, 2969),
    (0.720, 0.848976, 202, 808, 3231),
    (0.900, 0.949110, 224, 895, 3582),
    (1.000, 1.000000, 235, 940, 3760),
]
# IEC 61966-2-1 (light, V, full-range 8-bit code).
SRGB = [
    (0.0045, 0.056026, 14),
    (0.010, 0.099853, 25),
    (0.018, 0.142826, 36),
    (0.045, 0.234795, 60),
    (0.090, 0.331830, 85),
    (0.180, 0.461356, 118),
    (0.360, 0.634253, 162),
    (0.600, 0.797738, 203),
    (0.900, 0.954687, 243),
    (1.000, 1.000000, 255),
]


@pytest.mark.parametrize("light,v,n8,n10,n12", BT709)
def test_bt709_table(light: float, v: float, n8: int, n10: int, n12: int) -> None:
    signal = float(curve("bt709").encode(np.array(light)))
    assert signal == pytest.approx(v, abs=1e-6)
    assert (code(signal, 8), code(signal, 10), code(signal, 12)) == (n8, n10, n12)


@pytest.mark.parametrize(
    "stops,percent",
    # ITU-R BT.709-6 item 1.2 applied to 18 % x 2^s, computed.
    [(-6, 1.27), (-5, 2.53), (-4, 5.06), (-3, 10.03), (-2, 17.32), (-1, 27.29), (-0.5, 33.56), (0, 40.90),
     (0.5, 49.47), (1, 59.50), (1.5, 71.21), (2, 84.90), (2.474, 100.0)],
)  # fmt: skip
def test_bt709_by_stops(stops: float, percent: float) -> None:
    assert 100 * float(bt709_oetf(np.array(MIDDLE_GREY * 2**stops))) == pytest.approx(percent, abs=0.006)


def test_bt709_super_white_and_sub_black() -> None:
    """BT.709-6 item 1.2 extended: 109 % is 2.726 stops over an 18 % card (computed); black goes on straight."""
    bt709 = curve("bt709")
    assert np.log2(float(bt709.decode(np.array(1.09))) / MIDDLE_GREY) == pytest.approx(2.726, abs=5e-4)
    assert float(bt709.encode(np.array(-0.01))) == pytest.approx(-0.045)


def test_bt709_join_never_goes_back() -> None:
    """The published constants leave a step at L = 0.018, V = 0.081 (BT.709-6 item 1.2)."""
    v = np.linspace(0.0805, 0.0820, 2001)
    assert np.all(np.diff(curve("bt709").decode(v)) >= 0)


@pytest.mark.parametrize("light,v,full", SRGB)
def test_srgb_table(light: float, v: float, full: int) -> None:
    signal = float(curve("srgb").encode(np.array(light)))
    assert signal == pytest.approx(v, abs=1e-6)
    assert int(np.floor(255 * signal + 0.5)) == full


# ITU-R BT.2100 Table 4 / SMPTE ST 2084 (cd/m2, V, 10-bit narrow code); constants read from a public page.
PQ = [
    (0, 0.000001, 64), (0.005, 0.015076, 77), (0.1, 0.062337, 119), (1, 0.149946, 195), (10, 0.299699, 327),
    (18, 0.347967, 369), (26, 0.380032, 397), (50, 0.440282, 450), (100, 0.508078, 509), (162, 0.557239, 552),
    (179, 0.567578, 561), (200, 0.579133, 571), (203, 0.580689, 573), (300, 0.621863, 609), (400, 0.652579, 636),
    (500, 0.676585, 657), (600, 0.696294, 674), (1000, 0.751827, 723), (2000, 0.827425, 789),
    (4000, 0.902572, 855), (10000, 1.000000, 940),
]  # fmt: skip


@pytest.mark.parametrize("luminance,v,n10", PQ)
def test_pq_table(luminance: float, v: float, n10: int) -> None:
    signal = float(pq_inverse_eotf(np.array(float(luminance))))
    assert signal == pytest.approx(v, abs=1e-6)
    assert code(signal, 10) == n10
    assert float(pq_eotf(np.array(signal))) == pytest.approx(luminance, rel=1e-6, abs=1e-6)


def test_pq_white_of_css_color_hdr() -> None:
    """W3C CSS Color HDR Module Level 1: white at 203 cd/m2 is ictcp(0.58069 0 0)."""
    assert round(float(pq_inverse_eotf(np.array(203.0))), 5) == 0.58069


# ITU-R BT.2100 Table 5 (E, E', 10-bit narrow code), computed and equal to a general colour-science library.
HLG = [(1 / 1200, 0.05, 108), (0.01, 0.173205, 216), (0.05, 0.387298, 403), (1 / 12, 0.5, 502),
       (0.18, 0.672358, 653), (0.265, 0.750028, 721), (0.5, 0.871643, 828), (1.0, 1.0, 940)]  # fmt: skip


@pytest.mark.parametrize("scene,v,n10", HLG)
def test_hlg_table(scene: float, v: float, n10: int) -> None:
    signal = float(hlg_oetf(np.array(scene)))
    assert signal == pytest.approx(v, abs=1e-6)
    assert code(signal, 10) == n10


@pytest.mark.parametrize(
    "v,scene,stops",
    # ITU-R BT.2100 Table 5 inverse; stops from 38 % (ITU-R BT.2408 grey card), computed.
    [(0.25, 0.020833, -1.208), (0.38, 0.048133, 0), (0.45, 0.0675, 0.488), (0.5, 0.083333, 0.792),
     (0.55, 0.102563, 1.091), (0.6, 0.127996, 1.411), (0.65, 0.161634, 1.748), (0.75, 0.264963, 2.461),
     (1.0, 1.0, 4.377), (1.09, 1.638594, 5.089)],
)  # fmt: skip
def test_hlg_inverse_table(v: float, scene: float, stops: float) -> None:
    found = float(hlg_inverse(np.array(v)))
    assert found == pytest.approx(scene, abs=6e-7)
    assert np.log2(found / float(hlg_inverse(np.array(0.38)))) == pytest.approx(stops, abs=6e-4)


def test_hlg_white_constant() -> None:
    """A public colour library scales 75 % HLG white by 0.26496256042100724; it is the inverse at 0.75."""
    assert pytest.approx(0.26496256042100724, rel=1e-7) == REFERENCE_WHITE


@pytest.mark.parametrize(
    "reflectance,nits,pq,hlg",
    # Report ITU-R BT.2408 Table 1 (grey card and reference white read in secondary sources, the rest from memory).
    [(0.18, 26, 38, 38), (0.83, 162, 56, 71), (0.90, 179, 57, 73), (1.00, 203, 58, 75)],
)
def test_reference_levels_of_bt2408(reflectance: float, nits: float, pq: float, hlg: float) -> None:
    light = np.array(reflectance)
    assert round(100 * float(curve("hlg").encode(light))) == hlg
    signal = curve("pq").encode(light)
    assert round(100 * float(signal)) == pq
    assert float(pq_eotf(signal)) == pytest.approx(nits, abs=0.6)


# Academy S-2016-001 and S-2014-003 (light, ACEScct), text read in the Academy's public documents, values computed.
ACESCCT = [(0.0, 0.0729055), (0.0078125, 0.1552511), (0.01, 0.1755790), (0.045, 0.2994332), (0.09, 0.3565108),
           (0.18, 0.4135884), (0.36, 0.4706660), (0.9, 0.5461185), (1.0, 0.5547945), (16.0, 0.7831050),
           (65504.0, 1.4679963)]  # fmt: skip


@pytest.mark.parametrize("light,v", ACESCCT)
def test_acescct_table(light: float, v: float) -> None:
    assert float(curve("acescct").encode(np.array(light))) == pytest.approx(v, abs=6e-8)


@pytest.mark.parametrize("light,v", [(0.0, -0.3584475), *ACESCCT[1:]])
def test_acescc_table(light: float, v: float) -> None:
    """Academy S-2014-003: equal to ACEScct from 2^-7 up, a log all the way down to 2^-15."""
    assert float(curve("acescc").encode(np.array(light))) == pytest.approx(v, abs=6e-8)


@pytest.mark.parametrize("name", ["acescct", "acescc"])
def test_one_stop_is_the_clf_slope(name: str) -> None:
    """Common LUT Format specification, Example 14: logSideSlope 0.05707762557 a stop."""
    lights = MIDDLE_GREY * 2.0 ** np.arange(-4, 10)
    assert np.diff(curve(name).encode(lights)) == pytest.approx(0.05707762557, abs=1e-10)


def test_acescct_code_of_full_signal_is_ten_stops_up() -> None:
    """Academy S-2016-001: signal 1.0 is about 222, just over 10 stops above middle grey."""
    light = float(curve("acescct").decode(np.array(1.0)))
    assert light == pytest.approx(222.861, abs=1e-3)
    assert np.log2(light / MIDDLE_GREY) == pytest.approx(10.274, abs=5e-4)


@pytest.mark.parametrize(
    "light,v,ten_bit",
    # Cineon printing density (black 95, white 685), computed and equal to a general colour-science library.
    [(0.0, 0.0928641, 95.0), (0.01, 0.1756859, 179.7), (0.18, 0.4573196, 467.8), (0.9, 0.6563333, 671.4),
     (1.0, 0.6695992, 685.0)],
)  # fmt: skip
def test_cineon_table(light: float, v: float, ten_bit: float) -> None:
    signal = float(curve("cineon").encode(np.array(light)))
    assert signal == pytest.approx(v, abs=6e-8)
    assert 1023 * signal == pytest.approx(ten_bit, abs=0.06)


def test_cineon_codes_per_stop() -> None:
    """0.002 density a code over gamma 0.6 is 1/300 decade a code: 90.309 codes a stop, far above the toe."""
    two = curve("cineon").encode(np.array([64.0, 128.0]))
    assert 1023 * float(two[1] - two[0]) == pytest.approx(90.309, abs=0.02)


def test_unknown_curve_names_the_nearest() -> None:
    with pytest.raises(UsageError, match="did you mean acescct") as caught:
        curve("acesct")
    assert caught.value.exit_code == 2
    assert "\n" not in str(caught.value)


def test_names_and_lookup() -> None:
    assert set(names()) == {"bt709", "srgb", "hlg", "pq", "acescct", "acescc", "cineon", "linear"}
    assert curve(" HLG ").name == "hlg"
    assert all(curve(name).source for name in names())
