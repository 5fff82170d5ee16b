"""All alarms of a watch: one frozen value, stepped by observations."""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from analysis.alarm import machine
from analysis.alarm.machine import AlarmEntry
from analysis.alarm.observation import PATIENCE_SECONDS, Observation
from analysis.alarm.rule import AlarmRule
from analysis.model.alarm import AlarmChange, AlarmStatus, Announcement
from analysis.model.instant import Instant

_FOR_EVER = float("inf")


class AlarmBook(msgspec.Struct, frozen=True, kw_only=True):
    """The rules and where each alarm stands, in the same order."""

    rules: tuple[AlarmRule, ...]
    entries: tuple[AlarmEntry, ...]
    feed_lost: bool = False
    patience: float = PATIENCE_SECONDS

    def entry(self, alarm: str) -> AlarmEntry:
        """Where one alarm stands; ``KeyError`` for a name that has no rule."""
        for rule, entry in zip(self.rules, self.entries, strict=True):
            if rule.name == alarm:
                return entry
        raise KeyError(alarm)


def opened(rules: Iterable[AlarmRule], now: Instant) -> AlarmBook:
    """A new book with every alarm normal; ``ValueError`` when two rules share a name."""
    # The feed goes first: in any list of changes its loss is told before what it froze.
    ordered = tuple(sorted(rules, key=lambda rule: rule.kind != "feed"))
    names = [rule.name for rule in ordered]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise ValueError(f"two alarms are called {twice[0]}")
    return AlarmBook(rules=ordered, entries=tuple(AlarmEntry(since=now) for _ in ordered))


def step(
    book: AlarmBook, observation: Observation, now: Instant
) -> tuple[AlarmBook, tuple[AlarmChange, ...], tuple[Announcement, ...]]:
    """Show all alarms what is measured now; say what changed and what is to be heard.

    While the feed is lost the feed alarm speaks and the others stay as they were. Each rise
    is announced exactly once, the most urgent first.

    >>> from analysis.alarm.defaults import DEFAULT_RULES
    >>> book = opened(DEFAULT_RULES, Instant(0.0, 0.0))
    >>> lost = Observation(feed_lost=True, feed_words="the camera was unplugged")
    >>> book, changes, announcements = step(book, lost, Instant(1.0, 1.0))
    >>> changes[0].reason
    'feed lost: the camera was unplugged'
    >>> [(a.alarm, a.occurrence) for a in announcements]
    [('feed', 1)]
    """
    entries, changes, announcements = [], [], []
    for rule, before in zip(book.rules, book.entries, strict=True):
        entry, change = _advanced(rule, before, observation, now)
        entries.append(entry)
        if change is None:
            continue
        changes.append(change)
        if change.after == "active-unacknowledged":
            announcements.append(_announcement(rule, change))
    stepped = msgspec.structs.replace(
        book, entries=tuple(entries), feed_lost=observation.feed_lost, patience=observation.patience
    )
    announcements.sort(key=lambda announcement: announcement.priority)
    return stepped, tuple(changes), tuple(announcements)


def acknowledge(
    book: AlarmBook, alarm: str | None, occurrence: int | None, now: Instant
) -> tuple[AlarmBook, tuple[AlarmChange, ...], str | None]:
    """Take one alarm, or with None all of them, as seen.

    ``occurrence`` names the rise that was seen: an acknowledgement that arrives late cannot
    silence the next one. The last value says in words why nothing was acknowledged, else None.
    """
    refusal = _refusal(book, alarm, occurrence)
    if refusal:
        return book, (), refusal
    entries, changes = [], []
    for rule, before in zip(book.rules, book.entries, strict=True):
        wanted = alarm in (None, rule.name)
        entry, change = machine.acknowledge(rule, before, now) if wanted else (before, None)
        entries.append(entry)
        if change is not None:
            changes.append(change)
    if not changes:
        return book, (), f"{alarm or 'no alarm'}: nothing to acknowledge"
    return msgspec.structs.replace(book, entries=tuple(entries)), tuple(changes), None


def statuses(book: AlarmBook, now: Instant) -> tuple[AlarmStatus, ...]:
    """Every alarm as a screen shows it now, feed first, then in the order of the rules."""
    return tuple(
        AlarmStatus(
            alarm=rule.name,
            kind=rule.kind,
            direction=rule.direction,
            state=entry.state,
            priority=rule.priority,
            occurrence=entry.occurrence,
            since=entry.since,
            reason=entry.reason,
            words=rule.words,
            advice=rule.advice,
            frozen=_frozen(book, rule, entry, now),
        )
        for rule, entry in zip(book.rules, book.entries, strict=True)
    )


def _advanced(rule: AlarmRule, entry: AlarmEntry, observation: Observation, now: Instant) -> machine.Step:
    if rule.kind == "feed":
        value = 1.0 if observation.feed_lost else 0.0
        return machine.advance(rule, entry, value, now, patience=_FOR_EVER, evidence=observation.feed_words)
    return machine.advance(rule, entry, observation.value(rule.name), now, patience=observation.patience)


def _announcement(rule: AlarmRule, change: AlarmChange) -> Announcement:
    return Announcement(
        alarm=rule.name,
        occurrence=change.occurrence,
        kind=rule.kind,
        direction=rule.direction,
        priority=rule.priority,
        words=rule.words,
        at=change.at,
    )


def _refusal(book: AlarmBook, alarm: str | None, occurrence: int | None) -> str | None:
    if alarm is None:
        return "an occurrence needs the name of its alarm" if occurrence is not None else None
    if alarm not in {rule.name for rule in book.rules}:
        return f"{alarm}: no alarm of that name"
    current = book.entry(alarm).occurrence
    if occurrence is not None and occurrence != current:
        return f"{alarm}: occurrence {occurrence} is not the present one, which is {current}"
    return None


def _frozen(book: AlarmBook, rule: AlarmRule, entry: AlarmEntry, now: Instant) -> bool:
    if rule.kind == "feed":
        return False
    return book.feed_lost or entry.seen is None or now.since(entry.seen) > book.patience
