"""The picture in stops from middle grey: how much of it lies where, as bars."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from analysis.exposure.aims import stops_of
from analysis.measure.examiner import known_curve
from analysis.model.reading import Reading, StopsSpread
from tui.bridge import Showing
from tui.cells import DOTS, pack
from tui.look import Glyphs, Look
from tui.measured_words import stops
from tui.palette import Ink
from tui.sheet import BLANK, Sheet
from tui.widgets.banner import put_banner
from tui.widgets.panel import Panel

_GLYPHS: dict[Glyphs, tuple[int, ...]] = {
    "ascii": (BLANK, ord("."), ord(":"), ord("#")),
    "shade": (BLANK, 0x2584, 0x2588),
}
_LOW = -8
_CALM = 0.5


class StopsPanel(Panel):
    """Bars over an axis in stops; the root of each share is drawn, so that thin parts stay visible."""

    def __init__(self, look: Look, name: str) -> None:
        super().__init__(look, name)
        self._smooth: npt.NDArray[np.float64] | None = None
        self._last: StopsSpread | None = None

    def draw(self, sheet: Sheet, showing: Showing) -> None:
        """Heading, bars, axis with middle grey at 0 and the end of the signal marked."""
        reading = showing.reading
        stale = showing.trust == "mind" and bool(showing.banner)
        note = f" {showing.banner[0]} " if stale else "from middle grey"
        sheet.rule(0, "STOPS", note, Ink.STRONG, Ink.CARE if stale else Ink.SOFT)
        rows = sheet.height - 2
        if rows < 1 or sheet.width < 17:
            return
        if reading is None or reading.spread is None:
            self._smooth = self._last = None
            words = showing.banner[:1]
            if reading is not None:
                words = ("NO STOPS", "no curve: --curve says it") if reading.encoding.curve is None else ("NOT YET",)
            put_banner(sheet, 0, 1, sheet.width, rows, words)
            return
        end = end_of(reading)
        high = high_for(end)
        shares = self._calmed(reading.spread, np.linspace(_LOW, high, sheet.width * self._across() + 1))
        self._put_bars(sheet, shares, rows, Ink.STALE if stale else Ink.TRACE)
        self._put_axis(sheet, rows + 1, high)
        if end is not None:
            x = _column(end, sheet.width, high)
            sheet.fill(x, 1, 1, rows, "╎", Ink.OVER)
            sheet.put_right(x, 1, f"end {stops(end)} ", Ink.OVER)

    def _across(self) -> int:
        """Bars in a cell."""
        return 1 if self.look.glyphs in _GLYPHS else DOTS[self.look.glyphs][0]

    def _calmed(self, spread: StopsSpread, edges: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        """Shares in percent between the edges, mixed with those before; the same spread is not mixed twice."""
        now = gathered(spread, edges)
        if self._smooth is not None and self._smooth.shape == now.shape and self._last is not None:
            if spread is self._last or spread == self._last:
                return self._smooth
            now = self._smooth + _CALM * (now - self._smooth)
        self._smooth, self._last = now, spread
        return now

    def _put_bars(self, sheet: Sheet, shares: npt.NDArray[np.float64], rows: int, ink: Ink) -> None:
        dots = self.look.glyphs not in _GLYPHS
        down = DOTS[self.look.glyphs][1] if dots else len(_GLYPHS[self.look.glyphs]) - 1
        heights = np.sqrt(shares / max(float(shares.max()), 1e-9)) * rows * down
        # Whatever is there at all is seen.
        whole = np.where(shares > 0, np.maximum(np.rint(heights), 1), 0).astype(int)
        if dots:
            lit = np.arange(rows * down)[::-1, None] < whole[None, :]
            sheet.block(0, 1, pack(lit, self.look.glyphs), ink)
            return
        table = np.array(_GLYPHS[self.look.glyphs], np.uint32)
        for row in range(rows):
            level = np.clip(whole - (rows - 1 - row) * down, 0, down)
            sheet.block(0, 1 + row, table[level][None, :], ink)

    def _put_axis(self, sheet: Sheet, y: int, high: int) -> None:
        every = 2 if sheet.width >= 34 else 4
        for stop in range(_LOW + every, high, every):
            text = f"{stop:+d}" if stop else "0"
            x = _column(stop, sheet.width, high) - len(text) // 2
            sheet.put(x, y, text, Ink.STRONG if stop == 0 else Ink.SOFT)


def end_of(reading: Reading) -> float | None:
    """Where this signal ends, in stops from middle grey: the level from which on it counts as clipped."""
    known = known_curve(reading.encoding.curve)
    return None if known is None or reading.clipped is None else stops_of(reading.clipped.level, known)


def high_for(end: float | None) -> int:
    """The upper border of the axis in stops: a log curve needs more of it.

    >>> high_for(2.5), high_for(10.3), high_for(None)
    (8, 12, 8)
    """
    return 8 if end is None or end < 7.5 else 12


def _column(stop: float, width: int, high: int) -> int:
    return min(max(math.floor((stop - _LOW) / (high - _LOW) * width), 0), width - 1)


def gathered(spread: StopsSpread, edges: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Percent of the picture between the edges (stops); what lies beyond the first or last edge is in the end bars.

    >>> gathered(StopsSpread(low=-1.0, step=1.0, counts=(40.0, 60.0)), np.array([-1.0, 0.0, 0.5, 1.0])).tolist()
    [40.0, 30.0, 30.0]
    """
    borders = spread.low + spread.step * np.arange(len(spread.counts) + 1)
    total = np.concatenate(([0.0], np.cumsum(spread.counts)))
    at = np.interp(edges, borders, total)
    at[0], at[-1] = 0.0, total[-1]
    return np.maximum(np.diff(at), 0.0)
