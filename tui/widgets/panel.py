"""The base of every panel: draws a sheet, and asks Textual only for the rows that changed."""

from __future__ import annotations

from rich.segment import Segment
from rich.style import Style
from textual.events import Resize
from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget

from tui.bridge import Showing
from tui.look import Look
from tui.palette import style_of
from tui.sheet import Sheet


class Panel(Widget):
    """A widget of plain cells. Subclasses draw; what did not change is never sent."""

    DEFAULT_CSS = """
    Panel { width: 1fr; height: 1fr; }
    """
    can_focus = False

    def __init__(self, look: Look, name: str) -> None:
        super().__init__(id=name)
        self.look = look
        self._sheet: Sheet | None = None
        self._showing: Showing | None = None
        self._base = Style()
        self._inks: dict[int, Style] | None = None

    def draw(self, sheet: Sheet, showing: Showing) -> None:
        """Draw one moment on an empty sheet."""
        raise NotImplementedError

    def show(self, showing: Showing) -> None:
        """Take a new moment and refresh the rows that look different."""
        self._showing = showing
        width, height = self.size
        if not width or not height:
            return
        sheet = Sheet(width, height, self.look.glyphs == "ascii")
        self.draw(sheet, showing)
        rows = sheet.changed_rows(self._sheet)
        self._sheet = sheet
        if rows:
            self.refresh(*(Region(0, row, width, 1) for row in rows))

    def on_resize(self, event: Resize) -> None:
        """Draw again at the new size."""
        if self._showing is not None:
            self.show(self._showing)

    def text_lines(self) -> list[str]:
        """What the panel shows, as text."""
        return self._sheet.lines() if self._sheet else []

    def notify_style_update(self) -> None:
        """The theme or a style rule changed: styles are made anew."""
        super().notify_style_update()
        self._inks = None

    def _ink_styles(self) -> dict[int, Style]:
        if self._inks is None:
            # Asking for the inherited style walks up the tree, too much to do for every stretch of cells.
            self._base, self._inks = self.rich_style, {}
        return self._inks

    def run_style(self, ink: int) -> Style:
        """The style of a stretch of cells."""
        styles = self._ink_styles()
        if ink not in styles:
            styles[ink] = self._base + style_of(ink, self.look.colours, self.look.glyphs)
        return styles[ink]

    def render_line(self, y: int) -> Strip:
        """One row of the sheet as a strip."""
        sheet = self._sheet
        width = self.size.width
        self._ink_styles()
        if sheet is None or y >= sheet.height:
            return Strip.blank(width, self._base)
        segments = [Segment(text, self.run_style(ink)) for text, ink in sheet.runs(y)]
        return Strip(segments, sheet.width).adjust_cell_length(width, self._base)
