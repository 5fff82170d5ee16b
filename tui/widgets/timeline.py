"""The last minutes: low, middle and high of luma second by second, with marks where something was lost."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from analysis.engine.step import NO_PICTURE
from analysis.model.snapshot import TimelinePoint
from tui.bridge import Showing
from tui.cells import DOTS, pack
from tui.palette import Ink
from tui.sheet import Sheet
from tui.widgets.numbers import NOTED
from tui.widgets.panel import Panel

_SCALE = 4
_TOP, _BOTTOM = 109.0, -7.0
_NO_PICTURE = NO_PICTURE - {"ended"}


class TimelinePanel(Panel):
    """One row of marks above a plot; a cell is two seconds, the newest at the right."""

    def draw(self, sheet: Sheet, showing: Showing) -> None:
        """Heading with the span and the legend, marks, plot."""
        columns, rows = sheet.width - _SCALE, sheet.height - 2
        span = columns * 2 / 60
        title = f"LAST {span:.0f} MIN" if span >= 1.5 else f"LAST {columns * 2} S"
        legend = "! alarm  ▲ clip  ▼ crush  ╱ no picture"
        sheet.rule(0, title, legend if sheet.width > len(legend) + 16 else "", Ink.STRONG)
        if rows < 1 or columns < 4:
            return
        for ire in (100, 0):
            sheet.put_right(_SCALE - 1, 2 + _row(ire, rows), str(ire), Ink.SOFT)
        points = showing.snapshot.timeline
        if not points:
            sheet.put(_SCALE, 2, "nothing yet", Ink.SOFT)
            return
        # Cells hold whole pairs of seconds, so that what is drawn moves but does not change.
        newest = points[-1].second // 2 + 1
        start = (newest - columns) * 2
        seen = [point for point in points if point.second >= start]
        self._put_plot(sheet, seen, start, columns, rows)
        self._put_marks(sheet, seen, start, rows)

    def _put_plot(self, sheet: Sheet, points: list[TimelinePoint], start: int, columns: int, rows: int) -> None:
        across, down = DOTS[self.look.glyphs]
        lit = np.zeros((rows * down, columns * across), bool)
        middle = np.zeros_like(lit)
        row = np.arange(rows * down)[:, None]
        known = [p for p in points if p.low is not None and p.middle is not None and p.high is not None]
        # Seconds of one parity never share a column, so each half can be written at once.
        for half in ([p for p in known if p.second % 2 == odd] for odd in (0, 1)):
            x = (np.array([p.second for p in half], int) - start) * across // 2
            first, last = _dots([p.high for p in half], len(row)), _dots([p.low for p in half], len(row))
            within = (row >= first) & (row <= last)
            if across == 2:  # a sparse band between two lines
                within &= ((row % 2 == 0) & (x % 2 == 0)) | (row == first) | (row == last)
            lit[:, x] |= within
            middle[:, x] |= row == _dots([p.middle for p in half], len(row))
        if across == 2:
            codes = pack(lit | middle, self.look.glyphs)
            with_middle = middle.reshape(rows, down, columns, across).any(axis=(1, 3))
            inks = np.where(with_middle, np.uint16(Ink.MIDDLE), np.uint16(Ink.TRACE))
        else:
            cells = lit.reshape(rows, down, columns).any(axis=1)
            with_middle = middle.reshape(rows, down, columns).any(axis=1)
            band_mark, middle_mark = (":", "=") if sheet.ascii else ("░", "█")
            codes = np.where(with_middle, ord(middle_mark), np.where(cells, ord(band_mark), 0x20)).astype(np.uint32)
            inks = np.where(with_middle, np.uint16(Ink.MIDDLE), np.uint16(Ink.TRACE))
        sheet.block(_SCALE, 2, codes, inks)

    def _put_marks(self, sheet: Sheet, points: list[TimelinePoint], start: int, rows: int) -> None:
        for point in points:
            x = _SCALE + (point.second - start) // 2
            if point.feed in _NO_PICTURE:
                sheet.fill(x, 2, 1, rows, "╱", Ink.SOFT)
            mark = _mark(point)
            if mark is None:
                continue
            here = chr(int(sheet.codes[1, x])) if 0 <= x < sheet.width else " "
            if here == " " or mark[0] == "!":
                sheet.put(x, 1, *mark)


def _mark(point: TimelinePoint) -> tuple[str, Ink] | None:
    if point.alarm:
        return "!", Ink.CARE
    if (point.clipped or 0) >= NOTED:
        return "▲", Ink.OVER
    if (point.crushed or 0) >= NOTED:
        return "▼", Ink.UNDER
    return None


def _dots(levels: list[float | None], dots: int) -> npt.NDArray[np.int64]:
    position = (_TOP - np.array(levels, np.float64)) / (_TOP - _BOTTOM) * dots
    return np.clip(position, 0, dots - 1).astype(np.int64)


def _row(ire: float, rows: int) -> int:
    return int(np.clip((_TOP - ire) / (_TOP - _BOTTOM) * rows, 0, rows - 1))
