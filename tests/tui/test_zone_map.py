"""The zone map in cells: marks never get lost, zones are told apart with any colours, the legend is always there."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from analysis.measure.zone_look import zone_cells
from analysis.measure.zones import CLIP, CRUSH, QUIET, ZoneMapper
from analysis.signal.curves import curve
from tui.look import Look
from tui.palette import ZONE_FIRST, ZONE_VALUES, style_of, zone_style
from tui.sheet import Sheet
from tui.zone_map import Steady, ZoneCells, zones_at

LOOKS = [
    Look(glyphs="braille", colours="full"),
    Look(glyphs="braille", colours="256"),
    Look(glyphs="braille", colours="16"),
    Look(glyphs="blocks", colours="mono"),
    Look(glyphs="ascii", colours="full"),
    Look(glyphs="ascii", colours="mono"),
]
MAPPER = ZoneMapper(curve("bt709"))


def seen(look: Look, value: int) -> tuple[str, str]:
    """Character and style of a place of one value."""
    cells = ZoneCells(look)
    codes, inks = cells.draw(np.full((cells.down, 1), value, np.uint8))
    return chr(int(codes[0, 0])), str(style_of(int(inks[0, 0]), look.colours, look.glyphs))


@pytest.mark.parametrize("look", LOOKS)
def test_every_zone_and_mark_looks_different(look: Look) -> None:
    assert len({seen(look, value) for value in range(QUIET + 1)}) == QUIET + 1


@pytest.mark.parametrize("look", LOOKS)
def test_clip_and_crush_have_glyphs_of_their_own(look: Look) -> None:
    glyphs = {value: seen(look, value)[0] for value in range(QUIET + 1)}
    for mark in (CLIP, CRUSH):
        assert [value for value, glyph in glyphs.items() if glyph == glyphs[mark]] == [mark]


@pytest.mark.parametrize("look", [look for look in LOOKS if look.colours == "mono"])
def test_without_colour_there_is_none(look: Look) -> None:
    for value in range(QUIET + 1):
        style = style_of(ZONE_FIRST + value * (ZONE_VALUES + 1), look.colours, look.glyphs)
        assert style.color is None
        assert style.bgcolor is None


def test_ascii_is_ascii() -> None:
    for look in LOOKS[4:]:
        assert all(seen(look, value)[0].isascii() for value in range(QUIET + 1))


def test_two_places_share_a_cell_where_half_blocks_carry_them() -> None:
    cells = ZoneCells(LOOKS[0])
    codes, inks = cells.draw(np.array([[3, 3, CLIP, CRUSH, CRUSH, QUIET], [7, 3, 5, CRUSH, 5, 4]], np.uint8))
    assert codes.shape == (1, 6)
    assert chr(codes[0, 0]) == "▀"
    assert chr(codes[0, 1]) == " "
    assert "".join(map(chr, codes[0, 2:4])) == "▲▼", "a mark takes the whole cell"
    assert divmod(int(inks[0, 4]) - ZONE_FIRST, ZONE_VALUES) == (0, 5)
    assert divmod(int(inks[0, 5]) - ZONE_FIRST, ZONE_VALUES) == (4, 4)


@pytest.mark.parametrize("size", [(20, 10), (40, 22), (160, 90), (200, 110)])
def test_a_burnt_speck_is_marked_at_every_size_and_a_black_one_is_not(size: tuple[int, int]) -> None:
    small = np.full((90, 160, 3), 104, np.uint8)
    small[40:42, 80:82] = 255
    small[10:12, 10:12] = 0
    zones = zones_at(MAPPER, small, MAPPER.of_picture(small), *size)
    assert zones.shape == (size[1], size[0])
    assert (zones == CLIP).any()
    assert (zones == CRUSH).any() == (size[0] >= 160), "a black speck is no loss where it is averaged away"
    small[:45] = 0
    assert (zones_at(MAPPER, small, MAPPER.of_picture(small), *size) == CRUSH).mean() > 0.4


@pytest.mark.parametrize("look", LOOKS)
@pytest.mark.parametrize("width", [27, 35, 46, 90, 120, 200])
def test_the_legend_shows_every_zone_and_both_marks(look: Look, width: int) -> None:
    sheet = Sheet(width, 1, look.glyphs == "ascii")
    ZoneCells(look).put_legend(sheet, 0)
    shown = {int(ink) - ZONE_FIRST for ink in np.unique(sheet.inks) if ink >= ZONE_FIRST}
    assert shown == {value * (ZONE_VALUES + 1) for value in range(QUIET)}
    assert zone_cells(zone_style(look.colours, look.glyphs))[CLIP].glyph in sheet.lines()[0]


def test_the_legend_names_zones_where_there_is_room() -> None:
    sheet = Sheet(200, 1)
    ZoneCells(LOOKS[0]).put_legend(sheet, 0)
    for words in ("V 18% grey", "VI +1", "0 -5", "clipped", "crushed"):
        assert words in sheet.lines()[0]
    short = Sheet(27, 1)
    ZoneCells(LOOKS[0]).put_legend(short, 0)
    assert all(digit in short.lines()[0] for digit in "0123456789X")


def test_noise_is_calmed_and_a_new_picture_is_shown_at_once() -> None:
    steady, rnd = Steady(), np.random.default_rng(0)
    base = np.full((90, 160, 3), 100, np.uint8)
    shown = [steady.calm((base + rnd.integers(-4, 5, base.shape)).astype(np.uint8)) for _ in range(12)]
    moves = [np.abs(a.astype(int) - b).mean() for a, b in itertools.pairwise(shown)]
    assert max(moves) < 1.9, "noise of nine codes would move three a picture"
    brighter = np.full((90, 160, 3), 200, np.uint8)
    assert np.array_equal(steady.calm(brighter), brighter)
    assert np.array_equal(steady.calm(brighter), brighter), "the same picture is not mixed twice"


def test_the_ends_of_the_scale_are_never_smoothed_away() -> None:
    steady = Steady()
    steady.calm(np.full((4, 4, 3), 250, np.uint8))
    assert (steady.calm(np.full((4, 4, 3), 255, np.uint8)) == 255).all()
