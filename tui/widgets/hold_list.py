"""The list of holds: which is compared with, which the keys are on, and how old each is."""

from __future__ import annotations

import textwrap

from analysis.model.hold import HoldMark, Matching
from tui.bridge import Showing
from tui.hold_words import age, is_old
from tui.look import Look
from tui.palette import Ink
from tui.sheet import Sheet
from tui.widgets.panel import Panel
from tui.widgets.pieces import Piece, put_pieces


class HoldList(Panel):
    """A line for each hold, the newest first; two where there is room, the second says where it is from."""

    def __init__(self, look: Look, name: str) -> None:
        super().__init__(look, name)
        self.picked: str | None = None
        self.words = ""

    def draw(self, sheet: Sheet, showing: Showing) -> None:
        """The holds around the one the keys are on; what was said last at the foot."""
        matching = showing.snapshot.matching or Matching()
        marks = matching.marks
        sheet.rule(0, "HOLDS", f"{len(marks)}" if marks else "", Ink.STRONG)
        words = textwrap.wrap(self.words, max(sheet.width - 1, 8))[:2]
        room = sheet.height - 1 - len(words)
        for number, text in enumerate(words):
            sheet.put(1, sheet.height - len(words) + number, text, Ink.CARE)
        if not marks:
            sheet.put(1, 1, "none yet: k keeps one"[: sheet.width - 1], Ink.SOFT)
            return
        each = 2 if 2 * len(marks) <= room else 1
        most = max(room // each, 1)
        at = next((place for place, mark in enumerate(marks) if mark.name == self.picked), 0)
        start = min(max(at - most // 2, 0), max(len(marks) - most, 0))
        chosen = matching.hold.name if matching.hold is not None else None
        for row, mark in enumerate(marks[start : start + most]):
            self._put(sheet, 1 + row * each, mark, mark.name == chosen, showing, each == 2)
        below = len(marks) - start - most
        if below > 0 and sheet.height > 2:
            sheet.put_right(sheet.width, 0, f" {start + most} of {len(marks)}", Ink.SOFT)

    def _put(self, sheet: Sheet, y: int, mark: HoldMark, chosen: bool, showing: Showing, both: bool) -> None:
        now = showing.snapshot.at
        picked = mark.name == self.picked
        if picked:
            sheet.put(0, y, ">" if sheet.ascii else "▶", Ink.SITTER)
        sheet.put(1, y, "●" if chosen else " ", Ink.AIM)
        told = age(mark.at, now)
        start = sheet.put_right(sheet.width, y, told, Ink.CARE if is_old(mark.at, now) else Ink.SOFT)
        ink = Ink.STRONG if picked or chosen else Ink.TEXT
        put_pieces(sheet, 3, y, max(start - 4, 1), [Piece(mark.name, ink, cut=True)])
        if both:
            put_pieces(sheet, 3, y + 1, sheet.width - 3, [Piece(mark.feed, Ink.SOFT, cut=True)])
