"""The file itself: one connection of one thread, every commit on the disk before it counts."""

from __future__ import annotations

import contextlib
import errno
import os
import sqlite3
from collections.abc import Sequence
from pathlib import Path

from analysis.journal.entry import EntryRow, ReadingRow
from analysis.journal.place import WriterLock, make_folder, refuse_network
from analysis.journal.schema import migrate, refuse_foreign
from analysis.model.instant import Instant

MOST_WAL_BYTES = 16 << 20
"""Above this the log beside the file is written back and emptied."""
_BUSY_SECONDS = 1.0
_TIDY_MILLISECONDS = 20
_DAMAGED = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)

_WORDS = {
    sqlite3.SQLITE_FULL: "no space left on the disk",
    sqlite3.SQLITE_READONLY: "the file cannot be written",
    sqlite3.SQLITE_CANTOPEN: "the file cannot be opened",
    sqlite3.SQLITE_IOERR: "the disk fails",
    sqlite3.SQLITE_BUSY: "another program holds the file",
    sqlite3.SQLITE_CORRUPT: "the file is damaged",
    sqlite3.SQLITE_NOTADB: "the file is damaged",
}


class Store:
    """An open journal. Everything may raise sqlite3.Error or OSError; after that close it and open another.

    Opening takes the writer's lock, refuses network shares and foreign files (JournalError), sets
    a damaged file aside (``spoilt`` says that it was found to be) and brings an older form up to
    date. ``set_aside`` names the damaged file then. ``session`` is the number of this run's
    session; give it again when opening anew, so that the run stays one session unless the file
    is another.
    """

    def __init__(
        self, path: Path, address: str, now: Instant, session: int | None = None, *, spoilt: bool = False
    ) -> None:
        self.path = path
        refuse_network(path)
        make_folder(path.parent)
        self._lock = WriterLock(path)
        self.set_aside: Path | None = None
        self._connection: sqlite3.Connection | None = None
        try:
            try:
                if spoilt:
                    self.set_aside = _put_aside(path, now)
                self._connection = _connected(path)
            except sqlite3.DatabaseError as error:
                if not is_damage(error):
                    raise
                self.set_aside = _put_aside(path, now)
                self._connection = _connected(path)
            self._identity = _identity(path)
            self.session = self._begun(address, now, session)
        except BaseException:
            self._let_go()
            raise

    def write(self, entries: Sequence[EntryRow], readings: Sequence[ReadingRow], alive: Instant) -> None:
        """Put all of it into the file in one transaction; when this returns it is on the disk."""
        connection = self._used()
        if _identity(self.path) != self._identity:
            raise FileNotFoundError("the file was taken away")
        connection.execute("BEGIN IMMEDIATE")
        try:
            connection.executemany(
                "INSERT INTO entry (session, utc, monotonic, kind, subject, body) VALUES (?, ?, ?, ?, ?, ?)",
                [(self.session, *entry) for entry in entries],
            )
            # A second may come twice when the wall clock is set back: the later one counts.
            connection.executemany(
                "INSERT OR REPLACE INTO reading VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                [(self.session, *reading) for reading in readings],
            )
            connection.execute("UPDATE session SET alive_utc = ? WHERE id = ?", (alive.utc, self.session))
            connection.execute("COMMIT")
        except BaseException:
            with contextlib.suppress(sqlite3.Error):
                connection.execute("ROLLBACK")
            raise

    def tidy(self) -> None:
        """Empty the log beside the file when it has grown; a reader that stands in the way is waited for next time."""
        with contextlib.suppress(FileNotFoundError):
            if self.path.with_name(self.path.name + "-wal").stat().st_size > MOST_WAL_BYTES:
                # Not worth waiting for: a long reader would hold up the next alarm.
                self._used().execute(f"PRAGMA busy_timeout = {_TIDY_MILLISECONDS}")
                self._used().execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
                self._used().execute(f"PRAGMA busy_timeout = {round(_BUSY_SECONDS * 1000)}")

    def end(self, now: Instant) -> None:
        """Write that the session ended, write the log back, close."""
        with contextlib.suppress(sqlite3.Error):
            self._used().execute(
                "UPDATE session SET alive_utc = ?, ended_utc = ? WHERE id = ?", (now.utc, now.utc, self.session)
            )
            self._used().execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
        self.close()

    def close(self) -> None:
        """Let the file and the lock go; never raises."""
        self._let_go()

    def _used(self) -> sqlite3.Connection:
        if self._connection is None:
            raise sqlite3.ProgrammingError("the journal is closed")
        return self._connection

    def _let_go(self) -> None:
        if self._connection is not None:
            with contextlib.suppress(sqlite3.Error):
                self._connection.close()
            self._connection = None
        self._lock.release()

    def _begun(self, address: str, now: Instant, session: int | None) -> int:
        connection = self._used()
        if (
            session is not None
            and connection.execute(
                "SELECT 1 FROM session WHERE id = ? AND address = ? AND ended_utc IS NULL", (session, address)
            ).fetchone()
        ):
            return session
        cursor = connection.execute(
            "INSERT INTO session (address, began_utc, alive_utc) VALUES (?, ?, ?)", (address, now.utc, now.utc)
        )
        return int(cursor.lastrowid or 0)


def is_damage(error: Exception) -> bool:
    """Whether a failure means that the file itself is spoilt."""
    return isinstance(error, sqlite3.Error) and primary(error) in _DAMAGED


def is_full(error: Exception) -> bool:
    """Whether a failure means that the disk has no room.

    >>> is_full(OSError(28, "No space left on device")), is_full(OSError(5, "Input/output error"))
    (True, False)
    """
    if isinstance(error, sqlite3.Error):
        # SQLite's index of its log is a file too, and has a code of its own for finding no room.
        code = getattr(error, "sqlite_errorcode", 0)
        return primary(error) == sqlite3.SQLITE_FULL or code == sqlite3.SQLITE_IOERR_SHMSIZE
    return isinstance(error, OSError) and error.errno in (errno.ENOSPC, errno.EDQUOT)


def primary(error: sqlite3.Error) -> int:
    """SQLite's primary result code of an error, 0 when it has none."""
    return int(getattr(error, "sqlite_errorcode", 0) or 0) & 0xFF


def told(error: Exception) -> str:
    """A failure in a few words.

    >>> told(FileNotFoundError(2, "No such file or directory"))
    'no such file or directory'
    """
    if isinstance(error, sqlite3.Error):
        if is_full(error):
            return _WORDS[sqlite3.SQLITE_FULL]
        return _WORDS.get(primary(error), str(error) or type(error).__name__)
    words = (error.strerror if isinstance(error, OSError) else None) or str(error) or type(error).__name__
    return words[:1].lower() + words[1:]


def _connected(path: Path) -> sqlite3.Connection:
    if not path.exists():
        # Only for a new file: closing any handle on a file lets go this process's locks on it.
        os.close(os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600))
    connection = sqlite3.connect(path, timeout=_BUSY_SECONDS, isolation_level=None)
    try:
        refuse_foreign(connection, str(path))
        # FULL: each commit waits until the disk has it. A power cut then loses nothing that was confirmed.
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA fullfsync = ON")
        connection.execute(f"PRAGMA journal_size_limit = {MOST_WAL_BYTES}")
        mode = connection.execute("PRAGMA journal_mode = WAL").fetchone()[0]
        if mode != "wal":
            raise sqlite3.OperationalError(f"write-ahead log not available here ({mode})")
        migrate(connection, str(path))
    except BaseException:
        connection.close()
        raise
    return connection


def _identity(path: Path) -> tuple[int, int]:
    found = path.stat()
    return found.st_dev, found.st_ino


def _put_aside(path: Path, now: Instant) -> Path:
    stamp = now.text().replace("-", "").replace(":", "").partition(".")[0]
    aside = path.with_name(f"{path.name}.damaged-{stamp}")
    for ending in ("", "-wal", "-shm"):
        with contextlib.suppress(FileNotFoundError):
            path.with_name(path.name + ending).rename(aside.with_name(aside.name + ending))
    return aside
