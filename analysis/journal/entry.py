"""What stands in the journal, as values and as the rows they are kept in."""

from __future__ import annotations

from typing import Literal, NamedTuple, TypeAlias

import msgspec

from analysis.model.alarm import AlarmChange
from analysis.model.feed import FeedEvent
from analysis.model.instant import Instant
from analysis.model.turn import Turn

EntryKind = Literal["alarm", "feed", "turn", "gap", "note"]


class Gap(msgspec.Struct, frozen=True, kw_only=True):
    """For a time nothing could be written.

    ``kept`` entries waited in memory and follow or precede this one in order of their own times;
    ``lost`` entries and ``lost_readings`` seconds did not fit and are gone.
    """

    began: Instant
    ended: Instant
    why: str
    kept: int
    lost: int
    lost_readings: int


class Note(msgspec.Struct, frozen=True, kw_only=True):
    """Something worth knowing about the record itself."""

    words: str


What: TypeAlias = AlarmChange | FeedEvent | Turn | Gap | Note


class JournalEntry(msgspec.Struct, frozen=True, kw_only=True):
    """One entry as it is read back. ``sequence`` has no holes and orders the journal, whatever the clocks say."""

    sequence: int
    session: int
    at: Instant
    kind: EntryKind
    what: What


class EntryRow(NamedTuple):
    """One entry on its way into the file."""

    utc: float
    monotonic: float
    kind: str
    subject: str
    body: str


class Session(NamedTuple):
    """One run of a watch on one feed: from when until when it is known to have been alive (UTC)."""

    session: int
    address: str
    began: float
    ended: float


class ReadingRow(NamedTuple):
    """One second of measuring: lowest 1st, last 50th, highest 99th percentile of luma (IRE), worst shares (percent)."""

    second: int
    validity: str
    low: float | None
    middle: float | None
    high: float | None
    clipped: float | None
    crushed: float | None
    headroom: float | None
    skin_ire: float | None
    skin_stops: float | None


_TYPES: dict[str, type[What]] = {"alarm": AlarmChange, "feed": FeedEvent, "turn": Turn, "gap": Gap, "note": Note}


def row(kind: EntryKind, subject: str, at: Instant, what: What) -> EntryRow:
    r"""An entry as a row. Text that is no valid Unicode is kept with marks in place of what cannot be written.

    >>> row("note", "", Instant(1.0, 2.0), Note(words="a name: \udcff")).body
    '{"words":"a name: ?"}'
    """
    try:
        body = msgspec.json.encode(what).decode()
    except UnicodeEncodeError:
        body = msgspec.json.encode(_writable(msgspec.to_builtins(what))).decode()
    return EntryRow(at.utc, at.monotonic, kind, str(_writable(subject)), body)


def read_back(sequence: int, session: int, entry: EntryRow) -> JournalEntry:
    """A row as the value it was made of; ``msgspec.ValidationError`` for one that this program did not write."""
    kind = msgspec.convert(entry.kind, EntryKind)
    what = msgspec.json.decode(entry.body, type=_TYPES[kind])
    return JournalEntry(
        sequence=sequence, session=session, at=Instant(entry.monotonic, entry.utc), kind=kind, what=what
    )


def _writable(value: object) -> object:
    if isinstance(value, str):
        return value.encode("utf-8", "replace").decode()
    if isinstance(value, dict):
        return {key: _writable(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_writable(each) for each in value]
    return value
