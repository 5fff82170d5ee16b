"""What an operator does to one alarm beside acknowledging it: shelve, reset, take out of service."""

from __future__ import annotations

from collections.abc import Callable

import msgspec

from analysis.alarm import machine
from analysis.alarm.book import AlarmBook, Answered
from analysis.alarm.machine import AlarmEntry, Answer
from analysis.alarm.rule import AlarmRule
from analysis.model.instant import Instant


def shelve(book: AlarmBook, alarm: str, seconds: float, now: Instant) -> Answered:
    """Keep one alarm quiet for some time, an hour at most; it comes back by itself.

    >>> from analysis.alarm.book import opened, statuses
    >>> from analysis.alarm.defaults import DEFAULT_RULES
    >>> book = opened(DEFAULT_RULES, Instant(0.0, 0.0))
    >>> shelve(book, "shadows", 7200.0, Instant(1.0, 1.0))[2]
    'shadows: an alarm can be shelved for 60 min at most'
    >>> book, changes, refusal = shelve(book, "shadows", 900.0, Instant(1.0, 1.0))
    >>> changes[0].reason, changes[0].quiet
    ('shelved for 15 min', ('shelved',))
    """
    return _told_to(book, alarm, lambda rule, entry: machine.shelve(rule, entry, seconds, now))


def unshelve(book: AlarmBook, alarm: str, now: Instant) -> Answered:
    """End a shelf early; an alarm that still holds and was not acknowledged is heard again."""
    return _told_to(book, alarm, lambda rule, entry: machine.unshelve(rule, entry, now))


def unheard(book: AlarmBook, since: Instant) -> AlarmBook:
    """What was announced from ``since`` on fell on deaf ears: what of it still waits to be seen is announced anew."""
    entries = tuple(
        msgspec.structs.replace(entry, sounded=None) if entry.sounded and entry.sounded.since(since) >= 0.0 else entry
        for entry in book.entries
    )
    return msgspec.structs.replace(book, entries=entries)


def reset(book: AlarmBook, alarm: str, now: Instant) -> Answered:
    """Let a latched alarm go; refused while it is active or has not been acknowledged."""
    return _told_to(book, alarm, lambda rule, entry: machine.reset(rule, entry, now))


def take_out_of_service(book: AlarmBook, alarm: str, why: str, now: Instant) -> Answered:
    """Keep one alarm quiet until somebody puts it back; ``why`` stands on the screen and in the record."""
    return _told_to(book, alarm, lambda rule, entry: machine.retire(rule, entry, why, now))


def return_to_service(book: AlarmBook, alarm: str, now: Instant) -> Answered:
    """Put one alarm back in service; if it holds and was not acknowledged it is heard."""
    return _told_to(book, alarm, lambda rule, entry: machine.restore_service(rule, entry, now))


def _told_to(book: AlarmBook, alarm: str, command: Callable[[AlarmRule, AlarmEntry], Answer]) -> Answered:
    names = [rule.name for rule in book.rules]
    if alarm not in names:
        return book, (), f"{alarm}: no alarm of that name"
    place = names.index(alarm)
    entry, change, refusal = command(book.rules[place], book.entries[place])
    if refusal is not None or change is None:
        return book, (), f"{alarm}: {refusal}"
    entries = (*book.entries[:place], entry, *book.entries[place + 1 :])
    return msgspec.structs.replace(book, entries=entries), (change,), None
