"""What happened, the newest first: times, what it is about, what it was; one entry picked and told in full."""

from __future__ import annotations

import textwrap

from textual.events import Click

from analysis.journal.entry import JournalEntry
from analysis.model.alarm import AlarmStatus
from tui.bridge import Showing
from tui.journal_words import ago, entry_words, short_time, time_of_day
from tui.look import Look
from tui.palette import Ink
from tui.sheet import Sheet
from tui.widgets.panel import Panel
from tui.widgets.pieces import Piece, put_pieces
from tui.wording import alarm_state, clock

_TIME, _AGO_END, _ABOUT = 2, 25, 27
_TEXT = 43
_DETAIL_ROWS = 4


class HistoryList(Panel):
    """Draws the entries it is given, oldest last; where there are none, ``words`` says why."""

    def __init__(self, look: Look, name: str) -> None:
        super().__init__(look, name)
        self.entries: tuple[JournalEntry, ...] = ()
        self.alarm: str | None = None
        self.words: tuple[str, ...] = ()
        self.ended = False
        self.picked = 0
        self._first = 0
        self._rows: dict[int, int] = {}

    @property
    def near_end(self) -> bool:
        """Whether older entries will soon be wanted."""
        return max(self.picked, self._first) + self.size.height >= len(self.entries)

    def pick(self, step: int) -> None:
        """Pick the entry so many places older, or newer."""
        self.picked = min(max(self.picked + step, 0), max(len(self.entries) - 1, 0))

    def on_click(self, event: Click) -> None:
        """The mouse picks as well."""
        if event.y in self._rows and self._showing is not None:
            self.picked = self._rows[event.y]
            self.show(self._showing)

    def draw(self, sheet: Sheet, showing: Showing) -> None:
        """The entries, then the picked one in full, then what there is to say about all of them."""
        note = f"only {self.alarm}" if self.alarm else "everything"
        count = f"{len(self.entries)} entries" if self.ended else f"the newest {len(self.entries)}"
        sheet.rule(0, "HISTORY", f"{note}, {count}" if self.entries else note, Ink.STRONG, Ink.SOFT)
        self._rows = {}
        now = showing.snapshot.at.utc + showing.unheard
        detail = self._detail(sheet.width, now)[:_DETAIL_ROWS] if sheet.height > 2 * _DETAIL_ROWS else []
        said = [row for text in self.words for row in textwrap.wrap(text, max(sheet.width - 2, 8))]
        room = max(sheet.height - 1 - len(detail) - (len(said) if self.entries else 0), 1)
        if not self.entries:
            self._put_without(sheet, said, showing)
            return
        self._first = min(max(self._first, self.picked - room + 1, 0), self.picked)
        shown = self.entries[self._first : self._first + room]
        for place, entry in enumerate(shown):
            self._put(sheet, 1 + place, entry, now, self._first + place == self.picked)
            self._rows[1 + place] = self._first + place
        below = [*((row, Ink.CARE) for row in said), *((row, Ink.TEXT) for row in detail)]
        for place, (row, ink) in enumerate(below):
            y = min(sheet.height - len(below), 1 + len(shown) + (len(shown) < room)) + place
            sheet.put(1, y, row, ink)

    def _put(self, sheet: Sheet, y: int, entry: JournalEntry, now: float, picked: bool) -> None:
        words = entry_words(entry)
        if picked:
            sheet.put(0, y, "▶", Ink.SITTER)
        sheet.put(_TIME, y, short_time(entry.at.utc, now), Ink.STRONG if picked else Ink.TEXT)
        sheet.put_right(_AGO_END, y, ago(entry.at.utc, now), Ink.SOFT)
        sheet.put(_ABOUT, y, f"{words.glyph} {words.about[: _TEXT - _ABOUT - 3]}", words.ink)
        put_pieces(sheet, _TEXT, y, sheet.width - _TEXT - 1, [Piece(words.text, words.ink, 1, cut=True)])

    def _detail(self, width: int, now: float) -> list[str]:
        if not self.entries:
            return []
        entry = self.entries[min(self.picked, len(self.entries) - 1)]
        words = entry_words(entry)
        when = f"{time_of_day(entry.at.utc, now)}, {ago(entry.at.utc, now)}, entry {entry.sequence}"
        lines = textwrap.wrap(f"{when}, session {entry.session}: {words.about}: {words.text}", max(width - 2, 8))
        return lines + [""] * (2 - len(lines))

    def _put_without(self, sheet: Sheet, said: list[str], showing: Showing) -> None:
        """Why there is nothing, and what the alarms themselves still know."""
        for place, row in enumerate(said):
            sheet.put(1, 1 + place, row, Ink.CARE)
        y = 2 + len(said)
        risen = [alarm for alarm in showing.snapshot.alarms if alarm.occurrence and self.alarm in (None, alarm.alarm)]
        for alarm in sorted(risen, key=lambda alarm: -alarm.since.monotonic):
            sheet.put(1, y, _known(alarm, showing), Ink.TEXT)
            y += 1


def _known(alarm: AlarmStatus, showing: Showing) -> str:
    since = clock(max(showing.snapshot.at.since(alarm.since), 0.0) + showing.unheard)
    return f"{alarm.alarm}: rose {alarm.occurrence}×, {alarm_state(alarm).word} for {since}: {alarm.reason}"
