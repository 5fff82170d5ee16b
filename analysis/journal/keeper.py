"""Small files that are to outlive the session, written beside whoever keeps them: a disk that hangs holds nobody up."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from math import inf
from pathlib import Path
from typing import NamedTuple

from analysis.model.errors import StopkeeperError
from analysis.settings.text_files import write_text

MOST = 64
"""Files that wait to be written at most; of more, the one that waits longest is given up, and told."""
FIRST_WAIT, LONGEST_WAIT = 1.0, 30.0
"""Seconds until a file that could not be written is tried again: doubled each time, up to the longest."""
SLOW = 3.0
"""Seconds after which a write that has not ended is worth a word."""


def remove(path: Path) -> None:
    """Delete a file; one that is not there is deleted already. Raises StopkeeperError."""
    try:
        path.unlink(missing_ok=True)
    except OSError as error:
        raise StopkeeperError(
            f"cannot be deleted: {error.strerror or error}", str(path), "check the disk and your permissions"
        ) from None


class _Job(NamedTuple):
    """What a file is to hold, None to delete it; when it is due, and how long to wait should it fail again."""

    text: str | None
    due: float = -inf
    wait: float = FIRST_WAIT


class Keeper:
    """Writes and deletes small whole files on a thread of its own.

    What is kept last for a path counts; what could not be written is tried again, ever more seldom, until it can or
    something newer takes its place. ``write`` and ``delete`` raise StopkeeperError, OSError or ValueError
    where they fail.
    """

    def __init__(
        self,
        write: Callable[[Path, str], None] = write_text,
        delete: Callable[[Path], None] = remove,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._write, self._delete, self._clock = write, delete, clock
        self._lock = threading.Condition()
        self._waiting: dict[Path, _Job] = {}
        self._failed: dict[Path, str] = {}
        self._busy: tuple[Path, float] | None = None
        self._closing = False
        self._thread: threading.Thread | None = None

    def keep(self, path: Path, text: str | None) -> None:
        """Have a file hold this text; None deletes it. Returns at once; after the end it is not taken any more."""
        with self._lock:
            if self._closing:
                self._fail(path, f"{path}: not kept, since the watch was closing")
                return
            self._waiting.pop(path, None)  # the newest goes to the end of the row
            self._waiting[path] = _Job(text)
            if len(self._waiting) > MOST:
                oldest = next(iter(self._waiting))
                del self._waiting[oldest]
                self._fail(oldest, f"{oldest}: not kept, since more than {MOST} files wait to be written")
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, name="keeper", daemon=True)
                self._thread.start()
            self._lock.notify_all()

    @property
    def trouble(self) -> str | None:
        """What is not on the disk that should be, in one line, the newest failure; None where everything is."""
        with self._lock:
            if self._busy is not None and self._clock() - self._busy[1] >= SLOW:
                path, since = self._busy
                return f"{path}: the disk has not answered for {self._clock() - since:.0f} s; it is not kept yet"
            return next(reversed(self._failed.values()), None)

    @property
    def waiting(self) -> int:
        """Files that are not as they should be yet."""
        with self._lock:
            return len(self._waiting) + (self._busy is not None)

    def close(self, seconds: float) -> bool:
        """Try what waits once more and end, within a time; whether everything was written. It may be called twice."""
        with self._lock:
            self._closing = True
            self._lock.notify_all()
            thread = self._thread
        if thread is not None:
            thread.join(max(seconds, 0.0))
        with self._lock:
            return not self._waiting and not self._failed and self._busy is None

    def _run(self) -> None:
        """Write one file after the other until the end."""
        while (found := self._next()) is not None:
            path, job = found
            try:
                if job.text is None:
                    self._delete(path)
                else:
                    self._write(path, job.text)
            except StopkeeperError as error:
                self._missed(path, job, error.line())
            except (OSError, ValueError) as error:
                self._missed(path, job, f"{path}: {getattr(error, 'strerror', None) or error}; it is not kept yet")
            else:
                self._done(path)

    def _next(self) -> tuple[Path, _Job] | None:
        """The file that is due, waiting for one; None at the end."""
        with self._lock:
            while True:
                now = self._clock()
                due = next((path for path, job in self._waiting.items() if job.due <= now or self._closing), None)
                if due is not None:
                    self._busy = (due, now)
                    return due, self._waiting.pop(due)
                if self._closing:
                    return None
                soonest = min((job.due for job in self._waiting.values()), default=None)
                self._lock.wait(None if soonest is None else min(soonest - now, LONGEST_WAIT))

    def _done(self, path: Path) -> None:
        with self._lock:
            self._busy = None
            self._failed.pop(path, None)

    def _missed(self, path: Path, job: _Job, line: str) -> None:
        with self._lock:
            self._busy = None
            self._fail(path, line)
            # At the end there is one try for each, and something newer stands before what failed.
            if not self._closing and path not in self._waiting:
                due = self._clock() + job.wait
                self._waiting[path] = job._replace(due=due, wait=min(2.0 * job.wait, LONGEST_WAIT))

    def _fail(self, path: Path, line: str) -> None:
        self._failed.pop(path, None)  # the newest goes to the end of the row
        self._failed[path] = line
        if len(self._failed) > MOST:
            del self._failed[next(iter(self._failed))]
