"""The ways of a plan side by side with how things are now: what each gives and what it costs."""

from __future__ import annotations

import textwrap

from analysis.model.planning import Planning
from tui.bridge import OLD_PICTURE, Showing
from tui.look import Look
from tui.palette import Ink
from tui.sheet import Sheet
from tui.way_words import ONLY, Row, merged, moves_of, policy_words, rows
from tui.widgets.banner import put_banner
from tui.widgets.panel import Panel
from tui.wording import lasted

_NARROW = 75
"""Cells of the table below which names and figures are told short."""


class WaysPanel(Panel):
    """A table with a column for each way; beneath it their reasons, as far as there is room."""

    def __init__(self, look: Look, name: str) -> None:
        super().__init__(look, name)
        self.chosen = 0

    def draw(self, sheet: Sheet, showing: Showing) -> None:
        """Heading, policy, table, reasons; why there is no plan where there is none."""
        planning = showing.snapshot.planning
        self._put_heading(sheet, planning, showing)
        if showing.reading is None:
            put_banner(sheet, 0, 1, sheet.width, sheet.height - 1, showing.banner)
            return
        if planning is None or planning.planned is None or not planning.planned.plans:
            self._put_none(sheet, planning)
            return
        stale = showing.trust == "mind"
        wide = sheet.width >= _NARROW
        table = rows(planning, showing.reading, wide)
        moves = [moves_of(way, planning.planned, planning.said, wide) for way in planning.planned.plans]
        columns = _columns(sheet.width, wide)
        moves = [_folded(each, columns[1] - 1) for each in moves]
        high = max(len(each) for each in moves)
        policy = textwrap.wrap(policy_words(planning), max(sheet.width - 1, 8))[:2]
        spare = sheet.height - 2 - high - len(table)
        if spare < len(policy):
            table = merged(table)
            spare += 1
        policy = policy[: max(spare, 0)]
        y = 1
        for line in policy:
            y = self._line(sheet, y, line, Ink.SOFT)
        reasons = self._reasons(planning, sheet.width)
        room = sheet.height - y - 1 - high - len(table)
        apart = 1 if room >= 4 + len(reasons) else 0
        y = self._put_moves(sheet, y + apart, planning, moves, high, columns, stale) + apart
        for number, row in enumerate(table):
            self._put_row(sheet, y, row, wide, columns, stale)
            y += 1 + (apart if number in {2, 5} else 0)
        if room - 4 * apart >= len(reasons):
            y += apart
            for text, ink in reasons:
                y = self._line(sheet, y, text, ink)

    def _line(self, sheet: Sheet, y: int, text: str, ink: Ink) -> int:
        sheet.put(1, y, text, ink)
        return y + 1

    def _put_heading(self, sheet: Sheet, planning: Planning | None, showing: Showing) -> None:
        followed = planning.planned.policy if planning is not None and planning.planned is not None else None
        title = "WAYS" if followed is None else f"WAYS by {followed}"
        subject = planning.subject if planning is not None else None
        notes = ["p policy, f for whom"]
        if subject is not None:
            notes = [f"p changes the policy; for {subject}, f changes", f"for {subject}"]
        ink, at = Ink.SOFT, planning.at if planning is not None else None
        if followed is not None and at is not None:
            age = showing.snapshot.at.since(at) + showing.unheard
            if age > OLD_PICTURE:
                ink, notes = (
                    Ink.CARE,
                    [f"planned {lasted(age)} ago: no picture to plan from since", f"{lasted(age)} old"],
                )
        note = next((each for each in notes if len(each) + len(title) + 3 <= sheet.width), "")
        sheet.rule(0, title, note, Ink.STRONG, ink)

    def _put_none(self, sheet: Sheet, planning: Planning | None) -> None:
        planned = planning.planned if planning is not None else None
        why = planned.missing if planned is not None else planning.trouble if planning is not None else None
        head = "NO WAY" if planned is not None else "NO PLAN" if why else "PLANNING"
        lines = (head, why) if why else (head,)
        put_banner(sheet, 0, 1, sheet.width, sheet.height - 1, lines)

    def _put_moves(
        self,
        sheet: Sheet,
        y: int,
        planning: Planning,
        moves: list[tuple[str, ...]],
        high: int,
        columns: tuple[int, int, int],
        stale: bool,
    ) -> int:
        planned = planning.planned
        assert planned is not None
        start, width, name = columns
        sheet.put(name, y, "now", Ink.SOFT)
        mark = ">" if sheet.ascii else "▶"
        for number, told in enumerate(moves):
            x = start + number * width
            word = "nearest" if planned.missing else f"{number + 1}"
            chosen = number == self.chosen
            sheet.put(x, y, f"{mark} {word}" if chosen else f"  {word}", Ink.SITTER if chosen else Ink.KEY)
            for row, text in enumerate(told):
                sheet.put(x, y + 1 + row, text[: width - 1], Ink.STALE if stale else Ink.STRONG)
        if len(moves) == 1 and not planned.missing and planned.plans[0].controls != planned.now.controls:
            x = start + width
            for row, text in enumerate(textwrap.wrap(ONLY, max(sheet.width - x - 1, 8))[:3]):
                sheet.put(x, y + row, text, Ink.SOFT)
        sheet.put(1, y + 1, "set" if planning.said else "move", Ink.SOFT)
        return y + 1 + high

    def _put_row(self, sheet: Sheet, y: int, row: Row, wide: bool, columns: tuple[int, int, int], stale: bool) -> None:
        start, width, now = columns
        sheet.put(1, y, row.name if wide else row.short, Ink.SOFT)
        sheet.put(now, y, row.now, Ink.STALE if stale else Ink.TEXT)
        for number, text in enumerate(row.ways):
            ink = Ink.STALE if stale else Ink.STRONG if number == self.chosen else row.ink
            sheet.put(start + number * width, y, text[: width - 1], ink)

    def _reasons(self, planning: Planning, width: int) -> list[tuple[str, Ink]]:
        """The reasons of the ways that are not chosen; that of the chosen one stands below, across the screen."""
        planned = planning.planned
        assert planned is not None
        if planned.missing:
            return []
        told = []
        for number, way in enumerate(planned.plans):
            if number != self.chosen:
                lines = textwrap.wrap(f"{number + 1}: {way.reason}", max(width - 1, 8), subsequent_indent="   ")
                told += [(line, Ink.TEXT) for line in lines]
        return told


def _columns(width: int, wide: bool) -> tuple[int, int, int]:
    """Where the ways begin, how wide each is, and where the values of now stand.

    >>> _columns(53, False), _columns(75, True)
    ((19, 11, 12), (30, 15, 18))
    """
    now = 18 if wide else 12
    start = now + (12 if wide else 7)
    return start, max((width - start) // 3, 6), now


def _folded(moves: tuple[str, ...], width: int) -> tuple[str, ...]:
    """Moves in lines that fit; four lines are the most, and what is left out is said."""
    lines = [line for move in moves for line in textwrap.wrap(move, max(width, 4))]
    return tuple(lines) if len(lines) <= 4 else (*lines[:3], "...")
