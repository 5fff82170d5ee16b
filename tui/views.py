"""What opens beside the main view: spots, line-up, the plan, the hold, alarms, what happened, help."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from textual.app import App
from textual.screen import Screen

from analysis.exposure.ghost import Ghost
from tui.bridge import Showing, WatchLike
from tui.journal_pages import JournalPages
from tui.look import Look
from tui.screens.alarms import AlarmsScreen
from tui.screens.decide import DecideScreen
from tui.screens.history import HistoryScreen
from tui.screens.lineup import LineupScreen
from tui.screens.live import LiveScreen
from tui.screens.manual import ManualScreen
from tui.screens.match import MatchScreen
from tui.screens.spots import SpotsScreen

if TYPE_CHECKING:
    _Base = App[None]
else:
    _Base = object


class Views(_Base):
    """The actions of the application that open a view over the main one."""

    look: Look
    showing: Showing | None
    pages: JournalPages
    pinned: Ghost | None
    notices: str
    _source: WatchLike

    def _draw_now(self) -> None:
        raise NotImplementedError

    def open_view(self, view: Screen[None], left: Callable[[], None] | None = None) -> None:
        """Show a view; once it is left, draw the main one anew."""

        def back(_: Any) -> None:
            if left is not None:
                left()
            self._draw_now()

        self.push_screen(view, back)
        self.call_after_refresh(self._draw_now)

    @property
    def _busy(self) -> bool:
        """Whether a view is open: its own keys count, and no second one is put on top by those of the main view."""
        return isinstance(self.screen, LiveScreen)

    def action_spots(self) -> None:
        """Open the placing of spots."""
        if not self._busy:
            spots = self.showing.snapshot.spots if self.showing is not None else ()
            self.open_view(SpotsScreen(self.look, spots, self._source.set_spots))

    def action_lineup(self) -> None:
        """Look for a line-up picture until the view is left."""
        if not self._busy:
            self._source.line_up(True)
            self.open_view(LineupScreen(self.look), lambda: self._source.line_up(False))

    def action_decide(self) -> None:
        """Plan what to move until the view is left."""

        def pin(ghost: Ghost | None) -> None:
            self.pinned = ghost

        if not self._busy:
            self.open_view(DecideScreen(self.look, self._source, pin, self.pinned is not None))

    def action_match(self) -> None:
        """Open the hold beside the live picture."""
        if not self._busy:
            self.open_view(MatchScreen(self.look, self._source))

    def action_alarms(self) -> None:
        """Open the list of alarms."""
        if not self._busy:
            self.open_view(AlarmsScreen(self.look, self._source, self.open_history, self.notices))

    def action_history(self) -> None:
        """Open what happened."""
        if not self._busy:
            self.open_history(None)

    def open_history(self, alarm: str | None) -> None:
        """What happened to one alarm, or everything."""
        self.open_view(HistoryScreen(self.look, self.pages, alarm))

    def action_manual(self) -> None:
        """Open help."""
        if not self._busy:
            self.open_view(ManualScreen(self.look))
