"""The ghost: the outline of a predicted trace, laid over the live one with glyphs of its own."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from analysis.exposure.ghost import Ghost
from tui.arrange import Box
from tui.palette import Ink
from tui.sheet import Sheet
from tui.widgets.scale import Scale

Rows = npt.NDArray[np.int64]

UPPER, LOWER, BOTH, HIGHER, SKIN = "▔", "▁", "═", "↑", "◇"
"""Upper edge, lower edge, both in one cell, an upper edge that may lie higher, the sitter's skin."""
_PLAIN = {UPPER: "^", LOWER: "_", BOTH: "=", HIGHER: "!", SKIN: "o"}
_STILL = 0.75
"""Rows from the middle of its cell that an edge may wander before it is drawn in another: noise moves nothing."""


class GhostMarks:
    """Draws ghosts of one plot, steadily: an edge changes its cell only when it has clearly left it."""

    def __init__(self) -> None:
        self._before: tuple[str, Rows, Rows] | None = None

    def forget(self) -> None:
        """The next ghost has nothing to do with the last."""
        self._before = None

    def put(self, sheet: Sheet, plot: Box, scale: Scale, ghost: Ghost) -> None:
        """The outline over a plot, and the sitter's skin where it is to come."""
        low, high, hidden = _columns(ghost, plot.width)
        there = ~np.isnan(low)
        before = self._before
        if before is not None and (before[0] != ghost.label or before[1].size != plot.width):
            before = None
        upper = _rows(high, scale, before[1] if before is not None else None)
        lower = _rows(low, scale, before[2] if before is not None else None)
        self._before = (ghost.label, upper, lower)
        for column in np.flatnonzero(there).tolist():
            x, top, bottom = plot.x + column, plot.y + int(upper[column]), plot.y + int(lower[column])
            if hidden[column]:
                self._put(sheet, x, top, HIGHER)
                if bottom > top:
                    self._put(sheet, x, bottom, LOWER)
            elif bottom == top:
                self._put(sheet, x, top, BOTH)
            else:
                self._put(sheet, x, top, UPPER)
                self._put(sheet, x, bottom, LOWER)
        if ghost.skin is not None and ghost.skin_at is not None:
            row = plot.y + int(_rows(np.array([ghost.skin]), scale, None)[0])
            first = min(int(ghost.skin_at[0] * plot.width), plot.width - 1)
            last = min(max(int(ghost.skin_at[1] * plot.width) - 1, first), plot.width - 1)
            for x in range(plot.x + first, plot.x + last + 1, 2):
                self._put(sheet, x, row, SKIN)

    def _put(self, sheet: Sheet, x: int, y: int, glyph: str) -> None:
        sheet.put(x, y, _PLAIN[glyph] if sheet.ascii else glyph, Ink.GHOST)


def _columns(
    ghost: Ghost, columns: int
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64], npt.NDArray[np.bool_]]:
    """The edges in plot columns: the widest of what falls into each."""
    strips = ghost.low.size
    starts = np.minimum((np.arange(columns) * strips) // columns, strips - 1)
    ends = np.maximum(((np.arange(columns) + 1) * strips) // columns, starts + 1)
    if columns >= strips:
        return ghost.low[starts].astype(np.float64), ghost.high[starts].astype(np.float64), ghost.hidden[starts]
    low = np.array([np.fmin.reduce(ghost.low[a:b]) for a, b in zip(starts, ends, strict=True)], np.float64)
    high = np.array([np.fmax.reduce(ghost.high[a:b]) for a, b in zip(starts, ends, strict=True)], np.float64)
    hidden = np.array([ghost.hidden[a:b].any() for a, b in zip(starts, ends, strict=True)], np.bool_)
    return low, high, hidden


def _rows(levels: npt.NDArray[np.float64], scale: Scale, before: Rows | None) -> Rows:
    """Rows of levels; where they were, unless they have clearly left."""
    at = (scale.top - np.nan_to_num(levels)) / (scale.top - scale.bottom) * scale.rows
    rows = np.clip(at.astype(np.int64), 0, scale.rows - 1)
    if before is None:
        return rows
    return np.where(np.abs(at - (before + 0.5)) < _STILL, before, rows)
