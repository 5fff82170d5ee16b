"""The line-up view: is the chain from camera to program true, and if not, what is to be set."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Static

from tui.bridge import Showing
from tui.look import Look
from tui.screens.live import LiveScreen
from tui.widgets.alarms import AlarmsPanel
from tui.widgets.lineup import LineupPanel
from tui.widgets.status import StatusPanel


class LineupScreen(LiveScreen):
    """The verdict over the full screen, with feed health and alarms still in sight."""

    BINDINGS = [Binding("escape,l,q", "back", "Back", show=False)]
    DEFAULT_CSS = """
    LineupScreen { layout: vertical; }
    LineupScreen StatusPanel { height: 2; }
    LineupScreen LineupPanel { height: 1fr; }
    LineupScreen AlarmsPanel { height: 2; }
    LineupScreen #lineup-keys { height: 1; color: $text-muted; padding: 0 1; }
    """

    def __init__(self, look: Look) -> None:
        super().__init__(id="lineup")
        self._panels = (
            StatusPanel(look, "lineup-status"),
            LineupPanel(look, "lineup-found"),
            AlarmsPanel(look, "lineup-alarms"),
        )

    def compose(self) -> ComposeResult:
        """Health, the verdict, alarms, one line of help."""
        yield from self._panels
        yield Static("Escape or l goes back. It looks twice a second.", id="lineup-keys")

    def show(self, showing: Showing, picture: bool) -> None:
        """Draw the newest result."""
        for panel in self._panels:
            panel.show(showing)

    def action_back(self) -> None:
        """Return to the main view."""
        self.dismiss(None)
