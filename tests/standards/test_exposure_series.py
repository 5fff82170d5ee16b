"""Filters, apertures, ISO and shutter series against handbook tables and the preferred numbers they come from."""

from __future__ import annotations

from math import log2

import pytest

from analysis.exposure import series

# Table of neutral density filters as makers print it (density, stops by the 0.3 rule, exact stops, exact factor,
# nominal factor, transmittance in percent).
FILTERS = [
    (0.1, 1 / 3, 0.332, 1.26, None, 79.4),
    (0.2, 2 / 3, 0.664, 1.58, None, 63.1),
    (0.3, 1, 0.997, 1.995, 2, 50.1),
    (0.6, 2, 1.993, 3.98, 4, 25.1),
    (0.9, 3, 2.990, 7.94, 8, 12.6),
    (1.0, 10 / 3, 3.322, 10, None, 10),
    (1.2, 4, 3.986, 15.8, 16, 6.31),
    (1.5, 5, 4.983, 31.6, 32, 3.16),
    (1.8, 6, 5.979, 63.1, 64, 1.58),
    (2.0, 20 / 3, 6.644, 100, None, 1),
    (2.1, 7, 6.976, 126, 128, 0.79),
    (2.4, 8, 7.973, 251, 256, 0.40),
    (3.0, 10, 9.966, 1000, 1024, 0.10),
    (4.0, 40 / 3, 13.288, 10000, None, 0.01),
]


@pytest.mark.parametrize(("density", "rule", "stops", "factor", "nominal", "passed"), FILTERS)
def test_filter_table(
    density: float, rule: float, stops: float, factor: float, nominal: float | None, passed: float
) -> None:
    exact = series.stops_of_density(density)
    assert exact == pytest.approx(stops, abs=0.0006)
    assert series.density(exact) == pytest.approx(density)
    assert series.density_name(rule) == density
    assert series.factor(exact) == pytest.approx(factor, rel=0.004)
    assert series.transmittance(exact) == pytest.approx(passed, rel=0.01)
    assert series.filter_stops(f"{density:.1f}") == pytest.approx(exact)
    if nominal is not None:
        assert series.stops_of_factor(nominal) == rule
        assert series.filter_stops(f"ND{nominal}") == rule


def test_densities_of_a_stack_add() -> None:
    # Makers' instructions: 0.3 + 0.6 + 0.9 is a 1.8, six stops by the 0.3 rule.
    assert series.stacked(0.3, 0.6, 0.9) == pytest.approx(series.stops_of_density(1.8))
    assert series.density_name(6) == 1.8


@pytest.mark.parametrize("text", ["-1", "x", "", "1e9", "nan", "0"])
def test_what_is_no_filter_is_refused(text: str) -> None:
    with pytest.raises(ValueError):
        series.filter_stops(text)


# The f-number series in thirds: exact values 2^(i/6) as printed to three decimals in large-format tables.
EXACT = [
    1, 1.122, 1.260, 1.414, 1.587, 1.782, 2, 2.245, 2.520, 2.828, 3.175, 3.564, 4, 4.490, 5.040, 5.657, 6.350, 7.127,
    8, 8.980, 10.079, 11.314, 12.699, 14.254, 16, 17.959, 20.159, 22.627,
]  # fmt: skip
NOMINAL = [
    1, 1.1, 1.2, 1.4, 1.6, 1.8, 2, 2.2, 2.5, 2.8, 3.2, 3.5, 4, 4.5, 5, 5.6, 6.3, 7.1, 8, 9, 10, 11, 13, 14, 16, 18, 20,
    22, 25, 29, 32,
]  # fmt: skip


def test_aperture_series() -> None:
    pairs = series.aperture_series()
    assert [nominal for nominal, _ in pairs] == NOMINAL
    for (_, exact), printed in zip(pairs, EXACT, strict=False):
        assert exact == pytest.approx(printed, abs=0.0006)


def test_worst_apertures_are_the_known_ones() -> None:
    # f/1.2 is 0.14 stop off, f/11 and f/22 0.08 (calculated from the table above).
    off = {nominal: abs(2 * log2(nominal / exact)) for nominal, exact in series.aperture_series()}
    assert max(off, key=lambda each: off[each]) == 1.2
    assert off[1.2] == pytest.approx(0.141, abs=0.002)
    assert off[11] == pytest.approx(0.081, abs=0.002)
    assert off[22] == pytest.approx(0.081, abs=0.002)


def test_iso_series_follows_preferred_numbers() -> None:
    # ISO 3 R10 preferred numbers: 1 1.25 1.6 2 2.5 3.2 4 5 6.3(6.4) 8; no nominal ISO is off by more than 0.023 stop.
    nominals = [nominal for nominal, _ in series.iso_series()]
    assert nominals == [
        100, 125, 160, 200, 250, 320, 400, 500, 640, 800, 1000, 1250, 1600, 2000, 2500, 3200, 4000, 5000, 6400, 8000,
        10000, 12800,
    ]  # fmt: skip
    assert max(abs(log2(nominal / exact)) for nominal, exact in series.iso_series()) == pytest.approx(0.0227, abs=5e-4)


def test_speed_series() -> None:
    pairs = series.speed_series()
    assert [nominal for nominal, _ in pairs] == [
        1, 1.3, 1.6, 2, 2.5, 3, 4, 5, 6, 8, 10, 13, 15, 20, 25, 30, 40, 50, 60, 80, 100, 125, 160, 200, 250, 320, 400,
        500, 640, 800, 1000,
    ]  # fmt: skip
    off = {nominal: log2(nominal / exact) for nominal, exact in pairs}
    for nominal in (15, 30, 60):
        assert off[nominal] == pytest.approx(-0.093, abs=0.001)
    assert max(abs(each) for each in off.values()) == pytest.approx(0.093, abs=0.001)


@pytest.mark.parametrize(("nominal", "exact"), series.aperture_series())
def test_every_aperture_is_called_by_its_name(nominal: float, exact: float) -> None:
    assert series.aperture_name(exact) == f"{nominal:g}"
    assert series.exact_aperture(nominal) == exact


@pytest.mark.parametrize(("nominal", "exact"), series.iso_series())
def test_every_iso_is_called_by_its_name(nominal: float, exact: float) -> None:
    assert series.iso_name(exact) == f"{nominal:g}"
    assert series.exact_iso(nominal) == exact


@pytest.mark.parametrize(("nominal", "exact"), series.speed_series())
def test_every_speed_is_called_by_its_name(nominal: float, exact: float) -> None:
    assert series.speed_name(1.0 / exact) == f"1/{nominal:g}"


def test_beyond_the_series_numbers_stand_for_themselves() -> None:
    assert series.aperture_name(0.7) == "0.7"
    assert series.iso_name(25600) == "25600"
    assert series.exact_aperture(0.95) == 0.95


def test_stops_between_apertures() -> None:
    assert series.aperture_stops(1.0, 32.0) == 10.0
    assert series.aperture_stops(2.828427, 2.0) == pytest.approx(-1.0, abs=1e-6)
    with pytest.raises(ValueError, match="above zero"):
        series.aperture_stops(0.0, 2.0)
