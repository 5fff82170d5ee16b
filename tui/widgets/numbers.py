"""The levels and shares in figures, the most important ones large."""

from __future__ import annotations

from typing import NamedTuple

from analysis.model.reading import Luma, Shares
from tui.bridge import Showing
from tui.figures import figure_size, put_figure
from tui.palette import Ink
from tui.sheet import Sheet
from tui.widgets.panel import Panel
from tui.widgets.pieces import Piece, put_pieces
from tui.wording import NOTHING, level, share

NOTED = 0.1
"""A clipped or crushed share from this many percent on is drawn in its ink and marked on the timeline."""


class Plan(NamedTuple):
    """How the panel's height is shared out: figure scales, rows between p1 and p99, blank lines."""

    middle: int
    shares: int
    spread: int
    gaps: bool


_PLANS = (Plan(2, 2, 5, True), Plan(2, 1, 3, True), Plan(2, 0, 3, True), Plan(1, 0, 3, True), Plan(1, 0, 3, False))


def plan_for(width: int, height: int) -> Plan:
    """The roomiest plan that fits; every plan shows the middle, the mean, both ends and all shares.

    >>> plan_for(27, 13), plan_for(35, 21)
    (Plan(middle=1, shares=0, spread=3, gaps=False), Plan(middle=2, shares=0, spread=3, gaps=True))
    """
    for plan in _PLANS:
        widest = max(figure_size("100.0", plan.middle)[0], figure_size("<0.01", plan.shares)[0])
        if _rows(plan) <= height and widest + 1 <= width:
            return plan
    return Plan(0, 0, 3, False)


def _rows(plan: Plan) -> int:
    middle = 1 + figure_size("0", plan.middle)[1] + plan.gaps
    share_rows = 2 * (2 + figure_size("0", plan.shares)[1])
    return middle + plan.spread + share_rows + (3 if plan.gaps else 0)


class NumbersPanel(Panel):
    """Middle, mean, low, high and extremes of luma; clipped and crushed shares per channel and in any."""

    def draw(self, sheet: Sheet, showing: Showing) -> None:
        """Figures; dim when the picture is late, blank when there is none."""
        reading = showing.reading
        stale = showing.trust == "mind"
        if sheet.height < 3:
            self._put_line(sheet, showing)
            return
        plan = plan_for(sheet.width, sheet.height)
        note = f" {showing.banner[0]} " if stale and showing.banner else "IRE"
        sheet.rule(0, "LEVEL", note, Ink.STRONG, Ink.CARE if stale else Ink.SOFT)
        y = self._put_middle(sheet, 1, plan, reading.luma if reading else None, stale)
        y = self._put_spread(sheet, y + plan.gaps, plan, reading.luma if reading else None, stale) + plan.gaps
        y = self._put_shares(sheet, y, plan, "CLIPPED", reading.clipped if reading else None, Ink.OVER, stale)
        y += plan.gaps
        self._put_shares(sheet, y, plan, "CRUSHED", reading.crushed if reading else None, Ink.UNDER, stale)

    def _put_line(self, sheet: Sheet, showing: Showing) -> None:
        """The same on one line, where the trace has the room."""
        reading = showing.reading
        luma, clipped, crushed = (reading.luma, reading.clipped, reading.crushed) if reading else (None, None, None)
        stale = showing.trust == "mind"
        strong, plain = (Ink.STALE, Ink.STALE) if stale else (Ink.STRONG, Ink.TEXT)
        over = strong if stale or clipped is None or clipped.any < NOTED else Ink.OVER
        under = strong if stale or crushed is None or crushed.any < NOTED else Ink.UNDER
        pieces = [
            Piece(showing.banner[0] if showing.banner else "", Ink.CARE, 9),
            Piece(f"middle {level(luma.p50 if luma else None)} IRE", strong, 9),
            Piece(f"clipped {share(clipped.any if clipped else None)} %", over, 8),
            Piece(f"crushed {share(crushed.any if crushed else None)} %", under, 7),
            Piece(f"high {level(luma.p99 if luma else None)}", plain, 6),
            Piece(f"low {level(luma.p1 if luma else None)}", plain, 5),
            Piece(f"mean {level(luma.mean if luma else None)}", plain, 4),
        ]
        put_pieces(sheet, 1, 0, sheet.width - 1, pieces, gap=3)

    def _put_middle(self, sheet: Sheet, y: int, plan: Plan, luma: Luma | None, stale: bool) -> int:
        text = level(luma.p50) if luma else NOTHING
        height = figure_size("0", plan.middle)[1]
        ink = Ink.STALE if stale else Ink.FIGURE
        if plan.gaps:  # the name above the figure, or beside it where there is no line for it
            sheet.put(1, y, "middle", Ink.SOFT)
            y += 1
            self._put_large(sheet, y, text, plan.middle, ink)
        else:
            end = self._put_large(sheet, y, text, plan.middle, ink)
            sheet.put(end + 2, y + height // 2, "middle", Ink.SOFT)
        return y + height

    def _put_large(self, sheet: Sheet, y: int, text: str, scale: int, ink: Ink) -> int:
        if text == NOTHING:  # nothing large where nothing was measured
            return sheet.put(1, y + figure_size("0", scale)[1] // 2, text, Ink.SOFT)
        return put_figure(sheet, 1, y, text, scale, ink)

    def _put_spread(self, sheet: Sheet, y: int, plan: Plan, luma: Luma | None, stale: bool) -> int:
        ink = Ink.STALE if stale else Ink.TEXT
        rows: list[tuple[str, float | None, str, float | None]] = [
            ("high", luma.p99 if luma else None, "max", luma.max if luma else None),
            ("95th", luma.p95 if luma else None, "", None),
            ("mean", luma.mean if luma else None, "", None),
            ("5th", luma.p5 if luma else None, "", None),
            ("low", luma.p1 if luma else None, "min", luma.min if luma else None),
        ]
        if plan.spread == 3:
            rows = rows[::2]
        for number, (name, value, edge, extreme) in enumerate(rows):
            sheet.put(1, y + number, name, Ink.SOFT)
            sheet.put_right(12, y + number, level(value), Ink.STALE if stale else Ink.STRONG)
            if edge:
                sheet.put(15, y + number, edge, Ink.SOFT)
                sheet.put_right(25, y + number, level(extreme), ink)
        return y + len(rows)

    def _put_shares(
        self, sheet: Sheet, y: int, plan: Plan, title: str, shares: Shares | None, ink: Ink, stale: bool
    ) -> int:
        side = "at" if title == "CLIPPED" else "under"
        sheet.rule(y, title, f"% {side} {level(shares.level)}" if shares else "% of picture", Ink.STRONG)
        there = shares is not None and shares.any >= NOTED
        figure_ink = Ink.STALE if stale else ink if there else Ink.STRONG
        plain_ink = Ink.STALE if stale else Ink.TEXT
        text = share(shares.any if shares else None)
        height = figure_size("0", plan.shares)[1]
        if plan.shares:
            end = self._put_large(sheet, y + 1, text, plan.shares, figure_ink)
            sheet.put(end + 2, y + 1 + height // 2, "any", Ink.SOFT)
        else:
            end = sheet.put(1, y + 1, "any ", Ink.SOFT)
            sheet.put(end, y + 1, text, figure_ink)
            end = sheet.put(14, y + 1, "luma ", Ink.SOFT)
            sheet.put(end, y + 1, share(shares.luma if shares else None), plain_ink)
        self._put_channels(sheet, y + 1 + height, shares, plain_ink, with_luma=bool(plan.shares))
        return y + 2 + height

    def _put_channels(self, sheet: Sheet, y: int, shares: Shares | None, ink: Ink, with_luma: bool) -> None:
        values = [
            ("R", Ink.RED, shares.r if shares else None),
            ("G", Ink.GREEN, shares.g if shares else None),
            ("B", Ink.BLUE, shares.b if shares else None),
        ]
        if with_luma:
            values.append(("Y", Ink.SOFT, shares.luma if shares else None))
        step = max((sheet.width - 1) // len(values), 8)
        for number, (letter, letter_ink, value) in enumerate(values):
            x = sheet.put(1 + number * step, y, letter, letter_ink)
            sheet.put(x + 1, y, share(value), ink)
