"""The enlarged picture on which spots are placed and moved with the mouse."""

from __future__ import annotations

from textual.events import MouseDown, MouseMove, MouseUp
from textual.message import Message

from analysis.model.sitter import Spot
from tui.bridge import Showing
from tui.look import Look
from tui.widgets.picture import PicturePanel

Point = tuple[float, float]


class SpotPicture(PicturePanel):
    """Frames the spots that are being edited; the mouse is told as places in fractions of the picture."""

    class Pressed(Message):
        """The button went down at a place."""

        def __init__(self, at: Point) -> None:
            super().__init__()
            self.at = at

    class Dragged(Message):
        """The pointer went on from one place to another with the button down; ``done`` when it was let go."""

        def __init__(self, start: Point, before: Point, now: Point, done: bool) -> None:
            super().__init__()
            self.start, self.before, self.now, self.done = start, before, now, done

    def __init__(self, look: Look, name: str) -> None:
        super().__init__(look, name)
        self.edited: tuple[Spot, ...] = ()
        self._start: Point | None = None
        self._before: Point | None = None

    def spots(self, showing: Showing) -> tuple[Spot, ...]:
        """Those being edited: the watch may be a moment behind."""
        return self.edited

    def on_mouse_down(self, event: MouseDown) -> None:
        """Begin."""
        at = self._point(event.x, event.y)
        if at is not None and event.button == 1:
            self._start = self._before = at
            self.capture_mouse()
            self.post_message(self.Pressed(at))

    def on_mouse_move(self, event: MouseMove) -> None:
        """Go on."""
        self._drag(event.x, event.y, False)

    def on_mouse_up(self, event: MouseUp) -> None:
        """Let go."""
        self.release_mouse()
        self._drag(event.x, event.y, True)
        self._start = self._before = None

    def _drag(self, x: float, y: float, done: bool) -> None:
        now = self._point(x, y, within=False)
        if self._start is None or self._before is None or now is None:
            return
        self.post_message(self.Dragged(self._start, self._before, now, done))
        self._before = now

    def _point(self, x: float, y: float, within: bool = True) -> Point | None:
        """The place under a cell, in fractions; None off the picture, or the nearest place on it."""
        place = self.place
        if place is None:
            return None
        across, down = (x + 0.5 - place.x) / place.width, (y + 0.5 - place.y) / place.height
        if within and not (0.0 <= across <= 1.0 and 0.0 <= down <= 1.0):
            return None
        return min(max(across, 0.0), 1.0), min(max(down, 0.0), 1.0)
