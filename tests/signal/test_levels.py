"""Codes and percent against ITU-R BT.709-6 and EBU R 103."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.signal.levels import (
    black_code,
    clip_code,
    code,
    codes_per_range,
    crush_code,
    percent,
    quantise,
    top_code,
    white_code,
)

DEPTHS = st.sampled_from([8, 10, 12, 16])
SPANS = st.sampled_from(["narrow", "full"])


@pytest.mark.parametrize(
    "bits,black,white",
    [(8, 16, 235), (10, 64, 940), (12, 256, 3760), (16, 4096, 60160)],  # BT.709-6 item 3.4 (8, 10); BT.2100 (12)
)
def test_narrow_limits(bits: int, black: int, white: int) -> None:
    assert (black_code(bits, "narrow"), white_code(bits, "narrow")) == (black, white)
    assert codes_per_range(bits, "narrow") == 219 * 2 ** (bits - 8)
    assert (black_code(bits, "full"), white_code(bits, "full")) == (0, 2**bits - 1)


@pytest.mark.parametrize(
    "bits,value,level",  # calculated from BT.709-6 item 3.4; the 5 % limits are those of EBU R 103
    [
        (8, 1, -6.85), (8, 5, -5.02), (8, 16, 0.0), (8, 17, 0.457), (8, 234, 99.54), (8, 235, 100.0),
        (8, 246, 105.02), (8, 254, 108.68), (10, 4, -6.85), (10, 20, -5.02), (10, 64, 0.0), (10, 940, 100.0),
        (10, 984, 105.02), (10, 1019, 109.02),
    ],
)  # fmt: skip
def test_percent_of_codes(bits: int, value: int, level: float) -> None:
    assert percent(value, bits, "narrow") == pytest.approx(level, abs=0.005)


@pytest.mark.parametrize(
    "level,codes",  # BT.709-6 item 1.2 levels of 18, 90 and 100 % reflectance, quantised by item 3.4
    [(40.9008, (106, 422, 1689)), (94.9110, (224, 895, 3582)), (100.0, (235, 940, 3760))],
)
def test_quantised_levels(level: float, codes: tuple[int, int, int]) -> None:
    assert tuple(quantise(code(level, bits, "narrow")) for bits in (8, 10, 12)) == codes


@given(DEPTHS, SPANS, st.data())
def test_every_code_survives_the_round_trip(bits: int, span: str, data: st.DataObject) -> None:
    value = data.draw(st.integers(0, top_code(bits)))
    assert quantise(code(percent(value, bits, span), bits, span)) == value


@given(st.decimals(-1000, 1000, places=3))
def test_halves_go_upwards(value: Decimal) -> None:
    upwards = (value + 5000).quantize(Decimal(1), rounding=ROUND_HALF_UP) - 5000
    assert quantise(float(value)) == int(upwards)


@given(DEPTHS, SPANS, st.floats(-10, 110))
def test_clip_and_crush_codes_are_the_first_at_the_level(bits: int, span: str, level: float) -> None:
    clip, crush = clip_code(level, bits, span), crush_code(level, bits, span)
    assert percent(clip, bits, span) >= level - 1e-6 and percent(clip - 1, bits, span) < level
    assert percent(crush, bits, span) <= level + 1e-6 and percent(crush + 1, bits, span) > level


@given(DEPTHS, SPANS)
def test_without_a_level_it_is_the_range_itself(bits: int, span: str) -> None:
    assert clip_code(None, bits, span) == clip_code(100.0, bits, span) == white_code(bits, span)
    assert crush_code(None, bits, span) == crush_code(0.0, bits, span) == black_code(bits, span)
