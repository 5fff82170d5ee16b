"""Percentiles from counts against ``numpy.percentile`` of the pixels themselves."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from analysis.measure.histogram import PERCENTILES, luma_levels, percentile
from tests.measure import plain

CODES = hnp.arrays(np.uint8, hnp.array_shapes(min_dims=1, max_dims=2, max_side=40))


def counts(codes: np.ndarray, bits: int = 8) -> np.ndarray:
    return np.bincount(codes.ravel(), minlength=1 << bits).astype(float)


@given(CODES, st.floats(0, 100))
def test_any_percentile_is_numpys(codes: np.ndarray, part: float) -> None:
    assert percentile(np.cumsum(counts(codes)), part) == pytest.approx(np.percentile(codes, part), abs=1e-6)


@given(CODES, st.sampled_from(["narrow", "full"]))
def test_levels_are_those_of_the_pixels(codes: np.ndarray, span: str) -> None:
    found = luma_levels(counts(codes), 8, span)
    expected = np.percentile(codes, PERCENTILES)
    assert [found.p1, found.p5, found.p50, found.p95, found.p99] == pytest.approx(plain.percent(expected, 8, span))
    extremes = np.array([codes.min(), codes.mean(), codes.max()])
    assert [found.min, found.mean, found.max] == pytest.approx(plain.percent(extremes, 8, span))


@pytest.mark.parametrize("bits", [10, 12, 16])
def test_deep_codes(bits: int) -> None:
    codes = np.random.default_rng(bits).integers(0, 1 << bits, (90, 160))
    found = luma_levels(counts(codes, bits), bits, "narrow")
    expected = plain.percent(np.percentile(codes, PERCENTILES), bits, "narrow")
    assert [found.p1, found.p5, found.p50, found.p95, found.p99] == pytest.approx(expected)


def test_counts_of_a_very_large_picture_stay_exact() -> None:
    """Single-precision counts would stop at 2**24; 8K has 33 million pixels."""
    many = np.zeros(256)
    many[100], many[200] = 2**25 + 1, 2**25
    assert percentile(np.cumsum(many), 50.0) == 100.0
    many[200] += 1
    assert percentile(np.cumsum(many), 50.0) == 150.0
