"""What waits to be written: bounded, in order, and honest about what did not fit."""

from __future__ import annotations

from collections import deque
from typing import NamedTuple

from analysis.journal.entry import EntryRow, Gap, ReadingRow, row
from analysis.model.instant import Instant

MOST_ENTRIES = 10_000
"""So many entries wait in memory while the file cannot be written; then the oldest go, and are counted."""
MOST_SECONDS = 3_600
BATCH = 1_000


class Batch(NamedTuple):
    """What goes into one transaction; ``gap`` tells of the time before it in which nothing could be written."""

    entries: tuple[EntryRow, ...]
    rows: tuple[ReadingRow, ...]
    gap: EntryRow | None

    @property
    def all_entries(self) -> tuple[EntryRow, ...]:
        """The entries with the gap before them."""
        return (self.gap, *self.entries) if self.gap else self.entries


class _Outage(NamedTuple):
    began: Instant
    why: str
    lost: int
    lost_rows: int


class Backlog:
    """Entries and seconds between the watch and the file. Keeps no clock and takes no lock: its owner does.

    ``taken`` counts every entry, ``written`` those on the disk, ``lost`` those that did not fit.
    """

    def __init__(self, most: int = MOST_ENTRIES) -> None:
        self._most = most
        self._entries: deque[EntryRow] = deque()
        self._rows: deque[ReadingRow] = deque()
        self._flying: Batch | None = None
        self._outage: _Outage | None = None
        self.taken = self.written = self.lost = self.lost_rows = 0

    @property
    def waiting(self) -> int:
        """Entries that are only in memory."""
        return self.taken - self.written - self.lost

    @property
    def empty(self) -> bool:
        """Whether nothing waits, neither entry nor second."""
        return not self.waiting and not self._rows and not (self._flying and self._flying.rows)

    @property
    def fault(self) -> str | None:
        """Why nothing can be written now, None when it can."""
        return self._outage.why if self._outage else None

    def add(self, entry: EntryRow) -> None:
        """One more entry."""
        self._entries.append(entry)
        self.taken += 1
        self._trim()

    def add_second(self, second: ReadingRow) -> None:
        """One more second of readings, or more of the newest one."""
        if self._rows and self._rows[-1].second == second.second:
            self._rows.pop()
        self._rows.append(second)
        self._trim()

    def take(self, now: Instant) -> Batch:
        """The next batch, which must be given back to :meth:`done` or :meth:`failed`."""
        gap = None
        if self._outage is not None:
            told = Gap(
                began=self._outage.began,
                ended=now,
                why=self._outage.why,
                kept=len(self._entries),
                lost=self.lost - self._outage.lost,
                lost_readings=self.lost_rows - self._outage.lost_rows,
            )
            gap = row("gap", "", now, told)
        entries = tuple(self._entries.popleft() for _ in range(min(BATCH, len(self._entries))))
        rows = tuple(self._rows)
        self._rows.clear()
        self._flying = Batch(entries, rows, gap)
        return self._flying

    def done(self, batch: Batch) -> None:
        """The batch is on the disk."""
        self.written += len(batch.entries)
        self._flying, self._outage = None, None

    def failed(self, batch: Batch, why: str, now: Instant) -> None:
        """The batch is not on the disk: its parts wait again, in their old places."""
        self._outage = (self._outage or _Outage(now, why, self.lost, self.lost_rows))._replace(why=why)
        self._flying = None
        self._entries.extendleft(reversed(batch.entries))
        newest = self._rows[0].second if self._rows else None
        self._rows.extendleft(second for second in reversed(batch.rows) if second.second != newest)
        self._trim()

    def _trim(self) -> None:
        flying = self._flying
        while self._entries and len(self._entries) + (len(flying.entries) if flying else 0) > self._most:
            self._entries.popleft()
            self.lost += 1
        while len(self._rows) > MOST_SECONDS:
            self._rows.popleft()
            self.lost_rows += 1
