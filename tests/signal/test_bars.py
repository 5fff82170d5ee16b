"""Colour-bar codes against the tables of the line-up signals.

Values: BT.709-6 items 3.2 to 3.4 applied to the bars of SMPTE RP 219 / ITU-R BT.471, rounded to the
nearest code; the 8-bit columns are also printed in public line-up tables and drawn by FFmpeg's
``smptehdbars`` (see tests/standards).
"""

from __future__ import annotations

import pytest

from analysis.signal.bars import COLOURS, STEPS, bar, bars, step

SEVENTY_FIVE = {
    "white": ((180, 128, 128), (721, 512, 512), (2884, 2048, 2048), (191, 191, 191)),
    "yellow": ((168, 44, 136), (674, 176, 543), (2694, 704, 2171), (191, 191, 0)),
    "cyan": ((145, 147, 44), (581, 589, 176), (2325, 2356, 704), (0, 191, 191)),
    "green": ((133, 63, 52), (534, 253, 207), (2136, 1012, 827), (0, 191, 0)),
    "magenta": ((63, 193, 204), (251, 771, 817), (1004, 3084, 3269), (191, 0, 191)),
    "red": ((51, 109, 212), (204, 435, 848), (815, 1740, 3392), (191, 0, 0)),
    "blue": ((28, 212, 120), (111, 848, 481), (446, 3392, 1925), (0, 0, 191)),
    "black": ((16, 128, 128), (64, 512, 512), (256, 2048, 2048), (0, 0, 0)),
}
HUNDRED = {
    "white": ((235, 128, 128), (940, 512, 512), (3760, 2048, 2048)),
    "yellow": ((219, 16, 138), (877, 64, 553), (3507, 256, 2212)),
    "cyan": ((188, 154, 16), (754, 615, 64), (3015, 2459, 256)),
    "green": ((173, 42, 26), (691, 167, 105), (2762, 667, 420)),
    "magenta": ((78, 214, 230), (313, 857, 919), (1254, 3429, 3676)),
    "red": ((63, 102, 240), (250, 409, 960), (1001, 1637, 3840)),
    "blue": ((32, 240, 118), (127, 960, 471), (509, 3840, 1884)),
}


@pytest.mark.parametrize("colour", list(SEVENTY_FIVE))
def test_seventy_five_percent(colour: str) -> None:
    *codes, full = SEVENTY_FIVE[colour]
    assert [bar(colour, bits=bits) for bits in (8, 10, 12)] == codes
    assert bar(colour, matrix="rgb", span="full") == full


@pytest.mark.parametrize("colour", list(HUNDRED))
def test_hundred_percent(colour: str) -> None:
    assert tuple(bar(colour, 100.0, bits=bits) for bits in (8, 10, 12)) == HUNDRED[colour]


@pytest.mark.parametrize(
    "colour,codes", [("yellow", (162, 44, 142)), ("green", (112, 72, 58)), ("red", (65, 100, 212))]
)
def test_bt601_bars(colour: str, codes: tuple[int, int, int]) -> None:
    """75 % bars of BT.601-7, as FFmpeg's ``smptebars`` draws them."""
    assert bar(colour, matrix="bt601") == codes


@pytest.mark.parametrize(
    "level,codes",  # SMPTE RP 219: near-black, grey and white steps
    [(-2.0, (12, 46, 186)), (0.0, (16, 64, 256)), (2.0, (20, 82, 326)), (4.0, (25, 99, 396)), (15.0, (49, 195, 782)),
     (40.0, (104, 414, 1658)), (75.0, (180, 721, 2884)), (100.0, (235, 940, 3760))],
)  # fmt: skip
def test_grey_steps(level: float, codes: tuple[int, int, int]) -> None:
    assert tuple(step(level, bits) for bits in (8, 10, 12)) == codes
    assert level in STEPS


def test_average_level_of_the_eight_bars() -> None:
    """Half of the amplitude: 37.5 % and 50 % (calculated)."""
    for amplitude in (75.0, 100.0):
        levels = [(codes[0] - 64) / 8.76 for codes in bars(amplitude, bits=10).values()]
        assert sum(levels) / 8 == pytest.approx(amplitude / 2, abs=0.05)


def test_nothing_leaves_the_code_range() -> None:
    assert bar("blue", 140.0, bits=8)[1] == 255
    assert list(bars()) == list(COLOURS)
