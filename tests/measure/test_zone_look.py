"""How zones are drawn: even lightness, told apart by everyone, and without colour at all."""

from __future__ import annotations

import math
import warnings
from itertools import pairwise
from typing import get_args

import numpy as np
import pytest

from analysis.measure.zone_look import (
    CHROMA,
    HUE_ABOVE,
    HUE_BELOW,
    LIGHTNESS_FIRST,
    LIGHTNESS_STEP,
    NUMBERS,
    RAMP,
    ZoneStyle,
    zone_cells,
    zone_legend,
)
from analysis.measure.zones import CLIP, CRUSH, QUIET, ZONE_NAMES
from tests.support.colour_library import colour_library

STYLES = get_args(ZoneStyle)
ZONES = range(11)


def luminance(rgb: tuple[int, ...] | np.ndarray) -> float:
    """Relative luminance of sRGB codes (WCAG 2.2, definition of relative luminance)."""
    parts = [c / 255 for c in rgb]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: float, other: float) -> float:
    """Contrast ratio of two relative luminances (WCAG 2.2, definition of contrast ratio)."""
    return (max(one, other) + 0.05) / (min(one, other) + 0.05)


def lab_of(rgb: np.ndarray) -> np.ndarray:
    colour = colour_library()
    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D65"]
    return colour.XYZ_to_Lab(colour.sRGB_to_XYZ(rgb / 255.0), white)


def seen_with(rgb: np.ndarray, deficiency: str | None) -> np.ndarray:
    """As a person without one kind of cone sees it: Machado, Oliveira and Fernandes 2009, severity 1."""
    if deficiency is None:
        return rgb
    colour = colour_library()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the library's own note that its tritanopia is an approximation
        matrix = colour.blindness.matrix_cvd_Machado2009(deficiency, 1.0)
    linear = np.clip(colour.models.eotf_sRGB(rgb / 255.0) @ matrix.T, 0.0, 1.0)
    return 255.0 * colour.models.eotf_inverse_sRGB(linear)


def test_the_ramp_is_computed_from_even_steps_of_lightness() -> None:
    """CIE 15 L*a*b* to sRGB (IEC 61966-2-1) by a general-purpose library, to one code."""
    colour = colour_library()
    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D65"]
    for zone in ZONES:
        angle = math.radians(HUE_BELOW if zone < 5 else HUE_ABOVE)
        lab = np.array(
            [LIGHTNESS_FIRST + LIGHTNESS_STEP * zone, CHROMA[zone] * math.cos(angle), CHROMA[zone] * math.sin(angle)]
        )
        codes = 255.0 * colour.XYZ_to_sRGB(colour.Lab_to_XYZ(lab, white))
        assert np.all((codes > -0.5) & (codes < 255.5)), "nothing is cut by the gamut"
        assert np.abs(codes - RAMP[zone]).max() <= 0.75, zone


def test_middle_grey_is_as_light_as_an_18_percent_card() -> None:
    """L* = 116 (0.18)^(1/3) - 16 = 49.5 (CIE 15)."""
    assert lab_of(np.array(RAMP[5], float))[0] == pytest.approx(116 * 0.18 ** (1 / 3) - 16, abs=1.0)
    assert len(set(RAMP[5])) == 1, "and neutral"


@pytest.mark.parametrize("deficiency", [None, "Protanomaly", "Deuteranomaly", "Tritanomaly"])
def test_neighbours_are_told_apart_by_everyone(deficiency: str | None) -> None:
    """CIEDE2000 of 5 and more is plain to see side by side (common practice, no published source)."""
    colour = colour_library()
    lab = lab_of(seen_with(np.array(RAMP, float), deficiency))
    assert np.all(np.diff(lab[:, 0]) > 7.5), "lightness rises in even steps"
    assert np.all(colour.delta_E(lab[1:], lab[:-1]) > 5.0)


@pytest.mark.parametrize("deficiency", [None, "Protanomaly", "Deuteranomaly", "Tritanomaly"])
def test_a_mark_is_like_no_zone(deficiency: str | None) -> None:
    colour = colour_library()
    zones = lab_of(seen_with(np.array(RAMP, float), deficiency))
    cells = zone_cells("full")
    for ink in (cells[CLIP].front, cells[CRUSH].back):
        mark = lab_of(seen_with(np.array(ink, float), deficiency))
        assert min(colour.delta_E(zones, np.broadcast_to(mark, zones.shape))) > 10.0


def test_the_map_is_no_rainbow_and_has_neither_red_nor_pink() -> None:
    """Clip is not red, skin's zones are not pink: chroma stays low, hue on the blue and yellow axis."""
    lab = lab_of(np.array(RAMP, float))
    assert np.hypot(lab[:, 1], lab[:, 2]).max() < 15.0
    assert np.all(np.abs(lab[:, 1]) < 4.0), "hardly any red or green"


def test_neighbours_contrast_in_full_colour() -> None:
    """Eleven steps share 21:1 at most, 1.36 each (WCAG 2.2 contrast ratio); 3:1 is reached within five zones."""
    found = [luminance(rgb) for rgb in RAMP]
    assert min(contrast(a, b) for a, b in pairwise(found)) > 1.2
    assert min(contrast(a, b) for a, b in zip(found, found[5:], strict=False)) > 3.0


def test_marks_stand_out_where_they_occur() -> None:
    """WCAG 2.2 SC 1.4.11 asks 3:1 of graphics: the glyph in its cell, and the cell among its surroundings."""
    cells = zone_cells("full")
    for mark, around in ((cells[CLIP], RAMP[7:]), (cells[CRUSH], RAMP[:3])):
        assert contrast(luminance(mark.front), luminance(mark.back)) > 4.5
        assert all(contrast(luminance(mark.back), luminance(rgb)) > 3.0 for rgb in around)


# The 16 colours as two common terminals show them: the original VGA palette, and xterm's defaults.
VGA = {"black": (0, 0, 0), "bright_black": (85, 85, 85), "white": (170, 170, 170), "bright_white": (255, 255, 255),
       "bright_yellow": (255, 255, 85), "bright_magenta": (255, 85, 255)}  # fmt: skip
XTERM = {"black": (0, 0, 0), "bright_black": (127, 127, 127), "white": (229, 229, 229), "bright_white": (255, 255, 255),
         "bright_yellow": (255, 255, 0), "bright_magenta": (255, 0, 255)}  # fmt: skip
COVER = {" ": 0.0, "░": 0.25, "▒": 0.5, "▓": 0.75, "█": 1.0}
"""Shades as the Unicode standard names them: light, medium, dark (block elements, U+2591 to U+2593)."""


@pytest.mark.parametrize("palette", [VGA, XTERM], ids=["vga", "xterm"])
def test_sixteen_colours_rise_too(palette: dict[str, tuple[int, int, int]]) -> None:
    found = []
    for cell in zone_cells("16")[:11]:
        cover = COVER[cell.glyph]
        found.append(cover * luminance(palette[cell.front]) + (1 - cover) * luminance(palette[cell.back]))
    assert found == sorted(found)
    assert min(contrast(a, b) for a, b in pairwise(found)) > 1.1
    for mark in (CLIP, CRUSH):
        cell = zone_cells("16")[mark]
        assert contrast(luminance(palette[cell.front]), luminance(palette[cell.back])) > 4.5


def test_the_256_colours_are_the_nearest_greys() -> None:
    """Number 232 + i of that table is grey 8 + 10 i (xterm's own table)."""
    lightness = {232 + i: lab_of(np.array([8.0 + 10 * i] * 3))[0] for i in range(24)}
    cells = zone_cells("256")
    for zone in ZONES:
        wanted = LIGHTNESS_FIRST + LIGHTNESS_STEP * zone
        assert cells[zone].back == min(lightness, key=lambda number, to=wanted: abs(lightness[number] - to))
    assert len({cell.back for cell in cells[:11]}) == 11


def ink_of(glyph: str, reverse: bool) -> float:
    """How much of a cell a glyph fills, drawn with a free monospaced font at 40 pixels."""
    font_module = pytest.importorskip("PIL.ImageFont")
    image_module, draw_module = pytest.importorskip("PIL.Image"), pytest.importorskip("PIL.ImageDraw")
    manager = pytest.importorskip("matplotlib.font_manager")
    font = font_module.truetype(manager.findfont("DejaVu Sans Mono"), 40)
    above, below = font.getmetrics()
    image = image_module.new("L", (round(font.getlength("M")), above + below), 0)
    draw_module.Draw(image).text((0, 0), glyph, font=font, fill=255)
    cover = float(np.asarray(image).mean()) / 255.0
    return 1.0 - cover if reverse else cover


def test_without_colour_blocks_fill_with_light() -> None:
    """Drawn cells, white on black: each brighter than the last (WCAG 2.2 contrast ratio of their means)."""
    cells = zone_cells("blocks")
    found = [ink_of(cell.glyph, cell.reverse) for cell in cells[:11]]
    assert found == sorted(found)
    assert min(contrast(a, b) for a, b in pairwise(found)) > 1.1
    clip, crush = ink_of(cells[CLIP].glyph, False), ink_of(cells[CRUSH].glyph, False)
    assert all(contrast(clip, around) > 3.0 for around in found[9:])
    assert contrast(crush, found[0]) > 3.0


def test_in_ascii_the_zone_is_written_and_middle_grey_is_a_contour() -> None:
    cells = zone_cells("ascii")
    found = [ink_of(cell.glyph, cell.reverse) for cell in cells[:11]]
    assert contrast(max(found[:6]), min(found[6:])) > 2.5
    assert "".join(cell.glyph for cell in cells[:11]) == NUMBERS == "0123456789X"
    assert contrast(ink_of(cells[CLIP].glyph, cells[CLIP].reverse), min(found[6:])) > 3.0
    assert contrast(ink_of(cells[CRUSH].glyph, cells[CRUSH].reverse), max(found[:3])) > 3.0


@pytest.mark.parametrize("style", STYLES)
def test_no_two_cells_look_alike(style: ZoneStyle) -> None:
    cells = zone_cells(style)
    assert len(cells) == QUIET + 1 and len(set(cells)) == len(cells)
    assert all(len(cell.glyph) == 1 for cell in cells)


@pytest.mark.parametrize("style", ["blocks", "ascii"])
def test_without_colour_the_glyph_alone_tells(style: ZoneStyle) -> None:
    """WCAG 2.2 SC 1.4.1: never by colour alone."""
    cells = zone_cells(style)
    assert len({cell.glyph for cell in cells}) == len(cells)
    assert all(cell.front is None and cell.back is None for cell in cells)


@pytest.mark.parametrize("style", ["full", "256", "16"])
def test_marks_have_glyphs_of_their_own_in_colour_too(style: ZoneStyle) -> None:
    cells = zone_cells(style)
    ordinary = {cell.glyph for cell in cells[:11]}
    assert {cells[mark].glyph for mark in (CLIP, CRUSH, QUIET)}.isdisjoint(ordinary)


def test_ascii_is_ascii() -> None:
    assert "".join(cell.glyph for cell in zone_cells("ascii")).isascii()


@pytest.mark.parametrize("style", STYLES)
def test_the_legend_names_everything(style: ZoneStyle) -> None:
    legend = zone_legend(style)
    words = [text for _, text in legend]
    assert words[0] == "crushed" and words[-1] == "clipped" and len(legend) == 13
    assert [text.split()[0] for text in words[1:-1]] == list(ZONE_NAMES)
    assert words[1] == "0 -5" and words[6] == "V 18% grey" and words[11] == "X +5"
    assert max(map(len, words)) <= 10, "short enough for a column beside the map"
