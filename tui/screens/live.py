"""A screen beside the main view that goes on showing the watch."""

from __future__ import annotations

from textual.screen import Screen

from tui.bridge import Showing, WatchLike


class LiveScreen(Screen[None]):
    """Feed health and alarms stay on it; the application hands it every moment."""

    def show(self, showing: Showing, picture: bool) -> None:
        """Draw one moment; the picture only when asked."""
        raise NotImplementedError


class PlanningScreen(LiveScreen):
    """A view of what to move: the watch plans for as long as it is open."""

    def __init__(self, watch: WatchLike, name: str) -> None:
        """``name`` is the id it is styled by."""
        super().__init__(id=name)
        self._watch = watch

    def on_mount(self) -> None:
        """Begin planning."""
        self._watch.plan(True)

    def on_unmount(self) -> None:
        """End planning, however the view was left."""
        self._watch.plan(False)
