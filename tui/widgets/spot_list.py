"""The spots beside the picture on which they are edited: kind, name and reading of each."""

from __future__ import annotations

import textwrap

from analysis.model.sitter import Spot
from tui.bridge import Showing
from tui.look import Look
from tui.palette import Ink
from tui.sheet import Sheet
from tui.widgets.blocks.block import Told
from tui.widgets.blocks.spots import put_spot
from tui.widgets.panel import Panel


class SpotList(Panel):
    """Two lines a spot; the one that the keys change is marked."""

    def __init__(self, look: Look, name: str) -> None:
        super().__init__(look, name)
        self.edited: tuple[Spot, ...] = ()
        self.picked: str | None = None
        self.words = ""

    def draw(self, sheet: Sheet, showing: Showing) -> None:
        """The spots, then what was refused last."""
        told = Told(showing, sheet.width)
        sheet.rule(0, "SPOTS", f"{len(self.edited)}" if self.edited else "", Ink.STRONG)
        y = 1
        if not self.edited:
            sheet.put(1, y, "none yet: n, or drag", Ink.SOFT)
        each = 2 if len(self.edited) * 2 + 3 <= sheet.height else 1
        for spot in self.edited:
            if y >= sheet.height - 1:
                break
            chosen = spot.name == self.picked
            sheet.put(0, y, "▶" if chosen and not sheet.ascii else ">" if chosen else " ", Ink.SITTER)
            put_spot(sheet, 1, y, sheet.width - 1, spot, told)
            if each == 2:
                sheet.put(4, y + 1, kind_words(spot), Ink.SOFT)
            y += each
        rows = textwrap.wrap(self.words, max(sheet.width, 8))
        for number, row in enumerate(rows):
            below = sheet.height - len(rows) + number
            if below > 0:
                sheet.fill(0, below, sheet.width, 1, " ", Ink.TEXT)
                sheet.put(0, below, row, Ink.CARE)


def kind_words(spot: Spot) -> str:
    """What a kind means.

    >>> kind_words(Spot(name="lamp", kind="let go", x=0, y=0, width=1, height=1))
    'let go: may clip'
    """
    return {"watch": "watch: read it", "let go": "let go: may clip", "background": "background"}[spot.kind]
