"""Where skin should lie: common practice, BT.2408 from memory, and skin as it was measured."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.exposure.aims import band, distance, level_of, moved
from analysis.exposure.skin import BT2408, COMPLEXIONS, LEAST, MOODS, MOST, USUAL, skin_aim, source
from analysis.model.sitter import Complexion
from analysis.signal.curves import curve

# Report ITU-R BT.2408 Table 2 (preliminary levels of common objects, early editions; values from memory):
# cd/m2, percent PQ, percent HLG of skin of Fitzpatrick types I-II, III-IV, V-VI.
TABLE_2: dict[Complexion, tuple[tuple[float, float], tuple[float, float], tuple[float, float]]] = {
    "light": ((65, 110), (45, 55), (55, 65)),
    "medium": ((40, 85), (40, 50), (45, 60)),
    "dark": ((10, 40), (30, 40), (25, 45)),
}
# Median face light in stops from 18 %: International Skin Spectra Archive (Lu et al., Scientific Data 2025),
# 4,603 cheek and forehead spectra under D65, computed.
MEASURED = {"very-light": 1.08, "light": 0.90, "intermediate": 0.70, "tan": 0.45, "brown": 0.02, "dark": -1.00}


@pytest.mark.parametrize("complexion", COMPLEXIONS)
def test_ranges_of_bt2408(complexion: Complexion) -> None:
    _, pq, hlg = TABLE_2[complexion]
    for name, (low, high) in (("pq", pq), ("hlg", hlg)):
        found = band(skin_aim(complexion, curve(name)), curve(name))
        assert (found.low, found.high) == (low, high)
        assert found.centre == (low + high) / 2


@pytest.mark.parametrize("complexion", COMPLEXIONS)
@pytest.mark.parametrize("end", [0, 1])
def test_the_remembered_table_agrees_with_itself(complexion: Complexion, end: int) -> None:
    """Its cd/m2 through ITU-R BT.2100: PQ by Table 4; HLG by Table 5 on a 1000 cd/m2 display, system gamma 1.2.
    The table is rounded to 5 %; the brightest PQ figure is the one farthest off, by 3.2."""
    nits, pq, hlg = (column[end] for column in TABLE_2[complexion])
    light = (nits / 1000.0) ** (1 / 1.2) / 0.26496  # scene light where white is 1: BT.2408 puts it at 203 cd/m2
    assert 100.0 * float(curve("pq").encode(np.array(light))) == pytest.approx(pq, abs=3.3)
    assert 100.0 * float(curve("hlg").encode(np.array(light))) == pytest.approx(hlg, abs=0.6)


def test_common_practice_elsewhere() -> None:
    """Skin between 40 and 60 IRE, about 50 for light skin, lower for darker: common practice, no published source."""
    for made in (curve("bt709"), curve("acescct"), None):
        centres = [skin_aim(complexion, made).value for complexion in ("light", "medium", "dark")]
        assert centres == [50.0, 45.0, 40.0] and all(LEAST <= centre <= MOST for centre in centres)
    assert tuple(USUAL) == COMPLEXIONS


def test_a_complexion_nobody_said_is_not_guessed() -> None:
    """The whole of common practice, or of the standard: as wide as all of them together."""
    for made in (curve("bt709"), None):
        aim = skin_aim(None, made)
        assert (aim.value - aim.tolerance, aim.value + aim.tolerance) == (40.0, 60.0)
    hlg = skin_aim(None, curve("hlg"))
    assert (hlg.value - hlg.tolerance, hlg.value + hlg.tolerance) == (25.0, 65.0)


@pytest.mark.parametrize("name", ["bt709", "srgb", "acescct", "cineon"])
@pytest.mark.parametrize("complexion", COMPLEXIONS)
def test_the_tolerance_is_a_third_of_a_stop_in_every_encoding(name: str, complexion: Complexion) -> None:
    made = curve(name)
    aim = skin_aim(complexion, made)
    for step in (-0.31, 0.31):
        assert distance(aim, moved(aim.value, step, made), made).within
    for step in (-0.37, 0.37):
        assert not distance(aim, moved(aim.value, step, made), made).within


@pytest.mark.parametrize("skin", sorted(MEASURED))
@pytest.mark.parametrize("complexion", COMPLEXIONS)
def test_one_stop_is_one_stop_whatever_the_skin_and_the_aim(skin: str, complexion: Complexion) -> None:
    """The arithmetic is the same for all: measured skin of every class, a stop up and a stop down."""
    made = curve("acescct")
    aim = skin_aim(complexion, made)
    at = [distance(aim, level_of(MEASURED[skin] + step, made), made).stops for step in (-1.0, 0.0, 1.0)]
    assert np.diff(at) == pytest.approx([1.0, 1.0], abs=1e-6)


def test_moods_are_thirds() -> None:
    """A third up for high key: common practice, no published source."""
    assert MOODS["high key"] == pytest.approx(1 / 3) and MOODS["natural"] == 0.0
    assert MOODS["low key"] == -MOODS["high key"]
    made = curve("bt709")
    high = skin_aim("light", made, bias_stops=MOODS["high key"])
    assert distance(high, 50.0, made).words == "1/3 stop under"
    assert band(high, made).centre == pytest.approx(moved(50.0, 1 / 3, made))


def test_the_target_is_whoever_is_meant() -> None:
    assert skin_aim("dark", None).target == "sitter" and skin_aim("dark", None, "sitter 2").target == "sitter 2"


def test_where_a_default_comes_from_is_said() -> None:
    assert source(curve("hlg")) == source(curve("pq")) == "ITU-R BT.2408"
    assert source(curve("bt709")) == source(None) == "common practice"
    assert {each.types for each in BT2408["hlg"].values()} == {"I-II", "III-IV", "V-VI"}
