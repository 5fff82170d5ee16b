"""The chosen way in sentences, across the whole width: what is missing, what to move, why, and what to mind."""

from __future__ import annotations

from tui.bridge import Showing
from tui.look import Look
from tui.palette import Ink
from tui.sheet import Sheet
from tui.way_words import why_lines
from tui.widgets.panel import Panel


class WhyPanel(Panel):
    """As many lines as there are; cautions come before all else where there is too little room."""

    def __init__(self, look: Look, name: str) -> None:
        super().__init__(look, name)
        self.chosen = 0
        self.full = False

    def draw(self, sheet: Sheet, showing: Showing) -> None:
        """Lines from the top; dim where the picture is late."""
        planning = showing.snapshot.planning
        if planning is None or showing.reading is None:
            return
        lines = why_lines(planning, self.chosen, sheet.width - 2, self.full)
        if len(lines) > sheet.height:
            lines = why_lines(planning, self.chosen, sheet.width - 2, False)
        over = len(lines) - sheet.height
        if over > 0:
            # What has to be minded stays; the reason gives way to it.
            kept = [number for number, (_, ink) in enumerate(lines) if ink != Ink.CARE][-over:]
            lines = [line for number, line in enumerate(lines) if number not in kept]
        for y, (text, ink) in enumerate(lines[: sheet.height]):
            late = showing.trust == "mind" and ink != Ink.CARE
            sheet.put(1, y, text, Ink.STALE if late else ink)
