"""Densities and small pictures as character cells."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from tui.look import Glyphs
from tui.palette import GREY_FIRST, GREY_STEPS, Ink
from tui.sheet import BLANK, Codes

Floats = npt.NDArray[np.float32]
Bools = npt.NDArray[np.bool_]

DOTS: dict[Glyphs, tuple[int, int]] = {"braille": (2, 4), "blocks": (1, 2), "shade": (1, 1), "ascii": (1, 1)}
"""Dots per cell, across and down, of each glyph set."""

# Unicode braille patterns: dots 1-3 and 7 run down the left column, 4-6 and 8 down the right
# (The Unicode Standard, chapter 21.1, "Braille Patterns").
_BRAILLE = np.array([[0x01, 0x08], [0x02, 0x10], [0x04, 0x20], [0x40, 0x80]], np.uint32)
_HALVES = np.array([BLANK, 0x2580, 0x2584, 0x2588], np.uint32)
_SHADES = np.array([ord(c) for c in " ░▒▓█"], np.uint32)
_LETTERS = np.array([ord(c) for c in " .:+*#"], np.uint32)
# Ordered dithering, recursive 4 x 4 threshold matrix (Bayer 1973), as thresholds between 0 and 1.
_ORDER = (np.array([[0, 8, 2, 10], [12, 4, 14, 6], [3, 11, 1, 9], [15, 7, 13, 5]], np.float32) + 0.5) / 16

_FULLNESS = 0.16
"""A column spread evenly over the whole scale lights the square root of this share of its dots."""
_FAINTEST = 0.1
"""Whatever is at least this bright somewhere in a cell lights a dot of it."""
_SMOOTHING = 0.45
_JUMP = 0.3
"""A new picture is shown at once: one of which this share is not where it was. Noise changes
under a tenth, a light turned up by a third of a stop a half."""


def resample(counts: Floats, columns: int, edges: Floats) -> Floats:
    """Counts (strips, bins) gathered into ``columns`` columns and the bins between ``edges``.

    ``edges`` are positions on the bin axis in ascending order. Every count lands in exactly
    one place, in proportion where a border cuts it. Returns shape (columns, len(edges) - 1).

    >>> resample(np.ones((4, 6), np.float32), 2, np.array([0, 3, 6], np.float32)).tolist()
    [[6.0, 6.0], [6.0, 6.0]]
    """
    strips, bins = counts.shape
    across = _gather(counts, np.linspace(0, strips, columns + 1))
    return np.asarray(_gather(across.T, np.clip(edges, 0, bins)).T)


def _gather(values: Floats, edges: npt.NDArray[np.floating]) -> Floats:
    """Sums of rows between fractional row positions."""
    total = np.zeros((values.shape[0] + 1, values.shape[1]), np.float64)
    np.cumsum(values, axis=0, out=total[1:])
    below = np.clip(edges.astype(np.int64), 0, values.shape[0] - 1)
    part = (edges - below)[:, None]
    at = total[below] * (1 - part) + total[below + 1] * part
    # Rounding may leave a hair below zero where there is nothing.
    sums: Floats = np.maximum(np.diff(at, axis=0), 0.0).astype(np.float32)
    return sums


def brightness(density: Floats) -> Floats:
    """Counts (columns, dots) as 0..1 for drawing: the square root of each dot's share of its column.

    The root keeps thin parts of the picture visible beside thick ones.
    """
    sums = density.sum(axis=1, keepdims=True)
    share = density / np.maximum(sums, 1e-9) * density.shape[1]
    bright: Floats = np.clip(np.sqrt(share * np.float32(_FULLNESS)), 0, 1)
    return bright


def pack(lit: Bools, glyphs: Glyphs) -> Codes:
    """Dots (rows * down, columns * across) as characters of a dotted glyph set.

    >>> "".join(map(chr, pack(np.ones((4, 4), bool), "braille")[0]))
    '⣿⣿'
    """
    across, down = DOTS[glyphs]
    rows, columns = lit.shape[0] // down, lit.shape[1] // across
    cells = lit.reshape(rows, down, columns, across)
    if glyphs == "braille":
        code = (cells * _BRAILLE[None, :, None, :]).sum(axis=(1, 3)).astype(np.uint32)
        return np.where(code == 0, np.uint32(BLANK), code + np.uint32(0x2800))
    if glyphs == "blocks":
        return _HALVES[cells[:, 0, :, 0] + 2 * cells[:, 1, :, 0]]
    return np.where(cells[:, 0, :, 0], _LETTERS[-1] if glyphs == "ascii" else _SHADES[-1], np.uint32(BLANK))


class TraceCells:
    """Turns the densities of successive pictures into cells, without flicker.

    Densities are smoothed over time and a dot changes only when its density has clearly
    crossed the threshold; noise then neither flickers nor costs bytes. A picture that is
    really different is shown at once.
    """

    def __init__(self, glyphs: Glyphs) -> None:
        self.glyphs: Glyphs = glyphs
        self._smooth: Floats | None = None
        self._level: npt.NDArray[np.int8] | None = None
        self._alone: Bools | None = None

    def forget(self) -> None:
        """The next picture has nothing to do with the last."""
        self._smooth = self._level = self._alone = None

    def draw(self, counts: Floats, low: float, step: float, size: tuple[int, int], span: tuple[float, float]) -> Codes:
        """Cells of shape ``size`` (columns, rows) for counts (strips, bins); ``span`` is (bottom, top) in IRE."""
        columns, rows = size
        across, down = DOTS[self.glyphs]
        bottom, top = span
        levels = np.linspace(bottom, top, rows * down + 1, dtype=np.float32)
        density = resample(counts, columns * across, (levels - low) / step)
        value = brightness(density).T[::-1]  # rows from the top
        smooth = self._smooth
        if smooth is None or smooth.shape != value.shape or _moved(smooth, value) > _JUMP:
            smooth, self._level, self._alone = value, None, None
        else:
            smooth = smooth + np.float32(_SMOOTHING) * (value - smooth)
        self._smooth = smooth
        if (across, down) == (1, 1):
            return self._ramp(smooth)
        order = np.tile(_ORDER, (smooth.shape[0] // 4 + 1, smooth.shape[1] // 4 + 1))
        order = order[: smooth.shape[0], : smooth.shape[1]]
        lit = smooth > order
        if self._level is not None:
            before = self._level > 0
            lit = np.where(before, smooth > order * 0.75, smooth > order * 1.25 + 0.01)
        self._level = lit.astype(np.int8)
        return pack(lit | self._lone(smooth, lit, columns, rows), self.glyphs)

    def _lone(self, smooth: Floats, lit: Bools, columns: int, rows: int) -> Bools:
        """One dot for every cell that dithering left dark although something is there.

        A glint is a few pixels; it must not depend on where the dither pattern happens to lie.
        """
        across, down = DOTS[self.glyphs]
        cells = smooth.reshape(rows, down, columns, across).transpose(0, 2, 1, 3).reshape(rows, columns, -1)
        dark = ~lit.reshape(rows, down, columns, across).any(axis=(1, 3))
        limit = np.float32(_FAINTEST) if self._alone is None else np.where(self._alone, _FAINTEST * 0.6, _FAINTEST)
        self._alone = dark & (cells.max(axis=2) > limit)
        dots = np.zeros(cells.shape, bool)
        np.put_along_axis(dots, cells.argmax(axis=2)[:, :, None], self._alone[:, :, None], axis=2)
        alone: Bools = dots.reshape(rows, columns, down, across).transpose(0, 2, 1, 3).reshape(lit.shape)
        return alone

    def _ramp(self, smooth: Floats) -> Codes:
        table = _LETTERS if self.glyphs == "ascii" else _SHADES
        top = len(table) - 1
        position = np.where(smooth > _FAINTEST, np.maximum(smooth * top, 1.0), smooth * top)
        level = np.clip(position.astype(np.int8), 0, top)
        if self._level is not None:
            level = np.where(np.abs(position - (self._level + 0.5)) < 0.75, self._level, level)
        self._level = level.astype(np.int8)
        return table[self._level]


def _moved(before: Floats, now: Floats) -> float:
    """The share of two densities that does not lie in the same place: 0 for equal, 1 for nothing in common."""
    return float(np.abs(now - before).sum() / max(float(now.sum() + before.sum()), 1e-9))


class PictureCells:
    """Turns small pictures into half blocks of grey, or into a ramp of characters where there are no greys."""

    def __init__(self, glyphs: Glyphs, greys: bool) -> None:
        self.greys = greys and glyphs in {"braille", "blocks"}
        self._table = _LETTERS if glyphs == "ascii" else _SHADES
        self._level: npt.NDArray[np.int16] | None = None

    def forget(self) -> None:
        """The next picture has nothing to do with the last."""
        self._level = None

    def draw(self, small: npt.NDArray[np.uint8], columns: int, rows: int) -> tuple[Codes, npt.NDArray[np.uint16]]:
        """Characters and inks of shape (rows, columns) for a picture (height, width, 3)."""
        down = 2 if self.greys else 1
        # Weights of BT.709 luma (Rec. ITU-R BT.709-6, item 3.2): only for the eye, nothing is measured here.
        grey = small.astype(np.float32) @ np.array([0.2126, 0.7152, 0.0722], np.float32)
        height, width = grey.shape
        area = _gather(_gather(grey, np.linspace(0, height, rows * down + 1)).T, np.linspace(0, width, columns + 1)).T
        mean = area * (rows * down * columns / (height * width))
        steps = GREY_STEPS if self.greys else len(self._table)
        position = np.clip(mean / 256 * steps, 0, steps - 0.001)
        level = position.astype(np.int16)
        if self._level is not None and self._level.shape == level.shape:
            # A step is left only when the value is clearly in another one.
            level = np.where(np.abs(position - (self._level + 0.5)) < 0.8, self._level, level)
        self._level = level
        if not self.greys:
            return self._table[level], np.full(level.shape, Ink.TEXT, np.uint16)
        upper, lower = level[0::2].astype(np.uint16), level[1::2].astype(np.uint16)
        inks = GREY_FIRST + upper * GREY_STEPS + lower
        return np.where(upper == lower, np.uint32(BLANK), np.uint32(0x2580)), inks.astype(np.uint16)


def fit(width: int, height: int, columns: int, rows: int) -> tuple[int, int]:
    """The largest (columns, rows) with a picture's proportions in a box of cells twice as high as wide.

    >>> fit(1920, 1080, 34, 12)
    (34, 10)
    """
    if min(width, height, columns, rows) <= 0:
        return 0, 0
    across = min(columns, round(rows * 2 * width / height))
    down = round(across * height / width / 2)
    return max(across, 1), min(max(down, 1), rows)
