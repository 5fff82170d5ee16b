"""Distances to aims: stops through the curve, thirds, words, bands."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.exposure.aims import (
    Band,
    Distance,
    aim_for,
    band,
    distance,
    is_sitter,
    level_of,
    moved,
    stops_of,
    third_words,
    thirds,
)
from analysis.model.sitter import Aim
from analysis.signal.curves import curve, names

BT709 = curve("bt709")
SKIN = Aim(target="sitter", value=50.0, tolerance=5.0)
WINDOW = Aim(target="window", value=2.0, tolerance=0.25, unit="stops")


@pytest.mark.parametrize(
    "stops,level",
    # 18 % times a power of two through ITU-R BT.709-6 item 1.2, computed.
    [(-6, 1.27), (-5, 2.53), (-4, 5.06), (-3, 10.03), (-2, 17.32), (-1, 27.29), (-0.5, 33.56), (0, 40.90),
     (0.5, 49.47), (1, 59.50), (1.5, 71.21), (2, 84.90), (2.474, 100.0)],
)  # fmt: skip
def test_stops_and_levels_of_bt709(stops: float, level: float) -> None:
    assert level_of(stops, BT709) == pytest.approx(level, abs=0.01)
    assert stops_of(level, BT709) == pytest.approx(stops, abs=0.006)


@pytest.mark.parametrize("name,level", [("hlg", 38.0), ("pq", 38.0), ("acescct", 41.36), ("srgb", 46.14)])
def test_middle_grey_of_other_curves(name: str, level: float) -> None:
    """18 %: 38 % in HLG and PQ (Report ITU-R BT.2408 Table 1), Academy S-2016-001, IEC 61966-2-1."""
    assert level_of(0.0, curve(name)) == pytest.approx(level, abs=0.3)


def test_a_stop_of_acescct_is_everywhere_the_same() -> None:
    """1 / 17.52 of the signal above the toe (Academy S-2016-001)."""
    for level in (25.0, 40.0, 70.0):
        assert moved(level, 1.0, curve("acescct")) - level == pytest.approx(100 / 17.52, abs=1e-6)


@pytest.mark.parametrize(
    "start,end,stops",
    # Stops to move a level to another through the inverse of ITU-R BT.709-6 item 1.2, computed.
    [(48, 57, 0.463), (40, 57, 0.940), (27, 40.9, 1.025), (80, 60, -0.807), (70, 57, -0.569), (100, 90, -0.306)],
)
def test_what_a_move_is_in_stops(start: float, end: float, stops: float) -> None:
    found = distance(Aim(target="card", value=float(end), tolerance=1.0), float(start), BT709)
    assert found.stops == pytest.approx(-stops, abs=0.002)
    assert moved(start, stops, BT709) == pytest.approx(end, abs=0.05)


@pytest.mark.parametrize("name", names())
@given(stops=st.floats(min_value=-4.0, max_value=2.4))
def test_there_and_back_through_every_curve(name: str, stops: float) -> None:
    assert stops_of(level_of(stops, curve(name)), curve(name)) == pytest.approx(stops, abs=1e-3)


def test_black_is_no_stops() -> None:
    for level in (0.0, -5.0):
        assert stops_of(level, BT709) is None
    found = distance(SKIN, 0.0, BT709)
    assert found.stops is None and found.words == "50 IRE under"


@pytest.mark.parametrize(
    "stops,words",
    [(0.0, "on aim"), (0.16, "on aim"), (0.17, "1/3 stop over"), (-0.33, "1/3 stop under"), (0.5, "2/3 stop over"),
     (-0.67, "2/3 stop under"), (1.0, "1 stop over"), (-1.1, "1 stop under"), (1.34, "1 1/3 stops over"),
     (-1.7, "1 2/3 stops under"), (2.05, "2 stops over"), (-3.4, "3 1/3 stops under")],
)  # fmt: skip
def test_thirds_in_words(stops: float, words: str) -> None:
    found = distance(
        Aim(target="window", value=0.0, tolerance=0.2, unit="stops"), level_of(stops, BT709), BT709, stops=stops
    )
    assert found.words == words and found.thirds == thirds(stops)


@given(st.floats(min_value=-20, max_value=20, allow_nan=False))
def test_thirds_are_the_nearest_and_alike_on_both_sides(stops: float) -> None:
    assert abs(thirds(stops) / 3.0 - stops) <= 1 / 6 + 1e-9
    assert thirds(-stops) == -thirds(stops)


@given(st.integers(1, 60))
def test_words_of_thirds_add_up(count: int) -> None:
    figure = third_words(count).removesuffix("s").removesuffix(" stop")
    total = sum(float(np.divide(*map(int, part.split("/")))) if "/" in part else int(part) for part in figure.split())
    assert total == pytest.approx(count / 3.0)
    assert third_words(count).endswith("stops") == (count > 3)


@pytest.mark.parametrize("step", [-2.0, -1.0, -1 / 3, 1 / 3, 1.0])
@pytest.mark.parametrize("name", ["bt709", "hlg", "pq", "acescct", "acescc", "cineon"])
def test_so_many_stops_of_light_are_told_as_so_many(name: str, step: float) -> None:
    """The aim is met; then the light changes. In every encoding the same words."""
    made = curve(name)
    aim = Aim(target="sitter", value=level_of(0.7, made), tolerance=0.1)
    assert distance(aim, aim.value, made).words == "on aim"
    found = distance(aim, moved(aim.value, step, made), made)
    assert found.stops == pytest.approx(step, abs=1e-6) and found.thirds == round(3 * step) and not found.within


def test_a_tight_tolerance_is_not_called_on_aim() -> None:
    tight = Aim(target="card", value=40.9, tolerance=0.5)
    assert distance(tight, 42.0, BT709).words == "just over"
    assert distance(tight, 39.8, BT709).words == "just under"
    assert distance(tight, 41.2, BT709).words == "on aim"


def test_within_is_judged_in_the_unit_of_the_aim() -> None:
    assert distance(SKIN, 55.0, BT709).within and not distance(SKIN, 55.1, BT709).within
    assert distance(WINDOW, 0.0, BT709, stops=2.25).within and not distance(WINDOW, 0.0, BT709, stops=2.26).within


def test_an_aim_in_stops_takes_the_readings_own_stops() -> None:
    """Those come from linear R'G'B'; a saturated colour's level would say less."""
    own = distance(WINDOW, 70.0, BT709, stops=2.0)
    assert own.words == "on aim" and own.ire == pytest.approx(70.0 - 84.90, abs=0.01)
    assert distance(WINDOW, 84.9, BT709).stops == pytest.approx(0.0, abs=0.001), "else the level's"


def test_without_a_curve_ire_is_all_there_is() -> None:
    found = distance(SKIN, 62.0, None)
    assert (found.ire, found.stops, found.thirds, found.within) == (12.0, None, None, False)
    assert found.words == "12 IRE over" and distance(SKIN, 47.0, None).words == "on aim"
    assert distance(WINDOW, 70.0, None) is None and band(WINDOW, None) is None
    assert distance(WINDOW, 70.0, None, stops=1.0).words == "1 stop under", "unless the reading has its own stops"


def test_beyond_the_clip_it_is_at_least() -> None:
    found = distance(SKIN, 95.0, BT709, clipped=12.0)
    assert found.at_least and found.words.startswith("at least 1 ") and found.words.endswith(" over")
    assert not distance(SKIN, 95.0, BT709, clipped=0.4).at_least, "a speck hides nothing"
    under = distance(SKIN, 30.0, BT709, clipped=12.0)
    assert not under.at_least and under.words.endswith("under")


def test_bands_in_ire() -> None:
    assert band(SKIN, BT709) == Band(low=45.0, centre=50.0, high=55.0)
    found = band(WINDOW, BT709)
    assert (found.low, found.centre, found.high) == pytest.approx((77.7, 84.9, 92.7), abs=0.15)
    assert found.holds(77.8) and not found.holds(77.4)


@pytest.mark.parametrize("aim", [SKIN, Aim(target="sitter", value=0.5, tolerance=0.3, unit="stops")])
@pytest.mark.parametrize("name", ["bt709", "hlg", "acescct"])
def test_a_bias_moves_the_whole_band_in_light(aim: Aim, name: str) -> None:
    """High key by a third of a stop: common practice, no published source."""
    made = curve(name)
    raised = Aim(target=aim.target, value=aim.value, tolerance=aim.tolerance, unit=aim.unit, bias_stops=1 / 3)
    plain, high = band(aim, made), band(raised, made)
    for edge in ("low", "centre", "high"):
        before, after = stops_of(getattr(plain, edge), made), stops_of(getattr(high, edge), made)
        assert after - before == pytest.approx(1 / 3, abs=1e-3)
    met = distance(aim, plain.centre, made, stops=stops_of(plain.centre, made))
    short = distance(raised, plain.centre, made, stops=stops_of(plain.centre, made))
    assert met.words == "on aim" and short.words in {"1/3 stop under", "on aim"} and short.thirds == -1


def test_a_bias_needs_a_curve() -> None:
    raised = Aim(target="sitter", value=50.0, tolerance=5.0, bias_stops=0.5)
    assert band(raised, None) is None and distance(raised, 50.0, None) is None


def test_bands_and_distances_agree() -> None:
    rng = np.random.default_rng(2)
    for _ in range(200):
        unit = "ire" if rng.random() < 0.5 else "stops"
        value = float(rng.uniform(10, 90) if unit == "ire" else rng.uniform(-3, 2))
        wide = float(rng.uniform(0.5, 8) if unit == "ire" else rng.uniform(0.1, 1))
        aim = Aim(target="x", value=value, tolerance=wide, unit=unit, bias_stops=float(rng.uniform(-1, 1)))
        level = float(rng.uniform(3, 99))
        found, place = distance(aim, level, BT709), band(aim, BT709)
        edge = min(abs(level - place.low), abs(level - place.high))
        assert found.within == place.holds(level) or edge < 0.01
        assert found.ire == pytest.approx(level - place.centre)
        assert found.ire == 0.0 or (found.stops > 0) == (found.ire > 0)


def test_which_aim_belongs_to_whom() -> None:
    second = Aim(target="sitter 2", value=42.0, tolerance=4.0)
    aims = (SKIN, second, WINDOW)
    assert aim_for("sitter 1", aims) is SKIN and aim_for("Sitter 2", aims) is second
    assert aim_for("window", aims) is WINDOW and aim_for("Window", aims) is WINDOW
    assert aim_for("card", aims) is None and aim_for("sitter 1", (WINDOW,)) is None
    assert aim_for("sitter's chair", aims) is None


@pytest.mark.parametrize(
    "name,whose", [("sitter", True), ("sitter 12", True), ("sitters", False), ("sitter two", False)]
)
def test_names_of_sitters(name: str, whose: bool) -> None:
    assert is_sitter(name) is whose


def test_a_distance_without_anything_says_on_aim_only_within() -> None:
    assert Distance(ire=0.3, stops=None, thirds=None, within=False).words == "on aim"
    assert Distance(ire=0.6, stops=None, thirds=None, within=False).words == "1 IRE over"
