"""The zone map of the small picture as character cells, and its legend."""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np
import numpy.typing as npt

from analysis.measure.zone_look import zone_cells, zone_legend
from analysis.measure.zones import CLIP, CRUSH, QUIET, TOP_ZONE, ZoneMapper, Zones
from tui.look import Look
from tui.palette import ZONE_FIRST, ZONE_VALUES, Ink, zone_style
from tui.sheet import Codes, Sheet

Small = npt.NDArray[np.uint8]
_SMOOTHING = 0.5
_JUMP = 12.0
"""A new picture is shown at once: one that is on average this many codes from the last."""


def zones_at(mapper: ZoneMapper, small: Small, whole: Zones, columns: int, rows: int) -> Zones:
    """The zones of a small picture brought to ``columns`` by ``rows`` places.

    ``whole`` is its map at its own size: a place is clipped where any part of it is, and
    crushed where all of it is, so that no burnt speck gets lost.
    """
    height, width = small.shape[:2]
    shrinks = columns <= width and rows <= height
    how = cv2.INTER_AREA if shrinks else cv2.INTER_LINEAR
    at = np.asarray(cv2.resize(small, (columns, rows), interpolation=how), np.uint8)
    clipped, crushed = (
        np.asarray(cv2.resize((whole == mark).astype(np.float32), (columns, rows), interpolation=how))
        for mark in (CLIP, CRUSH)
    )
    return mapper.of_picture(at, clipped > (0.0 if shrinks else 0.5), crushed >= (0.999 if shrinks else 0.5))


class ZoneCells:
    """Turns values of a zone map into characters and inks; two places above each other share a cell where they can."""

    def __init__(self, look: Look) -> None:
        self._style = zone_style(look.colours, look.glyphs)
        self.down = 2 if self._style in {"full", "256"} and look.glyphs in {"braille", "blocks"} else 1
        self._glyphs = np.array([ord(cell.glyph) for cell in zone_cells(self._style)], np.uint32)

    def draw(self, zones: Zones) -> tuple[Codes, npt.NDArray[np.uint16]]:
        """Characters and inks of shape (rows, columns) for zones (rows * down, columns)."""
        if self.down == 1:
            return self._glyphs[zones], (ZONE_FIRST + zones.astype(np.uint16) * (ZONE_VALUES + 1)).astype(np.uint16)
        upper, lower = _paired(zones)
        codes = np.where(upper == lower, self._glyphs[upper], np.uint32(0x2580))
        inks = ZONE_FIRST + upper.astype(np.uint16) * ZONE_VALUES + lower
        return codes.astype(np.uint32), inks.astype(np.uint16)

    def put_legend(self, sheet: Sheet, y: int) -> None:
        """All zones and marks on one line, in the fullest words that fit."""
        forms = self._legends()
        entries = next((form for form in forms if _width(form) <= sheet.width), forms[-1])
        x = max((sheet.width - _width(entries)) // 2, 0)
        for value, swatch, text in entries:
            codes = np.full((1, swatch), self._glyphs[value], np.uint32)
            sheet.block(x, y, codes, ZONE_FIRST + value * (ZONE_VALUES + 1))
            x = sheet.put(x + swatch, y, text, Ink.SOFT)

    def _legends(self) -> list[list[Entry]]:
        """The legend in ever fewer words: what a swatch stands for, its cells, the text after it."""
        crushed, *zones, clipped = (words for _, words in zone_legend(self._style))
        lettered = self._style == "ascii"  # there a swatch is the zone's own number
        forms = []
        for short in (lambda words: f" {words}  ", lambda words: f" {words.split()[0]}  ", None):
            texts = [" " if short is None and lettered else _digit(n) if short is None else short(words)
                     for n, words in enumerate(zones)]  # fmt: skip
            swatch = 1 if short is None or lettered else 2
            middle = [Entry(number, swatch, text) for number, text in enumerate(texts)]
            forms.append([Entry(CRUSH, 1, f" {crushed}  "), *middle, Entry(CLIP, 1, f" {clipped}")])
            forms.append([Entry(CRUSH, 1, " "), *middle, Entry(CLIP, 1, "")])
        return forms


class Entry(NamedTuple):
    """A part of the legend: the value, how many cells its swatch has, the text after it."""

    value: int
    swatch: int
    text: str


def _width(entries: list[Entry]) -> int:
    return sum(entry.swatch + len(entry.text) for entry in entries)


def _digit(zone: int) -> str:
    return str(zone) if zone < TOP_ZONE else "X"


def _paired(zones: Zones) -> tuple[Zones, Zones]:
    """Upper and lower values of every cell; a mark takes the whole cell, as its glyph cannot be halved."""
    upper, lower = zones[0::2].copy(), zones[1::2].copy()
    clipped = (upper == CLIP) | (lower == CLIP)
    for one, other in ((upper, lower), (lower, upper)):
        # Half a cell of darkness is drawn as the darkest zone, half a quiet one as what stands beside it.
        half = (one == CRUSH) & (other != CRUSH) & (other != QUIET)
        one[half] = 0
    for one, other in ((upper, lower), (lower, upper)):
        quiet = one == QUIET
        one[quiet] = other[quiet]
    upper[clipped] = lower[clipped] = CLIP
    return upper, lower


class Steady:
    """Calms the noise of small pictures, so that places between two zones do not flicker."""

    def __init__(self) -> None:
        self._smooth: npt.NDArray[np.float32] | None = None
        self._last: Small | None = None

    def forget(self) -> None:
        """The next picture has nothing to do with the last."""
        self._smooth = self._last = None

    def calm(self, small: Small) -> Small:
        """The picture, mixed with those before it unless it is quite another one."""
        if self._smooth is not None and self._last is small:
            return self._rounded()
        now = small.astype(np.float32)
        before = self._smooth
        if before is None or before.shape != now.shape or float(np.abs(before - now).mean()) > _JUMP:
            self._smooth = now
        else:
            # What is at the very end of the scale stays there: it carries the marks.
            mixed = before + np.float32(_SMOOTHING) * (now - before)
            self._smooth = np.where((now >= 255) | (now <= 0), now, mixed)
        self._last = small
        return self._rounded()

    def _rounded(self) -> Small:
        assert self._smooth is not None
        return np.asarray(np.rint(self._smooth), np.uint8)
