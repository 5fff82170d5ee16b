"""Matching: the live picture beside a hold, how far they lie apart, and what to move."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Container
from textual.widgets import Static

from analysis.model.errors import StopkeeperError
from analysis.model.hold import Matching
from analysis.settings.setup_files import usable_file_name
from tui.bridge import Showing, WatchLike
from tui.hold_words import called
from tui.look import Look
from tui.screens.ask import AskScreen
from tui.screens.forget import ForgetScreen
from tui.screens.live import PlanningScreen
from tui.widgets.alarms import AlarmsPanel
from tui.widgets.hold_list import HoldList
from tui.widgets.hold_picture import HoldPicture, LivePicture
from tui.widgets.match_moves import MatchCautions, MatchMoves, minded
from tui.widgets.match_table import POINTS, ROWS, MatchTable
from tui.widgets.status import StatusPanel

_KEYS = (
    "up down hold  Enter compare  k keep what is read now  x forget  v how pictures are shown  Escape back",
    "up down hold  Enter compare  k keep  x forget  v view  Escape back",
    "Enter compare  k keep  x forget  Esc back",
)
_TABLE = len(ROWS) + len(POINTS) + 3
"""Rows of the table with its heading, its scale and one line below."""
_LEAST_PICTURE = 5
"""Rows below which pictures are left out."""
_LEAST_MOVES = 5
_MOST_MINDED = 4
"""Rows that cautions take at most."""
_FRAME = 5
"""Rows of health, alarms and keys."""


class MatchScreen(PlanningScreen):
    """The chosen hold, and what to move to match it, told in terms of the controls."""

    BINDINGS = [
        Binding("escape,q,b", "back", show=False),
        Binding("up", "move(-1)", show=False, priority=True),
        Binding("down", "move(1)", show=False, priority=True),
        Binding("enter", "compare", show=False, priority=True),
        Binding("k", "keep", show=False),
        Binding("x,delete", "forget", show=False),
        Binding("v", "view", show=False),
    ]
    DEFAULT_CSS = """
    MatchScreen { layout: vertical; }
    MatchScreen StatusPanel { height: 2; }
    MatchScreen #match-top { layout: horizontal; }
    MatchScreen #match-low { height: 1fr; }
    MatchScreen LivePicture { margin: 0 0 0 1; }
    MatchScreen HoldList { margin: 0 0 0 1; }
    MatchScreen MatchCautions { height: 0; }
    MatchScreen AlarmsPanel { height: 2; }
    MatchScreen #match-keys { height: 1; color: $text-muted; padding: 0 1; }
    """

    def __init__(self, look: Look, watch: WatchLike) -> None:
        super().__init__(watch, "match")
        self._status, self._alarms = StatusPanel(look, "match-status"), AlarmsPanel(look, "match-alarms")
        self._hold, self._live = HoldPicture(look, "match-hold"), LivePicture(look, "match-live", look.table)
        self._list = HoldList(look, "match-list")
        self._table, self._moves = MatchTable(look, "match-table"), MatchMoves(look, "match-moves")
        self._minded, self._rows = MatchCautions(look, "match-minded"), 0
        self._keys = Static(_KEYS[0], id="match-keys", markup=False)
        self._top = Container(self._hold, self._live, self._list, id="match-top")
        self._low = Container(self._table, self._moves, id="match-low")
        self._showing: Showing | None = None
        self._chosen: str | None = None
        self._arranged: tuple[int, int, int, int] | None = None

    def compose(self) -> ComposeResult:
        """Health, the pictures and the list, the difference and what to move, what to mind, alarms, keys."""
        yield self._status
        yield self._top
        yield self._low
        yield self._minded
        yield self._alarms
        yield self._keys

    @property
    def picked(self) -> str | None:
        """The hold that the keys are on."""
        return self._list.picked

    def show(self, showing: Showing, picture: bool) -> None:
        """Draw one moment; the live picture only when asked."""
        self._showing = showing
        self._follow(showing.snapshot.matching or Matching())
        self._arrange(showing)
        for panel in (self._status, self._hold, self._list, self._table, self._moves, self._minded, self._alarms):
            panel.show(showing)
        if picture:
            self._live.show(showing)

    def _follow(self, matching: Matching) -> None:
        """The keys go to a hold that has just been chosen, and stay on one that there is."""
        chosen = matching.hold.name if matching.hold is not None else None
        if chosen is not None and chosen != self._chosen:
            self._list.picked = chosen
        self._chosen = chosen
        if self._list.picked not in matching.names:
            self._list.picked = matching.names[0] if matching.names else None

    def _arrange(self, showing: Showing) -> None:
        """Share the screen out: the table has its rows, pictures what is left and their width allows."""
        width, height = self.size
        view = showing.view
        across, down = (16, 9) if view is None else (view.small.shape[1], view.small.shape[0])
        size = (width, height)
        if self._arranged is None or self._arranged[:2] != size:
            self._rows = 0
        # Rows that were taken are not given back while the size stays: nothing jumps when a caution comes and goes.
        self._rows = max(self._rows, min(len(minded(showing, width)), _MOST_MINDED))
        wish = (*size, across * 1000 // max(down, 1), self._rows)
        if wish == self._arranged:
            return
        self._arranged = wish
        self._minded.styles.height = self._rows
        height -= self._rows
        aside = 0 if width < 64 else 26 if width < 110 else 32 if width < 170 else 40
        each = (width - aside - (2 if aside else 1)) // 2
        wanted = round(each * down / max(across, 1) / 2) + 2
        room = height - _FRAME - _TABLE
        top = min(wanted, room) if room >= _LEAST_PICTURE else 0
        self._top.display = top > 0
        self._top.styles.height = max(top, 1)
        for panel in (self._hold, self._live):
            panel.styles.width = each
        self._list.display = aside > 0
        self._list.styles.width = max(aside, 1)
        beside = width >= 74
        self._low.styles.layout = "horizontal" if beside else "vertical"
        self._table.styles.width = max(round(width * 0.56), 44) if beside else "100%"
        # One below the other, what to move keeps some lines: the last rows of the table give way.
        self._table.styles.height = "1fr" if beside else min(_TABLE, max(height - _FRAME - top - _LEAST_MOVES, 6))
        self._moves.styles.width = "1fr"
        self._moves.styles.margin = (0, 0, 0, 1 if beside else 0)
        self._keys.update(next((each for each in _KEYS if len(each) + 2 <= width), _KEYS[-1]))

    def _again(self, words: str = "") -> None:
        """Draw what is known now; ``words`` stand beneath the list until the next key."""
        self._list.words = words
        if self._showing is not None:
            self._list.show(self._showing)

    @property
    def _matching(self) -> Matching:
        found = self._showing.snapshot.matching if self._showing is not None else None
        return found or Matching()

    def action_back(self) -> None:
        """Return to the main view."""
        self.dismiss(None)

    def action_move(self, by: int) -> None:
        """The hold before or after."""
        names = self._matching.names
        if names:
            at = names.index(self._list.picked) if self._list.picked in names else 0
            self._list.picked = names[(at + by) % len(names)]
        self._again()

    def action_compare(self) -> None:
        """Compare with this hold; with the one that is compared already, end it."""
        name = self._list.picked
        if name is None:
            self._again("there is none yet: k keeps one")
            return
        ends = name == self._chosen
        self._watch.match_with(None if ends else name)
        self._again(f"no more against {name}" if ends else "")

    def action_keep(self) -> None:
        """Ask for a name and keep what is read now."""
        if self._showing is None or self._showing.reading is None:
            self._again("there is no picture to keep")
            return

        def keep(answer: str | None) -> None:
            if answer is not None:
                self._watch.keep_hold(" ".join(answer.split()) or None)

        question = "What is this hold to be called?"
        self.app.push_screen(
            AskScreen(question, "Enter keeps it, Escape goes back.", self._complaint, placeholder="made by itself"),
            keep,
        )

    def _complaint(self, answer: str) -> str | None:
        """What is wrong with a name; none at all is made by itself."""
        if not answer.strip():
            return None
        try:
            name = usable_file_name(answer, "hold")
        except StopkeeperError as error:
            return f"{error.what}: {error.todo}"
        if name.casefold() in {each.casefold() for each in self._matching.names}:
            return f"there is a hold {name} already: choose another name"
        return None

    def action_forget(self) -> None:
        """Ask, and forget this hold."""
        name = self._list.picked
        if name is None:
            return

        def forget(yes: bool | None) -> None:
            if yes:
                self._watch.drop_hold(name)

        self.app.push_screen(ForgetScreen(f"Forget {called(name)}?"), forget)

    def action_view(self) -> None:
        """Show both pictures for the eye, or as the signal comes."""
        self._live.see("signal" if self._live.seen == "eye" else "eye")
        self._hold.plain = self._live.seen == "signal"
        if self._showing is not None:
            self.show(self._showing, True)
