"""Pages of the journal for a screen, read beside it, so that a disk that does not answer never holds it up."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple, TypeAlias

import msgspec

from analysis.journal.entry import JournalEntry
from analysis.model.errors import StopkeeperError

PAGE = 100
"""Entries that are read at once."""

Reader: TypeAlias = Callable[[str | None, int | None, int], tuple[JournalEntry, ...]]
"""Reads entries, oldest first: of this alarm (None: of everything), before this sequence number (None: the newest),
so many at most. Raises StopkeeperError."""


class Page(NamedTuple):
    """What was read: entries oldest first, of which alarm, before which number; or why nothing was, in one line."""

    alarm: str | None
    before: int | None
    entries: tuple[JournalEntry, ...] = ()
    fault: str | None = None

    @property
    def first(self) -> bool:
        """Whether there is nothing older."""
        return self.fault is None and len(self.entries) < PAGE


class JournalPages:
    """Reads one page at a time in a thread of its own; what was read is fetched, never pushed.

    ``why`` says why there is no journal where ``read`` is None. A read that never ends leaves one thread behind and
    no more: until it ends, nothing else is asked. ``clock`` gives seconds that only grow.
    """

    def __init__(self, read: Reader | None, why: str = "", clock: Callable[[], float] = time.monotonic) -> None:
        self._read, self.why, self._clock = read, why, clock
        self._lock = threading.Lock()
        self._asked: float | None = None
        self._page: Page | None = None

    @property
    def kept(self) -> bool:
        """Whether there is a journal."""
        return self._read is not None

    @property
    def waiting(self) -> float | None:
        """For how long a read has been under way, None when none is."""
        asked = self._asked
        return None if asked is None else self._clock() - asked

    def ask(self, alarm: str | None = None, before: int | None = None) -> bool:
        """Have a page read; False where there is no journal, or the last read is still under way."""
        with self._lock:
            if self._read is None or self._asked is not None:
                return False
            self._asked = self._clock()
        threading.Thread(target=self._work, args=(self._read, alarm, before), name="history", daemon=True).start()
        return True

    def answer(self) -> Page | None:
        """The page that was read since the last call, else None."""
        with self._lock:
            page, self._page = self._page, None
        return page

    def _work(self, read: Reader, alarm: str | None, before: int | None) -> None:
        try:
            page = Page(alarm, before, read(alarm, before, PAGE))
        except StopkeeperError as error:
            page = Page(alarm, before, fault=error.line())
        except msgspec.MsgspecError as error:
            page = Page(alarm, before, fault=f"the journal holds an entry that this version cannot read: {error}")
        except Exception as error:  # noqa: BLE001 - a thread that died unheard would look like a slow disk for ever
            page = Page(alarm, before, fault=f"{type(error).__name__}: {error}")
        with self._lock:
            self._page, self._asked = page, None


def pages_of(path: Path | None, why: str = "") -> JournalPages:
    """Pages of the journal in a file, or none, with the reason."""
    if path is None:
        return JournalPages(None, why)
    from analysis.journal.read import history

    def read(alarm: str | None, before: int | None, limit: int) -> tuple[JournalEntry, ...]:
        return history(path, limit, kind=None if alarm is None else "alarm", subject=alarm, before=before)

    return JournalPages(read)
