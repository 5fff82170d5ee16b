"""What stands in the journal, in words: one line an entry, for the screen and for plain output."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any, NamedTuple

from analysis.journal.entry import Gap, JournalEntry, Note
from analysis.model.alarm import AlarmChange
from analysis.model.feed import FeedEvent
from analysis.model.turn import Turn
from tui.palette import Ink
from tui.turn_words import turn_line
from tui.wording import feed_state, lasted

_DAY = 86_400.0


class EntryWords(NamedTuple):
    """An entry for a person: what it is about, what happened, a glyph and an ink."""

    about: str
    text: str
    glyph: str = "·"
    ink: Ink = Ink.TEXT


def alarm_words(change: AlarmChange) -> EntryWords:
    """A change of an alarm: what it became, why, and how long it was before.

    >>> from analysis.model.instant import Instant
    >>> change = AlarmChange(
    ...     alarm="highlights", occurrence=2, before="active-unacknowledged", after="active-acknowledged", priority=2,
    ...     reason="acknowledged while active", at=Instant(0.0, 0.0), seconds=75.0)
    >>> alarm_words(change).text
    'seen: acknowledged while active (after 1 min 15 s, rise no. 2, priority 2)'
    """
    only_quiet = change.before == change.after and change.quiet_before != change.quiet
    glyph, word, ink = _BECAME[change.after]
    if change.quiet:
        glyph, ink = ("‖", Ink.SOFT) if only_quiet else ("‖", ink)
        word = f"{word}, without sound ({', '.join(change.quiet)})"
    if only_quiet:
        return EntryWords(change.alarm, change.reason, glyph, Ink.SOFT)
    rise = f", rise no. {change.occurrence}" if change.occurrence else ""
    text = f"{word}: {change.reason} (after {lasted(change.seconds)}{rise}, priority {change.priority})"
    return EntryWords(change.alarm, text, glyph, ink)


_BECAME: dict[str, tuple[str, str, Ink]] = {
    "normal": ("·", "over", Ink.TEXT),
    "active-unacknowledged": ("◆", "NEW", Ink.SEEN),
    "active-acknowledged": ("◆", "seen", Ink.TEXT),
    "returned-unacknowledged": ("◇", "over, not seen yet", Ink.BACK),
    "latched-unacknowledged": ("◇", "over, latched, not seen yet", Ink.BACK),
    "latched-acknowledged": ("◇", "latched, to be reset", Ink.TEXT),
}


def feed_words(event: FeedEvent) -> EntryWords:
    """A change of the feed's state, with the evidence.

    >>> from analysis.model.instant import Instant
    >>> event = FeedEvent(before="live", after="lost", evidence="unplugged", generation=1, at=Instant(0.0, 0.0))
    >>> feed_words(event).text
    'LIVE → LOST: unplugged'
    """
    after = feed_state(event.after)
    why = f": {event.evidence}" if event.evidence and event.evidence != event.after else ""
    return EntryWords("feed", f"{feed_state(event.before).word} → {after.word}{why}", after.glyph, Ink.TEXT)


def gap_words(gap: Gap) -> EntryWords:
    """A time in which nothing could be written, and what became of what happened then.

    >>> from analysis.model.instant import Instant
    >>> gap = Gap(began=Instant(0, 0), ended=Instant(12, 12), why="disk full", kept=3, lost=0, lost_readings=0)
    >>> gap_words(gap).text
    'nothing could be written for 12 s: disk full; 3 entries waited and were kept'
    """
    told = f"nothing could be written for {lasted(gap.ended.since(gap.began))}: {gap.why}"
    counts = [
        f"{gap.kept} entries waited and were kept" if gap.kept else "",
        f"{gap.lost} entries are LOST" if gap.lost else "",
        f"{gap.lost_readings} seconds of readings are lost" if gap.lost_readings else "",
    ]
    return EntryWords("journal", "; ".join(filter(None, (told, *counts))), "!", Ink.CARE)


def note_words(note: Note) -> EntryWords:
    """Something about the record itself."""
    return EntryWords("journal", note.words, "·", Ink.SOFT)


def told_turn(turn: Turn) -> EntryWords:
    """A change of exposure; a drift stands where it was told, so it says when it began."""
    since = f", since {time_of_day(turn.at.utc, turn.stands_at.utc)}" if turn.kind == "drift" else ""
    return EntryWords("turn", turn_line(turn) + since, "~", Ink.TEXT)


WORDS: dict[str, Callable[[Any], EntryWords]] = {
    "alarm": alarm_words,
    "feed": feed_words,
    "turn": told_turn,
    "gap": gap_words,
    "note": note_words,
}
"""How each kind of entry is told. A new kind of entry is a line here."""


def entry_words(entry: JournalEntry) -> EntryWords:
    """An entry in words; of a kind that nobody taught this table, at least that it is there."""
    told = WORDS.get(entry.kind)
    return EntryWords(entry.kind, "of a kind this version cannot tell") if told is None else told(entry.what)


def time_of_day(utc: float, now: float) -> str:
    """Local time, with the date where it is not today's.

    ``utc`` and ``now`` are seconds since 1970.

    >>> len(time_of_day(0.0, 10.0)), len(time_of_day(0.0, 1e9))
    (8, 19)
    """
    when, today = datetime.fromtimestamp(utc), datetime.fromtimestamp(now)
    return when.strftime("%H:%M:%S" if when.date() == today.date() else "%Y-%m-%d %H:%M:%S")


def short_time(utc: float, now: float) -> str:
    """Local time in eleven characters at most: to the second today, month, day and minute before that.

    >>> len(short_time(0.0, 10.0)), len(short_time(0.0, 1e9))
    (8, 11)
    """
    when = datetime.fromtimestamp(utc)
    return when.strftime("%H:%M:%S" if when.date() == datetime.fromtimestamp(now).date() else "%m-%d %H:%M")


def ago(utc: float, now: float) -> str:
    """How long ago, roughly; ``ahead`` where the clock was set back since.

    >>> [ago(1000.0 - seconds, 1000.0) for seconds in (-60.0, 0.2, 12.0, 125.0, 7300.0, 200_000.0)]
    ['ahead', 'now', '12 s ago', '2 min ago', '2 h ago', '2 days ago']
    """
    seconds = now - utc
    if seconds < -1.0:
        return "ahead"
    if seconds < 1.0:
        return "now"
    for size, word in ((_DAY, "days"), (3600.0, "h"), (60.0, "min")):
        if seconds >= 2 * size or (word != "days" and seconds >= size):
            return f"{int(seconds // size)} {word} ago"
    return f"{seconds:.0f} s ago"
