"""Sitters and spots of one reading against their aims."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.exposure.placement import aimed_areas, placements
from analysis.exposure.skin import skin_aim
from analysis.measure.zones import CLIP, QUIET, ZoneMapper, levels_of, only_outside
from analysis.model.frame import Encoding
from analysis.model.reading import PictureArea, Reading
from analysis.model.sitter import Aim, SitterReading, Spot, SpotReading
from analysis.signal.curves import curve

BT709 = curve("bt709")
SPOTS = (
    Spot(name="doors", kind="let go", x=0.7, y=0.1, width=0.25, height=0.5),
    Spot(name="card", kind="watch", x=0.1, y=0.6, width=0.1, height=0.1),
)
AIMS = (
    skin_aim("light", BT709),
    Aim(target="sitter 2", value=42.0, tolerance=4.0),
    Aim(target="card", value=0.0, tolerance=0.1, unit="stops"),
)


def reading(*sitters: SitterReading, **spots: SpotReading) -> Reading:
    return Reading(
        sequence=0,
        seconds=0.0,
        validity="good",
        encoding=Encoding(bits=8, range="narrow", matrix="bt709", curve="bt709"),
        picture=PictureArea(width=1920, height=1080, active=(0, 140, 1920, 800)),
        sitters=sitters,
        spots=spots or None,
    )


def sitter(number: int, level: float | None, main: bool = False, **more) -> SitterReading:
    state = more.pop("state", "seen")
    box = (480 * number, 340, 192, 240)
    return SitterReading(name=f"sitter {number}", main=main, state=state, box=box, confidence=0.9, level=level, **more)


def test_each_is_held_against_its_own_aim_the_main_sitter_first() -> None:
    card = SpotReading(level=40.9, stops=0.35, clipped=0.0, kind="watch")
    found = placements(reading(sitter(2, 42.0), sitter(1, 43.5, main=True), card=card), SPOTS, AIMS, BT709)
    assert [each.name for each in found] == ["sitter 1", "sitter 2", "doors", "card"]
    assert [each.main for each in found] == [True, False, False, False]
    words = [each.distance.words if each.distance else None for each in found]
    assert words == ["1/3 stop under", "on aim", None, "1/3 stop over"]
    assert found[2].aim is None and found[2].band is None and found[2].level is None and found[2].may_clip


def test_a_sitters_box_is_told_in_parts_of_the_active_picture() -> None:
    found = placements(reading(sitter(1, 50.0)), (), AIMS, BT709)[0]
    assert (found.x, found.y, found.width, found.height) == pytest.approx((0.25, 0.25, 0.1, 0.3))


@pytest.mark.parametrize("state", ["too dark", "clipped"])
def test_who_cannot_be_read_has_an_aim_and_no_distance(state: str) -> None:
    found = placements(reading(sitter(1, None, state=state)), (), AIMS, BT709)[0]
    assert found.level is None and found.distance is None and found.band is not None


def test_what_is_clipped_is_at_least_so_far() -> None:
    found = placements(reading(sitter(1, 96.0, clipped=30.0)), (), AIMS, BT709)[0]
    assert found.distance.words.startswith("at least ")


def test_nothing_measured_is_no_sitters_and_spots_without_level() -> None:
    empty = Reading(
        sequence=0,
        seconds=0.0,
        validity="suspect",
        encoding=Encoding(bits=8, range="narrow", matrix="bt709"),
        picture=PictureArea(width=64, height=48, active=(0, 0, 64, 48)),
    )
    found = placements(empty, SPOTS, AIMS, None)
    assert [each.name for each in found] == ["doors", "card"] and all(each.level is None for each in found)


def test_the_map_shows_what_the_placements_say() -> None:
    """Skin at 30 IRE in an aim of 50, the doors burnt and let go: only the skin is shown."""
    small = np.repeat(np.full((40, 80, 1), 105, np.uint8), 3, axis=2)
    small[10:22, 20:28] = round(2.55 * 30)
    small[4:24, 56:76] = 255
    placed = placements(reading(sitter(1, 30.0)), SPOTS, AIMS, BT709)
    aimed, free = aimed_areas(placed)
    assert [area.low for area in aimed][1] == pytest.approx(39.34, abs=0.01), "-0.1 stop by BT.709-6 item 1.2"
    assert len(aimed) == 2 and len(free) == 1
    shown = only_outside(ZoneMapper(BT709).of_picture(small), levels_of(small), aimed, free)
    face = np.zeros((40, 80), bool)
    face[10:22, 20:28] = True
    assert np.all(shown[face] == 4) and np.all(shown[~face] == QUIET)
    assert np.any(only_outside(ZoneMapper(BT709).of_picture(small), levels_of(small), aimed) == CLIP)
