"""Where the picture's levels lie: mean, middle, percentiles, extremes of luma."""

from __future__ import annotations

from tui.palette import Ink
from tui.placing import main_sitter
from tui.sheet import Sheet
from tui.widgets.blocks.block import Step, Told
from tui.wording import level


class Spread:
    """One line with mean and middle; with more rows high and low, the extremes, and the 5th and 95th percentile."""

    def steps(self, told: Told) -> tuple[Step, ...]:
        """One, two, three or five rows."""
        return Step(1), Step(2, 85), Step(3, 50), Step(5, 20)

    def draw(self, sheet: Sheet, y: int, rows: int, told: Told) -> None:
        """Names soft, figures strong."""
        luma = told.reading.luma if told.reading is not None else None
        middle = ("middle", luma.p50 if luma else None) if main_sitter(told.reading) else ("", None)
        high, low = ("high", luma.p99 if luma else None), ("low", luma.p1 if luma else None)
        mean = ("mean", luma.mean if luma else None)
        most, least = ("max", luma.max if luma else None), ("min", luma.min if luma else None)
        if rows == 1:
            table = [(mean, middle if middle[0] else high)]
        elif rows == 2:
            table = [(high, low), (mean, middle if middle[0] else most)]
        else:
            table = [(high, most), (mean, middle), (low, least)]
            if rows >= 5:
                upper, lower = ("95th", luma.p95 if luma else None), ("5th", luma.p5 if luma else None)
                table = [table[0], (upper, ("", None)), table[1], (lower, ("", None)), table[2]]
        for number, ((name, value), (other, second)) in enumerate(table):
            sheet.put(1, y + number, name, Ink.SOFT)
            sheet.put_right(12, y + number, level(value), told.ink(Ink.STRONG))
            if other:
                sheet.put(14, y + number, other, Ink.SOFT)
                sheet.put_right(26, y + number, level(second), told.ink(Ink.TEXT))
