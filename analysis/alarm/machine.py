"""The state machine of one alarm. Vocabulary of ISA-18.2 / IEC 62682."""

from __future__ import annotations

import msgspec

from analysis.alarm import reason
from analysis.alarm.rule import AlarmRule
from analysis.model.alarm import AlarmChange, AlarmState
from analysis.model.instant import Instant

ROUNDING_SECONDS = 1e-6
"""Sums of frame intervals miss a whole second by a hair; that must not cost a frame."""

_ACTIVE = ("active-unacknowledged", "active-acknowledged")


class AlarmEntry(msgspec.Struct, frozen=True, kw_only=True):
    """Where one alarm stands.

    ``since`` is when its state began. ``exceeding`` and ``recovering`` are when the value
    last began to stay at or above the limit, or below the clear level; None when it does
    not. ``seen`` is when there last was a value.
    """

    since: Instant
    state: AlarmState = "normal"
    occurrence: int = 0
    reason: str = "has not risen yet"
    exceeding: Instant | None = None
    recovering: Instant | None = None
    seen: Instant | None = None

    @property
    def active(self) -> bool:
        """Whether the condition holds, acknowledged or not."""
        return self.state in _ACTIVE


Step = tuple[AlarmEntry, AlarmChange | None]


def advance(
    rule: AlarmRule, entry: AlarmEntry, value: float | None, now: Instant, *, patience: float, evidence: str = ""
) -> Step:
    """Show one value to one alarm.

    A missing value changes nothing, ever: it is not recovery. After a gap longer than
    ``patience`` seconds the clocks of both delays start again, because nobody knows what
    happened in between. For a feed alarm the value is 1 when the feed is lost, else 0.
    """
    if value is None:
        return entry, None
    limit, clear = (0.5, 0.5) if rule.limit is None or rule.clear is None else (rule.limit, rule.clear)
    unbroken = entry.seen is not None and now.since(entry.seen) <= patience
    exceeding = (entry.exceeding if unbroken and entry.exceeding else now) if value >= limit else None
    recovering = (entry.recovering if unbroken and entry.recovering else now) if value < clear else None
    entry = msgspec.structs.replace(entry, seen=now, exceeding=exceeding, recovering=recovering)
    told = value if rule.limit is not None else None
    if not entry.active and exceeding and _passed(exceeding, now, rule.on_delay):
        why = reason.rose(rule, value, now.since(exceeding), evidence)
        return _change(rule, entry, "active-unacknowledged", why, now, told)
    if entry.active and recovering and _passed(recovering, now, rule.off_delay):
        why = reason.returned(rule, value, now.since(recovering), evidence)
        seen = entry.state == "active-acknowledged" or rule.self_clearing
        return _change(rule, entry, "normal" if seen else "returned-unacknowledged", why, now, told)
    return entry, None


def acknowledge(rule: AlarmRule, entry: AlarmEntry, now: Instant) -> Step:
    """Take an alarm as seen; nothing changes where nothing waits to be seen."""
    if entry.state == "active-unacknowledged":
        return _change(rule, entry, "active-acknowledged", reason.acknowledged(True), now, None)
    if entry.state == "returned-unacknowledged":
        return _change(rule, entry, "normal", reason.acknowledged(False), now, None)
    return entry, None


def _passed(start: Instant, now: Instant, seconds: float) -> bool:
    return now.since(start) >= seconds - ROUNDING_SECONDS


def _change(rule: AlarmRule, entry: AlarmEntry, after: AlarmState, why: str, now: Instant, value: float | None) -> Step:
    rises = after == "active-unacknowledged"
    changed = msgspec.structs.replace(
        entry, state=after, since=now, reason=why, occurrence=entry.occurrence + 1 if rises else entry.occurrence
    )
    return changed, AlarmChange(
        alarm=rule.name,
        occurrence=changed.occurrence,
        before=entry.state,
        after=after,
        priority=rule.priority,
        reason=why,
        at=now,
        seconds=now.since(entry.since),
        value=value,
    )
