"""Help: every label, unit, mark and key of the screen, and what readings are not."""

from __future__ import annotations

from rich.table import Table
from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.widgets import Static

from tui.bridge import Showing
from tui.look import Look
from tui.screens.live import LiveScreen
from tui.screens.manual_text import SECTIONS
from tui.sheet import Sheet
from tui.widgets.alarms import AlarmsPanel
from tui.widgets.status import StatusPanel


class ManualText(Static):
    """The text itself, through the same door that makes everything plain ASCII where needed."""

    def __init__(self, look: Look) -> None:
        super().__init__(id="manual-text")
        self._ascii = look.glyphs == "ascii"

    def render(self) -> Table:
        """All sections, terms in one column and meanings beside them."""
        table = Table.grid(padding=(0, 2, 0, 0))
        table.add_column(no_wrap=True)
        table.add_column(ratio=1)
        for title, rows in SECTIONS:
            table.add_row(Text(title, "bold underline"), "")
            for term, meaning in rows:
                table.add_row(Text(f"  {self._plain(term)}", "bold"), Text(self._plain(meaning)))
            table.add_row("", "")
        return table

    def _plain(self, line: str) -> str:
        sheet = Sheet(len(line), 1, self._ascii)
        sheet.put(0, 0, line)
        return sheet.lines()[0]


class ManualScreen(LiveScreen):
    """Help over the full screen, with feed health and alarms still on top of it."""

    BINDINGS = [Binding("escape,question_mark,f1,q", "back", "Back", show=False)]
    DEFAULT_CSS = """
    ManualScreen { layout: vertical; }
    ManualScreen StatusPanel { height: 2; }
    ManualScreen AlarmsPanel { height: 4; }
    ManualScreen VerticalScroll { height: 1fr; padding: 0 1; }
    """

    def __init__(self, look: Look) -> None:
        super().__init__(id="manual")
        self._look = look
        self._panels = (StatusPanel(look, "manual-status"), AlarmsPanel(look, "manual-alarms"))

    def compose(self) -> ComposeResult:
        """Health and alarms stay, help scrolls beneath them."""
        yield from self._panels
        with VerticalScroll(can_focus=True):
            yield ManualText(self._look)
        yield Static("Escape or ? goes back, arrows scroll", id="manual-keys")

    def show(self, showing: Showing, picture: bool) -> None:
        """Keep the lines that must not go stale up to date."""
        for panel in self._panels:
            panel.show(showing)

    def action_back(self) -> None:
        """Return to the main view."""
        self.dismiss(None)
