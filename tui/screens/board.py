"""The main view: panels laid out for the size of the terminal."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.geometry import NULL_OFFSET, Region, Size, Spacing
from textual.layout import ArrangeResult, Layout, WidgetPlacement
from textual.screen import Screen
from textual.widget import Widget

from analysis.signal.tables import LookUpTable
from tui.arrange import Choice, arrange, stops_shown, trace_kind
from tui.bridge import Showing
from tui.look import Look
from tui.widgets.alarms import AlarmsPanel
from tui.widgets.keys import KeysPanel
from tui.widgets.mini import MiniPanel
from tui.widgets.numbers import NumbersPanel
from tui.widgets.panel import Panel
from tui.widgets.picture import PicturePanel
from tui.widgets.status import StatusPanel
from tui.widgets.stops import StopsPanel
from tui.widgets.timeline import TimelinePanel
from tui.widgets.trace import PartsPanel, TracePanel

PICTURES = ("trace", "parts")
"""Panels that may be drawn less often than the rest: they cost most of the bytes."""


class BoardLayout(Layout):
    """Places widgets by name where ``arrange`` says; a widget it does not name is not shown."""

    name = "board"

    def __init__(self) -> None:
        self.choice = Choice()

    def arrange(self, parent: Widget, children: list[Widget], size: Size, greedy: bool = True) -> ArrangeResult:
        """The placements for one size."""
        boxes = {str(name): box for name, box in arrange(size.width, size.height, self.choice).items()}
        return [
            WidgetPlacement(Region(*boxes[child.id]), NULL_OFFSET, Spacing(), child)
            for child in children
            if child.id in boxes
        ]


class Board(Widget):
    """All panels of the main view."""

    DEFAULT_CSS = """
    Board { width: 1fr; height: 1fr; }
    """

    def __init__(self, look: Look, table: LookUpTable | None = None) -> None:
        super().__init__(id="board")
        self._look = look
        self._board_layout = BoardLayout()
        self._board_layout.choice = Choice(picture=look.picture)
        self._picture = PicturePanel(look, "picture", table)
        self.panels: dict[str, Panel] = {
            "status": StatusPanel(look, "status"),
            "trace": TracePanel(look, "trace"),
            "parts": PartsPanel(look, "parts"),
            "numbers": NumbersPanel(look, "numbers"),
            "timeline": TimelinePanel(look, "timeline"),
            "picture": self._picture,
            "stops": StopsPanel(look, "stops"),
            "alarms": AlarmsPanel(look, "alarms"),
            "keys": KeysPanel(look, "keys"),
            "mini": MiniPanel(look, "mini"),
        }

    def compose(self) -> ComposeResult:
        """All panels; the layout decides which are placed."""
        yield from self.panels.values()

    @property
    def layout(self) -> Layout:
        """Our own layout: style sheets know only the library's."""
        return self._board_layout

    @property
    def choice(self) -> Choice:
        """What the operator has chosen to see."""
        return self._board_layout.choice

    def choose(self, choice: Choice) -> None:
        """Arrange anew for another choice."""
        self._board_layout.choice = choice
        self._clear_arrangement_cache()
        self.refresh(layout=True)

    def next_trace(self) -> Choice:
        """The choice with the next kind of trace: luma, R G B, both."""
        shown = trace_kind(self.size.width, self.size.height, self.choice)
        following = {"luma": "rgb", "rgb": "both", "both": "luma"}
        return self.choice._replace(trace=following[shown])  # type: ignore[arg-type]

    def other_stops(self) -> Choice:
        """The choice with the picture in stops shown where it is hidden, and hidden where it is shown."""
        shown = stops_shown(self.size.width, self.size.height, self.choice)
        return self.choice._replace(stops=not shown)

    def next_seen(self) -> None:
        """Show the picture the next way, and show it at all."""
        if self.choice.picture:
            self._picture.see_next()
        else:
            self.choose(self.choice._replace(picture=True))

    def show(self, showing: Showing, traces: bool, picture: bool) -> None:
        """Draw one moment; the traces and the small picture only when asked."""
        for name, panel in self.panels.items():
            if (name in PICTURES and not traces) or (name == "picture" and not picture):
                continue
            panel.show(showing)


class BoardScreen(Screen[None]):
    """The screen that holds the board."""

    def __init__(self, look: Look, table: LookUpTable | None = None) -> None:
        super().__init__(id="main")
        self.board = Board(look, table)

    def compose(self) -> ComposeResult:
        """Only the board."""
        yield self.board
