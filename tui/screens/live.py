"""A screen beside the main view that goes on showing the watch."""

from __future__ import annotations

from textual.screen import Screen

from tui.bridge import Showing


class LiveScreen(Screen[None]):
    """Feed health and alarms stay on it; the application hands it every moment."""

    def show(self, showing: Showing, picture: bool) -> None:
        """Draw one moment; the picture only when asked."""
        raise NotImplementedError
