"""Reading the journal back, while somebody writes it or afterwards; never keeps the writer waiting."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import quote

from analysis.journal.entry import EntryKind, EntryRow, JournalEntry, ReadingRow, Session, read_back
from analysis.journal.schema import refuse_foreign
from analysis.journal.store import told
from analysis.model.alarm import AlarmChange, SavedAlarms
from analysis.model.errors import JournalError
from analysis.model.instant import Instant

_BUSY_SECONDS = 2.0

# For each alarm of one feed: its last change, the last that moved its state, the last that left it for somebody to
# see, and the last that took it out of service.
_LAST = """
WITH mine AS (
    SELECT e.sequence, e.subject, e.body FROM entry e JOIN session s ON s.id = e.session
    WHERE e.kind = 'alarm' AND s.address = ?
)
SELECT e.sequence, e.session, e.utc, e.monotonic, e.kind, e.subject, e.body FROM entry e WHERE e.sequence IN (
    SELECT max(sequence) FROM mine GROUP BY subject
    UNION SELECT max(sequence) FROM mine
        WHERE json_extract(body, '$.from') <> json_extract(body, '$.to') GROUP BY subject
    UNION SELECT max(sequence) FROM mine
        WHERE json_extract(body, '$.from') <> json_extract(body, '$.to')
        AND json_extract(body, '$.to') LIKE '%-unacknowledged' GROUP BY subject
    UNION SELECT max(sequence) FROM mine
        WHERE json_extract(body, '$.quiet') LIKE '%out of service%'
        AND json_extract(body, '$.quiet_before') NOT LIKE '%out of service%' GROUP BY subject
) ORDER BY e.sequence
"""


def history(
    path: Path,
    limit: int = 100,
    *,
    kind: EntryKind | None = None,
    before: int | None = None,
    subject: str | None = None,
) -> tuple[JournalEntry, ...]:
    """The last ``limit`` entries, oldest first; of one kind or subject (an alarm's name), before a sequence number.

    Raises JournalError when there is no journal or it cannot be read.
    """
    with _opened(path) as connection:
        rows = connection.execute(
            "SELECT sequence, session, utc, monotonic, kind, subject, body FROM entry"
            " WHERE (? IS NULL OR kind = ?) AND (? IS NULL OR sequence < ?) AND (? IS NULL OR subject = ?)"
            " ORDER BY sequence DESC LIMIT ?",
            (kind, kind, before, before, subject, subject, max(0, limit)),
        ).fetchall()
    return tuple(read_back(row[0], row[1], EntryRow(*row[2:])) for row in reversed(rows))


def last_states(path: Path, address: str = "") -> SavedAlarms | None:
    """Where the alarms of a feed stood when it was last watched; None when it never was.

    Raises JournalError when there is a journal that cannot be read.
    """
    if not path.exists():
        return None
    with _opened(path) as connection:
        alive = connection.execute("SELECT max(alive_utc) FROM session WHERE address = ?", (address,)).fetchone()[0]
        if alive is None:
            return None
        entries = [read_back(row[0], row[1], EntryRow(*row[2:])) for row in connection.execute(_LAST, (address,))]
    changes = tuple(entry.what for entry in entries if isinstance(entry.what, AlarmChange))
    # The monotonic time of an earlier run means nothing in this one; what bridges the gap is UTC.
    return SavedAlarms(alive=Instant(0.0, alive), changes=changes)


def sessions(path: Path, since: float, until: float) -> tuple[Session, ...]:
    """The sessions that were running at some time between ``since`` and ``until`` (UTC), oldest first.

    Raises JournalError when there is no journal or it cannot be read.
    """
    with _opened(path) as connection:
        rows = connection.execute(
            "SELECT id, address, began_utc, max(alive_utc, coalesce(ended_utc, alive_utc)) AS ended FROM session"
            " WHERE began_utc <= ? AND ended >= ? ORDER BY began_utc",
            (until, since),
        ).fetchall()
    return tuple(Session(*row) for row in rows)


def readings(path: Path, begin: float, end: float) -> tuple[ReadingRow, ...]:
    """The seconds from ``begin`` to before ``end`` (UTC), of all sessions, in order of time.

    Raises JournalError when there is no journal or it cannot be read.
    """
    with _opened(path) as connection:
        rows = connection.execute(
            "SELECT second, validity, low, middle, high, clipped, crushed, headroom, skin_ire, skin_stops FROM reading"
            " WHERE second >= ? AND second < ? ORDER BY second, session",
            (begin, end),
        ).fetchall()
    return tuple(ReadingRow(*row) for row in rows)


@contextlib.contextmanager
def _opened(path: Path) -> Iterator[sqlite3.Connection]:
    if not path.exists():
        raise JournalError("no journal there", str(path), "it begins with the first watch")
    try:
        with contextlib.closing(_connected(path)) as connection:
            refuse_foreign(connection, str(path))
            yield connection
    except sqlite3.Error as error:
        raise JournalError(f"cannot be read: {told(error)}", str(path), "check the file and its folder") from None


def _connected(path: Path) -> sqlite3.Connection:
    address = f"file:{quote(str(path.absolute()))}?mode=ro"
    connection = sqlite3.connect(address, uri=True, timeout=_BUSY_SECONDS, isolation_level=None)
    try:
        connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except sqlite3.OperationalError:
        connection.close()
        if path.with_name(path.name + "-wal").exists():
            raise
        # In a folder that cannot be written a reader cannot make its lock file; without a log none is needed.
        connection = sqlite3.connect(f"{address}&immutable=1", uri=True, isolation_level=None)
    return connection
