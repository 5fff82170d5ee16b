"""Keeps what happened: takes it in without waiting, writes it in a thread of its own, confirms it on the disk."""

from __future__ import annotations

import errno
import shutil
import sqlite3
import threading
import time
from pathlib import Path
from typing import Protocol

import msgspec

from analysis.journal.backlog import MOST_ENTRIES, Backlog, Batch
from analysis.journal.entry import EntryKind, Note, ReadingRow, What, row
from analysis.journal.reserve import RESERVE_BYTES, Reserve
from analysis.journal.room import Filling, Room
from analysis.journal.seconds import Seconds
from analysis.journal.store import Store, is_damage, is_full, primary, told
from analysis.model.alarm import AlarmChange
from analysis.model.errors import JournalError
from analysis.model.feed import FeedEvent
from analysis.model.instant import Instant
from analysis.model.reading import Reading
from analysis.model.turn import Turn

OPEN_SECONDS = 5.0
CLOCK_STEP_SECONDS = 2.0
READINGS_SECONDS = 0.6
"""Readings go into one transaction this often, the second that still goes on among them: even with the time a slow disk
takes, less than a second of them is unwritten."""
_ALIVE_SECONDS = 10.0
_TIDY_SECONDS = 10.0
_FIRST_PAUSE, _LONGEST_PAUSE = 0.5, 5.0
_MAY_PASS = (errno.ENOSPC, errno.EDQUOT, errno.EIO)


class Clock(Protocol):
    """Where the journal gets the time from for its own entries."""

    def now(self) -> Instant:
        """This moment."""


class JournalStatus(msgspec.Struct, frozen=True, kw_only=True):
    """How the journal is doing: ``fault`` in words while it cannot be written, None while all is well.

    ``waiting`` entries are in memory only, ``written`` are on the disk, ``lost`` did not fit.
    """

    path: str
    fault: str | None = None
    waiting: int = 0
    written: int = 0
    lost: int = 0


class Journal:
    """The journal of one run. Nothing raises or waits once it is opened, except ``settled`` and ``close`` for a time.

    Alarm changes, feed events and notes are written at once, readings as one row a second in one
    transaction a second; every commit waits for the disk. While the file cannot be written up to
    10,000 entries wait in memory, and when it can again a gap entry tells from when to when, why,
    how many waited and how many were lost. A reserve file beside the journal is given up first, so that there
    is room for what happens last.

    Opening raises JournalError for a network share, a second writer, a file that is not a journal,
    or a place that may not be written. A full disk is no reason to refuse: it may get room.
    ``address`` is the feed's, without any password; the alarms of an earlier run are found by it.
    """

    def __init__(
        self, path: Path, clock: Clock, *, address: str = "", most: int = MOST_ENTRIES, reserve: int = RESERVE_BYTES
    ) -> None:
        self.path, self._clock, self._address = path, clock, address
        self._changed = threading.Condition()
        self._backlog, self._seconds = Backlog(most), Seconds()
        self._kept_so_far: ReadingRow | None = None
        self._offset: float | None = None
        self._stop = self._hurry = False
        self._refusal: JournalError | None = None
        self._opened = threading.Event()
        self._store: Store | None = None
        self._session: int | None = None
        self._reserve, self._filling = Reserve(path, reserve), Filling()
        self._room: Room | None = None
        self._not_before = self._look_at = 0.0
        self._tidy_at = time.monotonic() + _TIDY_SECONDS
        self._spoilt = False
        self._writer = threading.Thread(target=self._run, name="journal", daemon=True)
        self._writer.start()
        self._opened.wait(OPEN_SECONDS)
        if self._refusal is not None:
            raise self._refusal

    def alarm_changed(self, change: AlarmChange) -> None:
        """Record a change of an alarm."""
        self._put("alarm", change.alarm, change.at, change)

    def feed_changed(self, event: FeedEvent) -> None:
        """Record a change of the feed."""
        self._put("feed", event.after, event.at, event)

    def turned(self, turn: Turn) -> None:
        """Record a change of exposure that was recognised in the picture."""
        self._put("turn", turn.kind, turn.stands_at, turn)

    def noted(self, words: str) -> None:
        """Record something in words."""
        self._put("note", "", self._clock.now(), Note(words=words))

    def reading_taken(self, reading: Reading, at: Instant) -> None:
        """Record a reading; of one second of UTC the worst and the last are kept."""
        with self._changed:
            self._keep_second(self._seconds.add(reading, at))

    def status(self) -> JournalStatus:
        """How it is doing now."""
        with self._changed:
            backlog = self._backlog
            slow = None if self._opened.is_set() else "the disk is slow: still opening"
            return JournalStatus(
                path=str(self.path),
                fault=backlog.fault or slow,
                waiting=backlog.waiting,
                written=backlog.written,
                lost=backlog.lost,
            )

    def room(self) -> Room | None:
        """How much room the disk has, looked at every ten seconds by the journal's own thread; None before that."""
        with self._changed:
            return self._room

    def settled(self, timeout: float) -> bool:
        """Wait until everything recorded so far is on the disk; False when it is not in time."""
        with self._changed:
            self._keep_second(self._seconds.rest())
            self._hurry = True
            self._changed.notify_all()
            return self._changed.wait_for(lambda: self._backlog.empty and self._backlog.fault is None, timeout)

    def close(self, timeout: float = 3.0) -> bool:
        """Write what is left and end; False when not everything could be written in time."""
        with self._changed:
            self._keep_second(self._seconds.rest())
            self._stop = True
            self._changed.notify_all()
        self._writer.join(timeout)
        with self._changed:
            return not self._writer.is_alive() and self._backlog.empty and self._backlog.fault is None

    def _put(self, kind: EntryKind, subject: str, at: Instant, what: What) -> None:
        entry = row(kind, subject, at, what)
        with self._changed:
            offset = at.utc - at.monotonic
            if self._offset is not None and abs(offset - self._offset) > CLOCK_STEP_SECONDS:
                step = f"the wall clock moved by {offset - self._offset:+.1f} s against the running time"
                self._backlog.add(row("note", "", at, Note(words=step)))
            self._offset = offset
            self._backlog.add(entry)
            self._changed.notify_all()

    def _keep_so_far(self) -> None:
        """Have the second that goes on written too, unless nothing was added to it since; the whole one replaces it."""
        second = self._seconds.so_far()
        if second is not None and second != self._kept_so_far:
            self._kept_so_far = second
            self._backlog.add_second(second)

    def _keep_second(self, second: ReadingRow | None) -> None:
        if second is not None:
            self._backlog.add_second(second)

    def _run(self) -> None:
        pause = 0.0
        due = alive = time.monotonic()
        while True:
            with self._changed:
                self._changed.wait_for(self._has_work, max(0.0, max(due, self._not_before) - time.monotonic()))
                stop, self._hurry = self._stop, False
                if time.monotonic() < self._not_before and not stop:
                    continue
                self._keep_second(self._seconds.finished(self._clock.now()))
                self._keep_so_far()
                if self._backlog.empty and self._store is not None and time.monotonic() < alive and not stop:
                    due = time.monotonic() + READINGS_SECONDS
                    continue
            begun = time.monotonic()
            written = self._write()
            if self._refusal is not None:
                return
            self._look_at_the_disk()
            self._tidy()
            now = time.monotonic()
            pause = 0.0 if written else min(_LONGEST_PAUSE, pause * 2 or _FIRST_PAUSE)
            self._not_before, due = now + pause, begun + READINGS_SECONDS if written else now + pause
            alive = now + _ALIVE_SECONDS if written else now
            if stop and (not written or self._backlog.empty):
                break
        if self._store is not None:
            self._store.end(self._clock.now())

    def _has_work(self) -> bool:
        due = self._backlog.waiting > 0 and time.monotonic() >= self._not_before
        return self._stop or self._hurry or due

    def _write(self) -> bool:
        """Write one batch, opening the file first where it is not; whatever fails is shown and nothing is dropped."""
        with self._changed:
            batch = self._backlog.take(self._clock.now())
        try:
            self._put_down(batch)
        except Exception as error:  # noqa: BLE001 - shown as the fault; a thread that ended would lose entries in silence
            self._fail(error)
            with self._changed:
                self._backlog.failed(
                    batch, error.what if isinstance(error, JournalError) else told(error), self._clock.now()
                )
            self._opened.set()
            return False
        with self._changed:
            self._backlog.done(batch)
            self._changed.notify_all()
        self._opened.set()
        return True

    def _put_down(self, batch: Batch) -> None:
        try:
            (self._store or self._open()).write(batch.all_entries, batch.rows, self._clock.now())
        except (sqlite3.Error, OSError) as error:
            if not is_full(error) or not self._reserve.give_up():
                raise
            self._fail(error)
            self._open().write(batch.all_entries, batch.rows, self._clock.now())
            self.noted(f"{told(error)}: the room kept in reserve is used now")

    def _look_at_the_disk(self) -> None:
        if time.monotonic() < self._look_at:
            return
        self._look_at = time.monotonic() + _TIDY_SECONDS
        try:
            free = shutil.disk_usage(self.path.parent).free
        except OSError:
            return  # whoever writes next meets the same trouble and tells it
        self._filling = self._filling.seen(free, self._clock.now())
        with self._changed:
            self._room = self._filling.room(free)

    def _tidy(self) -> None:
        """Now and then write the log back and see to the reserve, after what was to be confirmed has been."""
        if self._store is None or time.monotonic() < self._tidy_at:
            return
        self._tidy_at = time.monotonic() + _TIDY_SECONDS
        try:
            self._store.tidy()
            self._reserve.keep()
        except (sqlite3.Error, OSError) as error:
            # The next write meets the same trouble, tells it as the fault and keeps what it could not write.
            self._fail(error)

    def _open(self) -> Store:
        store = Store(self.path, self._address, self._clock.now(), self._session, spoilt=self._spoilt)
        self._store, self._session, self._spoilt = store, store.session, False
        if store.set_aside is not None:
            self.noted(f"the journal before this one was damaged and lies in {store.set_aside.name}")
        return store

    def _fail(self, error: Exception) -> None:
        if self._store is not None:
            self._store.close()
            self._store = None
        self._spoilt = is_damage(error)
        if self._opened.is_set():
            return
        if isinstance(error, JournalError):
            self._refusal = error
        elif (isinstance(error, OSError) and error.errno not in _MAY_PASS) or (
            isinstance(error, sqlite3.Error) and primary(error) == sqlite3.SQLITE_READONLY
        ):
            self._refusal = JournalError(told(error), str(self.path), "check the folder, or name another file")
