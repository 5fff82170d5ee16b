"""All alarms of a watch: one frozen value, stepped by observations."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TypeAlias

import msgspec

from analysis.alarm import machine, reason
from analysis.alarm.flood import SEVERAL, Flood, FloodLimits, passed
from analysis.alarm.machine import AlarmEntry
from analysis.alarm.observation import PATIENCE_SECONDS, Observation
from analysis.alarm.rule import AlarmRule
from analysis.alarm.spell import announced_words, calm_for, comes_and_goes
from analysis.model.alarm import AlarmChange, AlarmStatus, Announcement
from analysis.model.instant import Instant

_FOR_EVER = float("inf")


class AlarmBook(msgspec.Struct, frozen=True, kw_only=True):
    """The rules and where each alarm stands, in the same order."""

    rules: tuple[AlarmRule, ...]
    entries: tuple[AlarmEntry, ...]
    feed_lost: bool = False
    patience: float = PATIENCE_SECONDS
    flood: Flood = Flood()

    def entry(self, alarm: str) -> AlarmEntry:
        """Where one alarm stands; ``KeyError`` for a name that has no rule."""
        for rule, entry in zip(self.rules, self.entries, strict=True):
            if rule.name == alarm:
                return entry
        raise KeyError(alarm)


Answered: TypeAlias = tuple[AlarmBook, tuple[AlarmChange, ...], str | None]
"""The book after a command, what it changed, and in words why it was refused, else None."""


def opened(rules: Iterable[AlarmRule], now: Instant, flood: FloodLimits | None = None) -> AlarmBook:
    """A new book with every alarm normal; ``ValueError`` when names of rules cannot be told apart."""
    # The feed goes first: in any list of changes its loss is told before what it froze.
    ordered = tuple(sorted(rules, key=lambda rule: rule.kind != "feed"))
    names = [rule.name for rule in ordered]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise ValueError(f"two alarms are called {twice[0]}")
    if SEVERAL in names:
        raise ValueError(f"no alarm may be called {SEVERAL}: summaries are")
    entries = tuple(AlarmEntry(since=now) for _ in ordered)
    return AlarmBook(rules=ordered, entries=entries, flood=Flood(limits=flood or FloodLimits()))


def step(
    book: AlarmBook, observation: Observation, now: Instant
) -> tuple[AlarmBook, tuple[AlarmChange, ...], tuple[Announcement, ...]]:
    """Show all alarms what is measured now; say what changed and what is to be heard.

    While the feed is lost the feed alarm speaks and those of the picture stay as they were. Each
    rise is announced once, the most urgent first: at once, or when the alarm is no longer quiet
    and still holds, or within a summary when there are too many. What nobody acknowledges is
    announced again where its rule wants that.

    >>> from analysis.alarm.defaults import DEFAULT_RULES
    >>> book = opened(DEFAULT_RULES, Instant(0.0, 0.0))
    >>> lost = Observation(feed_lost=True, feed_words="the camera was unplugged")
    >>> book, changes, announcements = step(book, lost, Instant(1.0, 1.0))
    >>> changes[0].reason
    'feed lost: the camera was unplugged'
    >>> [(a.alarm, a.occurrence) for a in announcements]
    [('feed', 1)]
    """
    entries: list[AlarmEntry] = []
    changes: list[AlarmChange] = []
    for rule, before in zip(book.rules, book.entries, strict=True):
        entry, change = _advanced(rule, before, observation, now)
        entry, ended = machine.expire(rule, entry, now)
        entries.append(entry)
        changes += [c for c in (change, ended) if c is not None]
    changes += _suppressed(book.rules, entries, now)
    stepped = msgspec.structs.replace(
        book, entries=tuple(entries), feed_lost=observation.feed_lost, patience=observation.patience
    )
    stepped, announcements = _announced(stepped, observation.said, now)
    return stepped, tuple(changes), announcements


def acknowledge(book: AlarmBook, alarm: str | None, occurrence: int | None, now: Instant) -> Answered:
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
    pairs = tuple(zip(book.rules, book.entries, strict=True))
    blind = book.feed_lost or not any(rule.of_picture and _fresh(book, entry, now) for rule, entry in pairs)
    return tuple(
        AlarmStatus(
            alarm=rule.name,
            kind=rule.kind,
            direction=rule.direction,
            state=entry.state,
            priority=rule.priority,
            occurrence=entry.occurrence,
            since=entry.since,
            reason=_reason(entry, now),
            words=rule.words,
            advice=rule.advice,
            # What is normal and was never shown a value is not held as it was: there is nothing to hold.
            frozen=rule.of_picture
            and rule.kind != "feed"
            and (blind or (entry.state != "normal" and not _fresh(book, entry, now))),
            quiet=entry.quiet.ways,
            shelved_seconds=entry.quiet.left(now),
            quiet_words=entry.quiet.words(now),
            lull=entry.active and entry.spell.lull,
            # What cannot be judged now has no value now: an old one never passes for a new one.
            measured=reason.measured(rule, entry.value) if _judged(book, rule, entry, now) else "",
            limits=reason.limits(rule),
        )
        for rule, entry in pairs
    )


def _reason(entry: AlarmEntry, now: Instant) -> str:
    away = entry.active and entry.spell.lull
    return reason.with_more(entry.reason, f"away for {reason.span(calm_for(entry.spell, now))}" if away else "")


def _advanced(rule: AlarmRule, entry: AlarmEntry, observation: Observation, now: Instant) -> machine.Step:
    if rule.kind == "feed":
        value = 1.0 if observation.feed_lost else 0.0
        return machine.advance(rule, entry, value, now, patience=_FOR_EVER, evidence=observation.feed_words)
    # What is not of the picture is looked at in its own time; seldom is not the same as broken off.
    return machine.advance(
        rule,
        entry,
        observation.value(rule.name, of_picture=rule.of_picture),
        now,
        patience=observation.patience if rule.of_picture else _FOR_EVER,
        evidence=observation.words.get(rule.name, observation.said.get(rule.name, "")),
    )


def _suppressed(rules: Sequence[AlarmRule], entries: list[AlarmEntry], now: Instant) -> list[AlarmChange]:
    """Lets the active alarms hush those that name them; told only where there is something to hush."""
    active = {rule.name: (rule.kind, entry.holds) for rule, entry in zip(rules, entries, strict=True) if entry.active}
    changes = []
    for place, (rule, entry) in enumerate(zip(rules, entries, strict=True)):
        # While one that comes and goes is away it speaks for its own kind only: of that it is known already.
        speaking = (
            name for name in rule.hushed_by if name in active and (active[name][1] or active[name][0] == rule.kind)
        )
        by = next(speaking, None)
        entries[place], change = machine.suppress(rule, entry, by, now)
        # One that comes and goes is suppressed and back as often as it does: known already, and no news.
        if change is not None and entry.state != "normal" and not comes_and_goes(rule, entry.spell):
            changes.append(change)
    return changes


def _announced(book: AlarmBook, said: Mapping[str, str], now: Instant) -> tuple[AlarmBook, tuple[Announcement, ...]]:
    wanted = [
        _announcement(rule, entry, said.get(rule.name, ""), now)
        for rule, entry in zip(book.rules, book.entries, strict=True)
        if _wants(book, rule, entry, now)
    ]
    if not wanted and not book.flood.held and not book.flood.flooding:
        return book, ()
    wanted.sort(key=lambda announcement: announcement.priority)
    flood, heard, done = passed(book.flood, tuple(wanted), now)
    entries = tuple(
        msgspec.structs.replace(entry, heard=entry.occurrence, sounded=now) if rule.name in done else entry
        for rule, entry in zip(book.rules, book.entries, strict=True)
    )
    return msgspec.structs.replace(book, entries=entries, flood=flood), heard


def _wants(book: AlarmBook, rule: AlarmRule, entry: AlarmEntry, now: Instant) -> bool:
    """Whether it is to be heard now, for the first time or again."""
    if not entry.waits or not _judged(book, rule, entry, now):
        return False
    if entry.heard < entry.occurrence or entry.sounded is None:
        return True
    repeat = rule.repeat_seconds
    return repeat is not None and now.since(entry.sounded) >= repeat - machine.ROUNDING_SECONDS


def _judged(book: AlarmBook, rule: AlarmRule, entry: AlarmEntry, now: Instant) -> bool:
    return not rule.of_picture or rule.kind == "feed" or (not book.feed_lost and _fresh(book, entry, now))


def _fresh(book: AlarmBook, entry: AlarmEntry, now: Instant) -> bool:
    return entry.seen is not None and now.since(entry.seen) <= book.patience


def _announcement(rule: AlarmRule, entry: AlarmEntry, said: str, now: Instant) -> Announcement:
    return Announcement(
        alarm=rule.name,
        occurrence=entry.occurrence,
        kind=rule.kind,
        direction=rule.direction,
        priority=rule.priority,
        words=", ".join(part for part in (announced_words(rule, entry.spell), said) if part),
        at=now,
        since=entry.since,
        again=entry.heard == entry.occurrence and entry.sounded is not None,
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
