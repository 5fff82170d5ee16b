"""Pile-ups in histograms: smooth light has none, a limit has one, ringing does not hide it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from analysis.measure.pileup import RIDGE, find_pileups, mass_above


def counts_of(levels: np.ndarray, size: int = 256) -> np.ndarray:
    return np.bincount(np.clip(levels.ravel() + 0.5, 0, size - 1).astype(int), minlength=size).astype(float)


def field() -> tuple[np.ndarray, np.ndarray]:
    down, along = np.mgrid[-1:1:400j, -1:1:400j]
    return down, along


def test_the_summit_of_a_smooth_hill_is_no_pileup() -> None:
    # Area above a level falls in proportion to the depth below the summit of a paraboloid: equal steps, equal areas.
    down, along = field()
    assert find_pileups(counts_of(200 - 60 * (down**2 + along**2)), 1, 1e-3) == []


def test_a_smooth_ridge_stays_below_the_contrast_asked_for() -> None:
    # The top step of a parabolic ridge holds 1 / (sqrt(2) - 1) = 2.414 times the one below.
    down, _ = field()
    counts = counts_of(200 - 60 * down**2, 256)
    top = int(np.flatnonzero(counts)[-1])
    step = counts[top - 2 : top + 1].sum() / counts[top - 5 : top - 2].sum()
    assert step == pytest.approx(RIDGE, abs=0.35)
    assert all(pile.contrast < 1.25 * RIDGE for pile in find_pileups(counts, 1, 1e-3))


@pytest.mark.parametrize("level", [40, 150, 182, 235, 254, 255])
def test_a_limit_leaves_one_at_its_level(level: int) -> None:
    down, along = field()
    counts = counts_of(np.minimum(level + 40 - 90 * (down**2 + along**2), level))
    found = find_pileups(counts, 1, 1e-3)[0]
    assert (found.code, found.beyond) == (level, 0.0)
    assert found.share == pytest.approx(float(counts[max(0, found.low) : found.high + 1].sum() / counts.sum()))
    assert found.contrast > 3 * RIDGE


def test_ringing_above_and_below_does_not_hide_it() -> None:
    down, along = field()
    levels = np.minimum(240 - 90 * (down**2 + along**2), 200.0)
    edge = levels > 199.5
    ringing = np.where(np.random.default_rng(1).random(levels.shape) < 0.03, 4.0, 0.0) * edge
    found = find_pileups(counts_of(levels + ringing), 1, 1e-3)[0]
    assert found.code == 200
    assert 0.02 < found.beyond < 0.04


def test_as_much_above_as_ringing_cannot_be_is_no_end() -> None:
    counts = np.zeros(256)
    counts[100], counts[180:230] = 1000, 10
    assert 100 not in [pile.code for pile in find_pileups(counts, 1, 1e-3)]


def test_the_topmost_comes_first_and_their_number_is_bounded() -> None:
    counts = np.zeros(256)
    counts[[20, 60, 100, 140, 180, 220]] = 10.0 ** np.arange(12, 0, -2)
    assert [pile.code for pile in find_pileups(counts, 1, 0.0)] == [220, 180, 140]


def test_smaller_than_asked_is_not_seen() -> None:
    counts = np.zeros(256)
    counts[50], counts[200] = 10_000, 5
    assert [pile.code for pile in find_pileups(counts, 1, 1e-3)] == [50]
    assert [pile.code for pile in find_pileups(counts, 1, 1e-4)] == [200, 50]


@pytest.mark.parametrize("size", [0, 1, 2, 3])
def test_hardly_any_codes(size: int) -> None:
    assert find_pileups(np.ones(size), 1, 1e-3) == []


def test_nothing_counted() -> None:
    assert find_pileups(np.zeros(1024), 3, 1e-3) == []
    assert mass_above(np.zeros(16), 3) == 0.0


@given(
    hnp.arrays(np.float64, st.integers(4, 80), elements=st.integers(0, 10**7).map(float)),
    st.integers(1, 9),
    st.floats(0, 0.5),
)
def test_whatever_is_counted(counts: np.ndarray, half: int, least: float) -> None:
    for pile in find_pileups(counts, half, least):
        assert 0 <= pile.low <= pile.code <= pile.high < counts.size
        assert least <= pile.share <= 1.0
        assert 0.0 <= pile.beyond <= 0.15
        assert counts[pile.code] > 0


@given(hnp.arrays(np.float64, 12, elements=st.integers(0, 1000).map(float)), st.floats(-5, 20))
def test_mass_above_is_the_sum_of_the_codes_above(counts: np.ndarray, code: float) -> None:
    total = counts.sum()
    expected = counts[np.arange(12) > code].sum() / total if total else 0.0
    assert mass_above(counts, code) == pytest.approx(expected)
