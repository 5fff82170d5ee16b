"""The history view: what happened, from the journal, page by page, and never waiting for a disk."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Static

from analysis.journal.entry import JournalEntry
from analysis.model.alarm import AlarmChange
from tui.bridge import Showing
from tui.journal_pages import PAGE, JournalPages, Page
from tui.look import Look
from tui.screens.live import LiveScreen
from tui.widgets.alarms import AlarmsPanel, moment
from tui.widgets.history_list import HistoryList
from tui.widgets.status import StatusPanel

MOST = 2000
"""Entries kept for the screen; what is older is for ``stopkeeper history``."""
AGAIN_SECONDS = 2.0
"""How often the newest page is looked at."""
PATIENCE_SECONDS = 3.0
"""A read that takes longer is told on the screen."""
_SCREENFUL = 15


class HistoryScreen(LiveScreen):
    """Everything that happened, or with ``alarm`` what happened to one alarm."""

    BINDINGS = [
        Binding("escape,q,j", "back", "Back", show=False),
        *(
            Binding(key, f"pick({step})", show=False, priority=True)
            for key, step in (("up", -1), ("down", 1), ("pageup", -_SCREENFUL), ("pagedown", _SCREENFUL))
        ),
        Binding("home", f"pick({-MOST})", show=False),
        Binding("end", f"pick({MOST})", show=False),
        Binding("f", "only", show=False),
    ]
    DEFAULT_CSS = """
    HistoryScreen { layout: vertical; }
    HistoryScreen StatusPanel { height: 2; }
    HistoryScreen HistoryList { height: 1fr; }
    HistoryScreen AlarmsPanel { height: 2; }
    HistoryScreen #history-keys { height: 1; color: $text-muted; padding: 0 1; }
    """

    def __init__(self, look: Look, pages: JournalPages, alarm: str | None = None) -> None:
        super().__init__(id="history")
        self._pages = pages
        self._status, self._alarms = StatusPanel(look, "history-status"), AlarmsPanel(look, "history-alarms")
        self.list = HistoryList(look, "history-list")
        self.list.alarm = alarm
        self._fault: str | None = None
        self._loaded = False
        self._asked: float | None = None
        self._showing: Showing | None = None

    def compose(self) -> ComposeResult:
        """Health, the entries, alarms, keys."""
        yield self._status
        yield self.list
        yield self._alarms
        keys = "up down older and newer  f only this alarm, and everything again  Escape back"
        yield Static(keys, id="history-keys", markup=False)

    def show(self, showing: Showing, picture: bool) -> None:
        """Take what was read, have read what is wanted, draw."""
        self._showing = showing
        page = self._pages.answer()
        if page is not None and page.alarm == self.list.alarm:
            self._take(page)
        self._ask(moment(showing))
        self.list.words = self._words()
        for panel in (self._status, self.list, self._alarms):
            panel.show(showing)

    def _ask(self, now: float) -> None:
        entries, alarm = self.list.entries, self.list.alarm
        if self._asked is None or not 0.0 <= now - self._asked < AGAIN_SECONDS:
            if self._pages.ask(alarm):
                self._asked = now
        elif self._loaded and not self.list.ended and self.list.near_end and 0 < len(entries) < MOST:
            self._pages.ask(alarm, entries[-1].sequence)

    def _take(self, page: Page) -> None:
        self._fault = page.fault
        if page.fault is not None:
            return
        self._loaded = True
        read: tuple[JournalEntry, ...] = tuple(reversed(page.entries))
        known = self.list.entries
        if page.before is not None:
            if known and page.before == known[-1].sequence:
                self.list.entries = (*known, *read)[:MOST]
                self.list.ended = page.first
            return
        fresh = tuple(entry for entry in read if not known or entry.sequence > known[0].sequence)
        if known and len(fresh) == PAGE:
            known = ()  # more came than one page holds: what lies between would be missing
        if not known:
            self.list.ended = page.first
        self.list.entries = (*fresh, *known)[:MOST]
        if self.list.picked > 0:
            self.list.pick(len(fresh))  # the picked entry stays picked; at the newest one the newest stays picked

    def _words(self) -> tuple[str, ...]:
        if not self._pages.kept:
            return (
                f"Nothing is written down: {self._pages.why or 'there is no journal'}.",
                "What the alarms still know of this session:",
            )
        if self._fault is not None:
            return (self._fault,)
        waited = self._pages.waiting
        if waited is not None and waited > PATIENCE_SECONDS:
            return (f"the journal has not answered for {waited:.0f} s; the disk may be busy or gone",)
        if not self.list.entries:
            return ("nothing has happened yet",) if self._loaded else ("reading the journal",)
        if len(self.list.entries) >= MOST and self.list.near_end:
            return ("older entries: stopkeeper history --last N",)
        return ()

    def _draw(self) -> None:
        if self._showing is not None:
            self.show(self._showing, False)

    def action_back(self) -> None:
        """Return to where it was opened."""
        self.dismiss(None)

    def action_pick(self, step: int) -> None:
        """Another entry."""
        self.list.pick(step)
        self._draw()

    def action_only(self) -> None:
        """Only the alarm of the picked entry, or everything again."""
        entry = self.list.entries[self.list.picked] if self.list.entries else None
        if self.list.alarm is not None:
            self.list.alarm = None
        elif entry is not None and isinstance(entry.what, AlarmChange):
            self.list.alarm = entry.what.alarm
        else:
            return
        self.list.entries, self.list.picked, self.list.ended = (), 0, False
        self._loaded, self._asked, self._fault = False, None, None
        self._draw()
