"""Placing spots: on an enlarged picture, with keys or the mouse."""

from __future__ import annotations

from collections.abc import Callable

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal
from textual.widgets import Static

from analysis.measure import spot_edit
from analysis.model.errors import UsageError
from analysis.model.sitter import Spot
from tui.bridge import Showing
from tui.look import Look
from tui.screens.live import LiveScreen
from tui.screens.rename import RenameScreen
from tui.widgets.alarms import AlarmsPanel
from tui.widgets.spot_list import SpotList
from tui.widgets.spot_picture import SpotPicture
from tui.widgets.status import StatusPanel

STEP = 0.01
"""How far a key moves or grows a spot, in fractions of the picture."""
_DRAG = 0.02
"""A drag shorter than this in both directions is a click."""
_KEYS = (
    "n new  tab next  arrows move  shift+arrows size  g grow  s shrink  k kind  r rename  d delete  v view  Escape back"
)


class SpotsScreen(LiveScreen):
    """Every change goes to the watch at once, so that its reading is seen while it is made.

    ``send`` takes the spots whenever they change.
    """

    BINDINGS = [
        Binding("escape,q", "back", show=False),
        Binding("n", "new", show=False),
        Binding("tab", "next", show=False, priority=True),
        Binding("k", "kind", show=False),
        Binding("r", "rename", show=False),
        Binding("d,delete", "delete", show=False),
        Binding("g,plus", "grow(1, 1)", show=False),
        Binding("s,minus", "grow(-1, -1)", show=False),
        Binding("v", "view", show=False),
        *(
            Binding(key, f"{action}({right}, {down})", show=False, priority=True)
            for name, right, down in (("left", -1, 0), ("right", 1, 0), ("up", 0, -1), ("down", 0, 1))
            for key, action in ((name, "move"), (f"shift+{name}", "grow"))
        ),
    ]
    DEFAULT_CSS = """
    SpotsScreen { layout: vertical; }
    SpotsScreen StatusPanel { height: 2; }
    SpotsScreen Horizontal { height: 1fr; }
    SpotsScreen SpotPicture { width: 1fr; }
    SpotsScreen SpotList { width: 32; margin: 0 0 0 2; }
    SpotsScreen AlarmsPanel { height: 2; }
    SpotsScreen #spots-keys { height: auto; max-height: 2; color: $text-muted; padding: 0 1; }
    """

    def __init__(self, look: Look, spots: tuple[Spot, ...], send: Callable[[tuple[Spot, ...]], None]) -> None:
        super().__init__(id="spots")
        self.spots = spots
        self.picked = spots[0].name if spots else None
        self._send = send
        self._moving: str | None = None
        self.picture = SpotPicture(look, "spots-picture")
        self._list = SpotList(look, "spots-list")
        self._status, self._alarms = StatusPanel(look, "spots-status"), AlarmsPanel(look, "spots-alarms")
        self._showing: Showing | None = None

    def compose(self) -> ComposeResult:
        """Health, picture and list, alarms, keys."""
        yield self._status
        with Horizontal():
            yield self.picture
            yield self._list
        yield self._alarms
        yield Static(_KEYS, id="spots-keys")

    def show(self, showing: Showing, picture: bool) -> None:
        """Draw one moment."""
        self._showing = showing
        for panel in (self._status, self._list, self._alarms):
            self._tell(panel)
            panel.show(showing)
        if picture:
            self._tell(self.picture)
            self.picture.show(showing)

    def _tell(self, panel: object) -> None:
        if isinstance(panel, (SpotPicture, SpotList)):
            panel.edited, panel.picked = self.spots, self.picked

    def _change(self, edit: Callable[[], tuple[Spot, ...]], pick: str | None = None) -> None:
        """Carry out an edit, or say why not."""
        try:
            changed = edit()
        except UsageError as error:
            self._list.words = error.what
        else:
            self._list.words = ""
            known = {spot.name for spot in self.spots}
            fresh = [spot.name for spot in changed if spot.name not in known]
            self.spots = changed
            names = {spot.name for spot in changed}
            self.picked = pick or (fresh[0] if fresh else self.picked if self.picked in names else None)
            if self.picked is None and changed:
                self.picked = changed[0].name
            self._send(changed)
        if self._showing is not None:
            self.show(self._showing, True)

    def action_back(self) -> None:
        """Return to the main view."""
        self.dismiss(None)

    def action_new(self) -> None:
        """A spot in the middle."""
        self._change(lambda: spot_edit.place(self.spots, None, "watch", 0.4, 0.4, 0.2, 0.2))

    def action_next(self) -> None:
        """Go to the next spot."""
        following = spot_edit.after(self.spots, self.picked)
        self.picked = following.name if following is not None else None
        if self._showing is not None:
            self.show(self._showing, True)

    def action_move(self, right: int, down: int) -> None:
        """Move the chosen spot a step."""
        if self.picked is not None:
            name = self.picked
            self._change(lambda: spot_edit.move(self.spots, name, right * STEP, down * STEP))

    def action_grow(self, wider: int, taller: int) -> None:
        """Make the chosen spot larger or smaller."""
        if self.picked is not None:
            name = self.picked
            self._change(lambda: spot_edit.grow(self.spots, name, wider * 2 * STEP, taller * 2 * STEP))

    def action_kind(self) -> None:
        """The next kind: watch, let go, background."""
        if self.picked is not None:
            spot = spot_edit.find(self.spots, self.picked)
            self._change(lambda: spot_edit.turn_into(self.spots, spot.name, spot_edit.next_kind(spot.kind)))

    def action_delete(self) -> None:
        """Remove the chosen spot."""
        if self.picked is not None:
            name = self.picked
            self._change(lambda: spot_edit.remove(self.spots, name))

    def action_view(self) -> None:
        """Show the picture another way."""
        self.picture.see_next()
        if self._showing is not None:
            self.show(self._showing, True)

    def action_rename(self) -> None:
        """Ask for another name."""
        if self.picked is None:
            return
        old = self.picked

        def rename(new: str | None) -> None:
            if new is not None and new != old:
                word = " ".join(new.split())
                self._change(lambda: spot_edit.rename(self.spots, old, new), pick=word)

        self.app.push_screen(RenameScreen(old), rename)

    def on_spot_picture_pressed(self, message: SpotPicture.Pressed) -> None:
        """Choose the spot under the pointer; a drag from there moves it, from anywhere else it draws a new one."""
        hit = spot_edit.at(self.spots, *message.at)
        self._moving = hit.name if hit is not None else None
        if hit is not None:
            self.picked = hit.name
            if self._showing is not None:
                self.show(self._showing, True)

    def on_spot_picture_dragged(self, message: SpotPicture.Dragged) -> None:
        """Move the spot that was pressed, or draw a new one when the button is let go."""
        (x, y), (before_x, before_y) = message.now, message.before
        if self._moving is not None:
            name = self._moving
            if (x, y) != (before_x, before_y):
                self._change(lambda: spot_edit.move(self.spots, name, x - before_x, y - before_y))
        elif message.done and max(abs(x - message.start[0]), abs(y - message.start[1])) >= _DRAG:
            self._change(lambda: spot_edit.place_between(self.spots, None, "watch", message.start, message.now))
