"""Bars of every amplitude, matrix, range and depth, with level errors: each error is named, and nothing else.

Codes are those of ITU-R BT.709-6 items 3.2 to 3.4, BT.601-7 2.5 and BT.2020-2 table 4, worked out in
:mod:`tests.measure.lineup.renders` without the program's tables.
"""

from __future__ import annotations

import re

import msgspec
import numpy as np
import pytest

from analysis.measure.lineup import TOLERANCE, look
from tests.measure import plain
from tests.measure.lineup import renders
from tests.measure.lineup.grid import LEVELS, PATTERNS, cases

SMALL = ((320, 180),)


@pytest.mark.parametrize("layout", ["yuv420p", "yuv422p10le", "rgb24"])
@pytest.mark.parametrize("level", ["right", "-2 %", "+5 %", "black +5 IRE"])
def test_each_error_is_named_and_nothing_else(layout: str, level: str) -> None:
    for case in cases(SMALL, (layout,), (level,)):
        found = look(case.frame())
        assert found.pattern == case.name, case
        assert found.true == (not case.faults) or case.beyond_the_codes, case
        if not case.beyond_the_codes:
            assert {fault.what for fault in found.faults} == case.faults, (case, found.faults)
        assert all(fault.detail and fault.set for fault in found.faults)


@pytest.mark.parametrize("size", [(1920, 1080), (1280, 720), (720, 576), (320, 180)])
@pytest.mark.parametrize("layout", ["yuv420p", "yuv422p10le"])
def test_every_size_and_pattern(size: tuple[int, int], layout: str) -> None:
    for pattern, (white, colours, sides) in PATTERNS.items():
        picture = renders.bars(*size, white, colours, sides)
        assert look(renders.frame(picture, layout)).true, pattern
        low = look(renders.frame(picture, layout, gain=0.98))
        assert not low.true and [fault.what for fault in low.faults] == ["level"], pattern


def figure(text: str, pattern: str) -> float:
    found = re.search(pattern, text)
    assert found is not None, text
    return float(found[1])


@pytest.mark.parametrize("name", [name for name in LEVELS if name != "right"])
def test_level_errors_are_told_in_figures(name: str) -> None:
    """Within half a percent: 8-bit codes are that coarse (half a code of 164 is 0.3 %)."""
    gain, lift = LEVELS[name]
    (fault,) = look(renders.frame(renders.bars(640, 360), gain=gain, lift=lift)).faults
    if gain != 1.0:
        way = "low" if gain < 1 else "high"
        assert figure(fault.detail, rf"gain is ([\d.]+) % {way}") == pytest.approx(100 * abs(gain - 1), abs=0.5)
        assert ("raise" if gain < 1 else "lower") + " the output level" in fault.set
    else:
        assert "gain" not in fault.detail
    if lift:
        assert figure(fault.detail, r"black is lifted by ([\d.]+) IRE") == pytest.approx(5.0, abs=0.3)
        assert "lower black" in fault.set
    else:
        assert "black" not in fault.detail


@pytest.mark.parametrize("colour", [0.9, 1.1])
def test_weak_and_strong_colour(colour: float) -> None:
    (fault,) = look(renders.frame(renders.bars(640, 360), colour=colour)).faults
    way = "weak" if colour < 1 else "strong"
    assert fault.what == "level"
    assert figure(fault.detail, rf"^colour is ([\d.]+) % {way}$") == pytest.approx(10.0, abs=1.0)
    assert ("raise" if colour < 1 else "lower") + " saturation" in fault.set


@pytest.mark.parametrize("layout", ["yuv422p", "rgb24", "gray"])
def test_narrow_range_made_narrow_twice(layout: str) -> None:
    """Black at 16 + 219 * 16/255 = 29.7, 75 % white at 16 + 219 * 180.25/255 = 170.8 (CALC)."""
    found = look(renders.frame(renders.squeezed(renders.bars(640, 360)), layout))
    (fault,) = found.faults
    assert fault.what == "range" and "narrow once more" in fault.detail
    by_name = {bar.name: bar for bar in found.bars}
    assert by_name["black"].found[0] == 30.0 and by_name["white"].found[0] == 171.0


@pytest.mark.parametrize("right,used", [("bt601", "bt709"), ("bt709", "bt601"), ("bt2020", "bt709")])
def test_rgb_decoded_with_the_wrong_matrix(right: str, used: str) -> None:
    """R'G'B' of Y'CbCr coded with one matrix and decoded with another, by the plain arithmetic of the tests."""
    coded = renders.frame(renders.bars(640, 360), "yuv444p10le", coded=right, matrix=used)
    rgb = (np.stack([exact.astype(float) for _, exact in plain.rgb_rounded(coded)], axis=2) - 64) / 876
    found = look(renders.frame(rgb, "rgb24", written="full"))
    assert not found.true
    (fault,) = found.faults
    assert fault.what == "matrix"
    assert f"coded with {renders.STANDARD[right]} were turned into R'G'B' with {renders.STANDARD[used]}" in fault.detail


def test_differences_are_the_codes_that_are_missing() -> None:
    """75 % white 2 % low is 16 + 219 * 0.735 = 177.0, three codes under 180; 10 bit 64 + 876 * 0.735 = 708 (CALC)."""
    for layout, expected, low in (("yuv422p", 180, 177), ("yuv422p10le", 721, 708)):
        white = look(renders.frame(renders.bars(640, 360), layout, gain=0.98)).bars[0]
        assert white.name == "white" and white.expected == (expected, *white.expected[1:])
        assert white.found[0] == low and white.difference[0] == low - expected
        assert white.difference[1:] == (0.0, 0.0)


@pytest.mark.parametrize("depth,layout", [(8, "yuv422p"), (10, "yuv422p10le"), (12, "yuv422p12le")])
def test_the_tolerance_is_two_codes_of_8_bit_at_every_depth(depth: int, layout: str) -> None:
    made = renders.frame(renders.bars(640, 360), layout)
    unit = 1 << (depth - 8)
    for codes, true in ((int(TOLERANCE) * unit, True), (int(TOLERANCE) * unit + 1, False)):
        luma = made.planes[0].copy()
        luma[:, 90:150] += luma.dtype.type(codes)  # inside the yellow bar
        found = look(msgspec.structs.replace(made, planes=(luma, *made.planes[1:])))
        assert found.true is true
        assert {bar.name: bar for bar in found.bars}["yellow"].difference[0] == codes


def test_two_explanations_that_fit_alike_are_not_decided() -> None:
    """75 % bars at 1.1547 and 100 % bars at 0.866 of their level are the same picture (0.75 * 1.1547 = 0.866)."""
    found = look(renders.frame(renders.bars(640, 360), written="full", gain=(100 / 75) ** 0.5))
    assert not found.true
    assert any("not clear" in fault.detail and "75/0/75/0" in fault.detail for fault in found.faults)


def test_where_a_statement_comes_from_is_said() -> None:
    made = renders.frame(renders.bars(640, 360), coded="bt601", matrix="bt709")
    for origin, word in (("tag", "own tag"), ("asked", "asked for"), ("assumed", "assumed")):
        (fault,) = look(renders.told(made, matrix_from=origin)).faults
        assert word in fault.detail and "--matrix bt601" in fault.set


def test_a_gain_beyond_the_last_code_leaves_no_trace() -> None:
    """Every code of 100 % bars in full-range R'G'B' is 0 or 255 whatever the gain; 75 % bars show it."""
    at_the_end = look(renders.frame(renders.bars(640, 360, 100, 100), "rgb24", written="full", gain=1.05))
    assert at_the_end.true and all(set(bar.found) <= {0.0, 255.0} for bar in at_the_end.bars)
    assert not look(renders.frame(renders.bars(640, 360), "rgb24", written="full", gain=1.05)).true
