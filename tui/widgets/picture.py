"""The small picture: to know which shot the numbers are of, nothing more."""

from __future__ import annotations

from tui.bridge import Showing
from tui.cells import PictureCells, fit
from tui.look import Look
from tui.palette import Ink
from tui.sheet import Sheet
from tui.widgets.panel import Panel


class PicturePanel(Panel):
    """The picture in greys, as large as its proportions allow."""

    def __init__(self, look: Look, name: str) -> None:
        super().__init__(look, name)
        self._cells = PictureCells(look.glyphs, greys=look.colours in {"full", "256", "auto"})

    def draw(self, sheet: Sheet, showing: Showing) -> None:
        """The picture under a heading; nothing at all when there is no picture to vouch for."""
        view = showing.view
        stale = showing.trust == "mind"
        note = f" {showing.banner[0]} " if stale and showing.banner else ""
        sheet.rule(0, "PICTURE", note, Ink.STRONG, Ink.CARE)
        if view is None:
            self._cells.forget()
            text = "no picture"
            sheet.put((sheet.width - len(text)) // 2, sheet.height // 2, text, Ink.SOFT)
            return
        height, width = view.small.shape[:2]
        columns, rows = fit(width, height, sheet.width, sheet.height - 1)
        if columns < 2 or rows < 1:
            return
        codes, inks = self._cells.draw(view.small, columns, rows)
        sheet.block((sheet.width - columns) // 2, 1, codes, inks)
