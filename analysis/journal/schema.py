"""The tables of the journal and the steps that lead from any older form to the present one."""

from __future__ import annotations

import sqlite3

from analysis.model.errors import JournalError

APPLICATION_ID = 0x53544B50
"""Marks a file as a journal of this program ("STKP")."""

_STEPS: tuple[tuple[str, ...], ...] = (
    (
        """CREATE TABLE session (
            id INTEGER PRIMARY KEY,
            address TEXT NOT NULL,
            began_utc REAL NOT NULL,
            alive_utc REAL NOT NULL,
            ended_utc REAL
        )""",
        # AUTOINCREMENT: a number once given is never given again, so holes would show.
        """CREATE TABLE entry (
            sequence INTEGER PRIMARY KEY AUTOINCREMENT,
            session INTEGER NOT NULL REFERENCES session (id),
            utc REAL NOT NULL,
            monotonic REAL NOT NULL,
            kind TEXT NOT NULL,
            subject TEXT NOT NULL,
            body TEXT NOT NULL
        )""",
        "CREATE INDEX entry_by_subject ON entry (kind, subject, sequence)",
    ),
    (
        """CREATE TABLE reading (
            session INTEGER NOT NULL REFERENCES session (id),
            second INTEGER NOT NULL,
            validity TEXT NOT NULL,
            low REAL, middle REAL, high REAL,
            clipped REAL, crushed REAL, headroom REAL,
            skin_ire REAL, skin_stops REAL,
            PRIMARY KEY (session, second)
        ) WITHOUT ROWID""",
    ),
)
NEWEST = len(_STEPS)


def refuse_foreign(connection: sqlite3.Connection, where: str, known: int = NEWEST) -> None:
    """Raises JournalError for a file that is no journal of this program or comes from a newer one; changes nothing."""
    version = _version(connection)
    mark = connection.execute("PRAGMA application_id").fetchone()[0]
    tables = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    if mark != APPLICATION_ID and (mark or version or tables):
        raise JournalError("this database is not a journal of stopkeeper", where, "name another file")
    if version > known:
        raise JournalError(
            f"this journal was written by a newer stopkeeper (form {version}, known up to {known})",
            where,
            "update stopkeeper, or name another file",
        )


def migrate(connection: sqlite3.Connection, where: str, steps: tuple[tuple[str, ...], ...] = _STEPS) -> None:
    """Bring a journal to the present form, each step whole or not at all.

    The connection must not open transactions by itself. A step that is interrupted leaves the form before it and
    is done again next time. Raises JournalError as :func:`refuse_foreign` does.
    """
    refuse_foreign(connection, where, len(steps))
    version = _version(connection)
    for number in range(version, len(steps)):
        connection.execute("BEGIN IMMEDIATE")
        try:
            # Both pragmas lie in the first page and are part of the transaction.
            connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            for statement in steps[number]:
                connection.execute(statement)
            connection.execute(f"PRAGMA user_version = {number + 1}")
            connection.execute("COMMIT")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise


def _version(connection: sqlite3.Connection) -> int:
    return int(connection.execute("PRAGMA user_version").fetchone()[0])
