"""The trace: level against picture column, for luma and for R G B side by side."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from analysis.model.reading import Reading, View
from tui.bridge import Showing
from tui.cells import Floats, TraceCells
from tui.look import Look
from tui.palette import Ink
from tui.sheet import BLANK, Codes, Sheet
from tui.widgets.banner import put_banner
from tui.widgets.panel import Panel
from tui.wording import lasted, level

_SCALE = 4  # cells for the numbers at the left
_MARGIN = 6  # cells for the words at the right
_HEADROOM, _FOOTROOM = 9.0, 7.0  # IRE a narrow-range signal can hold above 100 and below 0


class Scale(NamedTuple):
    """The level scale of a plot: rows above 100, between 100 and 0, below 0. 0 and 100 lie on row borders."""

    over: int
    main: int
    under: int

    @property
    def rows(self) -> int:
        """All rows."""
        return self.over + self.main + self.under

    @property
    def top(self) -> float:
        """Level of the upper border, IRE."""
        return 100 + self.over * 100 / self.main

    @property
    def bottom(self) -> float:
        """Level of the lower border, IRE."""
        return -self.under * 100 / self.main

    def position(self, ire: float) -> float:
        """Rows from the top to a level."""
        return round((self.top - ire) / (self.top - self.bottom) * self.rows, 6)


def scale_for(rows: int) -> Scale:
    """Share ``rows`` out so that 0 and 100 IRE fall exactly between rows.

    >>> scale_for(22)
    Scale(over=2, main=18, under=2)
    """
    if rows < 4:
        return Scale(0, max(rows, 1), 0)
    whole = 100 + _HEADROOM + _FOOTROOM
    over = max(1, -(-rows * _HEADROOM // whole))
    under = max(1, -(-rows * _FOOTROOM // whole))
    return Scale(int(over), rows - int(over) - int(under), int(under))


class _Plot(Panel):
    """What both traces share: the scale, the grid, the clip and floor lines."""

    def __init__(self, look: Look, name: str) -> None:
        super().__init__(look, name)
        self._codes: dict[str, Codes] = {}
        self._cells: dict[str, TraceCells] = {}
        self._drawn: tuple[object, int, int] | None = None

    def forget(self) -> None:
        """Nothing of an earlier picture may show through."""
        self._codes.clear()
        self._cells.clear()
        self._drawn = None

    def _trace(self, key: str, counts: Floats, view: View, columns: int, scale: Scale) -> Codes:
        cells = self._cells.setdefault(key, TraceCells(self.look.glyphs))
        span = (scale.bottom, scale.top)
        self._codes[key] = cells.draw(counts, view.low, view.step, (columns, scale.rows), span)
        return self._codes[key]

    def _put_scale(self, sheet: Sheet, y: int, scale: Scale) -> None:
        every = 10 if scale.main >= 30 else 20 if scale.main >= 10 else 50
        for ire in range(0, 101, every):
            sheet.put_right(_SCALE - 1, y + int(scale.position(ire)), str(ire), Ink.SOFT)

    def _put_grid(self, sheet: Sheet, x: int, y: int, columns: int, scale: Scale) -> None:
        every = 20 if scale.main >= 10 else 50
        for ire in range(0, 101, every):
            self._line(sheet, x, y, columns, scale.position(ire), Ink.FAINT, sparse=True)

    def _line(self, sheet: Sheet, x: int, y: int, columns: int, at: float, ink: Ink, sparse: bool) -> None:
        """A horizontal line where the plot is empty, as exactly placed as the glyphs allow."""
        row = int(at)
        if not 0 <= row < sheet.height - y:
            return
        if self.look.glyphs == "braille":
            dot = int((at - row) * 4)
            both = (0x09, 0x12, 0x24, 0xC0)[dot]
            left = (0x01, 0x02, 0x04, 0x40)[dot]
            code = 0x2800 + (left if sparse else both)
        else:
            code = ord("-") if self.look.glyphs == "ascii" else 0x2500
        line = sheet.codes[y + row, x : x + columns]
        inks = sheet.inks[y + row, x : x + columns]
        empty = line == BLANK
        if sparse and self.look.glyphs != "braille":
            empty &= np.arange(len(line)) % 4 == 0
        line[empty], inks[empty] = code, ink

    def _put_limits(self, sheet: Sheet, x: int, y: int, columns: int, scale: Scale, reading: Reading) -> None:
        """The clip level and the floor, as lines and in words."""
        words = x + columns + 1 < sheet.width
        for shares, word, ink in ((reading.clipped, "clip", Ink.OVER), (reading.crushed, "floor", Ink.UNDER)):
            if shares is None:
                continue
            at = scale.position(shares.level)
            self._line(sheet, x, y, columns, at, ink, sparse=False)
            if words:
                sheet.put(x + columns + 1, y + min(int(at), scale.rows - 1), word, ink)

    def _row_inks(self, scale: Scale, reading: Reading | None, ink: Ink) -> npt.NDArray[np.uint16]:
        """One ink for every row: above the clip level and below the floor they differ."""
        inks = np.full((scale.rows, 1), ink, np.uint16)
        middles = scale.top - (np.arange(scale.rows) + 0.5) * (scale.top - scale.bottom) / scale.rows
        if ink == Ink.STALE:
            return inks
        if reading is not None and reading.clipped is not None:
            inks[middles > reading.clipped.level] = Ink.OVER
        if reading is not None and reading.crushed is not None:
            inks[middles < reading.crushed.level] = Ink.UNDER
        return inks

    def _heading(self, sheet: Sheet, title: str, showing: Showing) -> None:
        if showing.held is not None:
            note = f" HELD, {lasted(showing.held.seconds)} old, space lets go "
            if len(title) + len(note) + 3 > sheet.width:
                note = f" HELD {lasted(showing.held.seconds)} "
            sheet.rule(0, title, note, Ink.STRONG, Ink.GONE)
        elif showing.trust == "mind" and showing.banner:
            sheet.rule(0, title, f" {showing.banner[0]} ", Ink.STRONG, Ink.CARE)
        else:
            sheet.rule(0, title, self._limits_note(showing.reading, sheet.width - len(title) - 4), Ink.STRONG)

    def _limits_note(self, reading: Reading | None, width: int) -> str:
        if reading is None or reading.clipped is None or reading.crushed is None:
            return ""
        words = {"ceiling": " found", "profile": " profile", "asked": " asked"}.get(reading.clipped.by, "")
        note = f"clip {level(reading.clipped.level)}{words}, floor {level(reading.crushed.level)} IRE"
        return note if len(note) <= width else ""

    def _source(self, showing: Showing) -> tuple[View, Reading] | None:
        """The picture to draw: the held one, or the newest."""
        if showing.held is not None:
            return showing.held.view, showing.held.reading
        if showing.view is None or showing.reading is None:
            self.forget()
            return None
        return showing.view, showing.reading

    def _is_new(self, view: View, columns: int, rows: int) -> bool:
        """Whether this view has not been drawn at this size; redrawing the same one would smooth it twice."""
        key = (view, columns, rows)
        old = self._drawn
        self._drawn = key
        return old is None or old[0] is not view or old[1:] != (columns, rows)


class TracePanel(_Plot):
    """Luma against picture column."""

    def draw(self, sheet: Sheet, showing: Showing) -> None:
        """Scale at the left, the trace, clip and floor as lines with words at the right."""
        self._heading(sheet, "LUMA", showing)
        rows = sheet.height - 1
        margin = _MARGIN if sheet.width >= 50 else 0
        columns = sheet.width - _SCALE - margin
        if rows < 2 or columns < 4:
            return
        scale = scale_for(rows)
        self._put_scale(sheet, 1, scale)
        source = self._source(showing)
        if source is None:
            put_banner(sheet, _SCALE, 1, columns, rows, showing.banner)
            return
        view, reading = source
        if self._is_new(view, columns, rows):
            self._trace("luma", view.trace, view, columns, scale)
        ink = Ink.STALE if showing.trust == "mind" and showing.held is None else Ink.TRACE
        inks = np.repeat(self._row_inks(scale, reading, ink), columns, axis=1)
        sheet.block(_SCALE, 1, self._codes["luma"], inks)
        self._put_limits(sheet, _SCALE, 1, columns, scale, reading)
        self._put_grid(sheet, _SCALE, 1, columns, scale)


class PartsPanel(_Plot):
    """R', G' and B' side by side, each against picture column, each named by its letter."""

    def draw(self, sheet: Sheet, showing: Showing) -> None:
        """Three plots on one scale."""
        self._heading(sheet, "R G B", showing)
        rows = sheet.height - 2
        columns = (sheet.width - _SCALE - 2) // 3
        if rows < 2 or columns < 3:
            return
        scale = scale_for(rows)
        self._put_scale(sheet, 2, scale)
        source = self._source(showing)
        if source is None:
            put_banner(sheet, _SCALE, 1, sheet.width - _SCALE, rows + 1, showing.banner)
            return
        view, reading = source
        if view.trace_rgb is None:
            put_banner(sheet, _SCALE, 1, sheet.width - _SCALE, rows + 1, ("NO COLOUR", "this feed carries luma only"))
            return
        new = self._is_new(view, columns, rows)
        stale = showing.trust == "mind" and showing.held is None
        names = (("R", "red", Ink.RED), ("G", "green", Ink.GREEN), ("B", "blue", Ink.BLUE))
        for number, (letter, word, ink) in enumerate(names):
            x = _SCALE + number * (columns + 1)
            sheet.put(x, 1, f"{letter} {word}", ink)
            if new:
                self._trace(letter, view.trace_rgb[number], view, columns, scale)
            inks = np.repeat(self._row_inks(scale, reading, Ink.STALE if stale else ink), columns, axis=1)
            sheet.block(x, 2, self._codes[letter], inks)
            self._put_limits_of(sheet, x, columns, scale, reading)
            self._put_grid(sheet, x, 2, columns, scale)

    def _put_limits_of(self, sheet: Sheet, x: int, columns: int, scale: Scale, reading: Reading) -> None:
        for shares, ink in ((reading.clipped, Ink.OVER), (reading.crushed, Ink.UNDER)):
            if shares is not None:
                self._line(sheet, x, 2, columns, scale.position(shares.level), ink, sparse=False)
