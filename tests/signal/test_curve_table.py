"""Tables: true between their rows, exact backwards, sensible beyond their ends."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.signal.curves import curve, names
from analysis.signal.curves.table import GREY, LightTable, StopsTable, refine, slopes

WHOLE = np.arange(-7.0, 7.0)


@pytest.mark.parametrize("name", names())
def test_one_row_a_stop_is_within_a_fiftieth_of_a_stop(name: str) -> None:
    """Each built-in curve (checked against its document elsewhere) written down stop by stop."""
    known = curve(name)
    table = StopsTable(WHOLE, np.asarray(known.encode(GREY * 2.0**WHOLE)))
    fine = np.linspace(-6.5, 5.5, 2401)
    read = np.log2(table.decode(known.encode(GREY * 2.0**fine)) / GREY)
    assert np.abs(read - fine).max() < 0.025
    at_rows = np.log2(table.decode(known.encode(GREY * 2.0**WHOLE)) / GREY)
    np.testing.assert_allclose(at_rows, WHOLE, atol=1e-9)


def test_published_rows_of_acescct() -> None:
    """Academy S-2016-001: 0.09 -> 0.3565108, 0.18 -> 0.4135884, 0.36 -> 0.4706660; a third of a stop is 0.0190259."""
    table = StopsTable(np.array([-1.0, 0.0, 1.0]), np.array([0.3565108, 0.4135884, 0.4706660]))
    third = float(table.encode(np.array(GREY * 2.0 ** (1 / 3))))
    assert third - 0.4135884 == pytest.approx(0.0190259, abs=1e-6)


rows = st.integers(3, 12).flatmap(
    lambda n: st.tuples(
        st.lists(st.floats(0.05, 3.0), min_size=n - 1, max_size=n - 1),
        st.lists(st.floats(1e-4, 0.3), min_size=n - 1, max_size=n - 1),
    )
)


def built(gaps: tuple[list[float], list[float]]) -> tuple[np.ndarray, np.ndarray]:
    x = np.concatenate(([-4.0], -4.0 + np.cumsum(gaps[0])))
    y = np.concatenate(([0.05], 0.05 + np.cumsum(gaps[1])))
    return x, y


@given(rows)
def test_never_turns_back_and_comes_back(gaps: tuple[list[float], list[float]]) -> None:
    x, y = built(gaps)
    for table, light in (
        (
            StopsTable(x, y),
            np.concatenate((np.linspace(-0.1, 0.0, 50), GREY * 2.0 ** np.linspace(-9.0, x[-1] + 3, 400))),
        ),
        (LightTable(x, y), np.linspace(x[0] - 1, x[-1] + 1, 400)),
    ):
        signal = table.encode(light)
        assert np.all(np.diff(signal) >= 0.0)
        back = table.encode(table.decode(signal))
        np.testing.assert_allclose(back, signal, atol=1e-9)


@given(rows)
def test_the_refined_rows_hold_the_given_ones(gaps: tuple[list[float], list[float]]) -> None:
    x, y = built(gaps)
    fine_x, fine_y = refine(x, y)
    np.testing.assert_allclose(np.interp(x, fine_x, fine_y), y, atol=1e-12)
    assert np.all(np.diff(fine_x) > 0.0) and np.diff(fine_x).max() <= 1 / 32 + 1e-9
    assert np.all(slopes(x, y) >= 0.0)


def test_a_straight_table_has_one_slope() -> None:
    assert slopes(WHOLE, 0.05 * WHOLE) == pytest.approx(0.05)


def test_below_the_first_row_light_goes_on_straight() -> None:
    """Every published log curve ends in a straight toe; ACEScct has one below 0.0078125 (S-2016-001)."""
    stops = np.arange(-7.0, 6.0)
    known = curve("acescct")
    table = StopsTable(stops, np.asarray(known.encode(GREY * 2.0**stops)))
    dark = np.array([-0.01, 0.0, 0.0005, 0.001])
    np.testing.assert_allclose(table.encode(dark), known.encode(dark), atol=1e-9)


def test_above_the_last_row_stops_go_on_straight() -> None:
    table = StopsTable(np.array([0.0, 1.0, 2.0]), np.array([0.4, 0.5, 0.6]))
    assert table.encode(np.array([GREY * 8.0, GREY * 16.0])) == pytest.approx([0.7, 0.8])
    assert np.isfinite(table.decode(np.array(1e9)))


@pytest.mark.parametrize("shape", [(), (4,), (2, 2)])
def test_shape_and_input_are_kept(shape: tuple[int, ...]) -> None:
    for table in (
        StopsTable(WHOLE, 0.05 * (WHOLE + 8)),
        LightTable(np.array([0.0, 0.5, 1.0]), np.array([0, 0.6, 1.0])),
    ):
        light = np.full(shape, 0.3)
        assert table.encode(light).shape == table.decode(light).shape == shape
        assert np.all(light == 0.3)
