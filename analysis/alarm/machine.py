"""The state machine of one alarm. Vocabulary of ISA-18.2 / IEC 62682.

Two things stand side by side: the state (does the condition hold, was it seen, is a reset owed)
and the ways of being quiet. Quiet changes nothing but the sound: every value is still judged and
every change still told.
"""

from __future__ import annotations

from typing import TypeAlias

import msgspec

from analysis.alarm import reason, spell
from analysis.alarm.quiet import Quiet, refused_shelf
from analysis.alarm.rule import AlarmRule
from analysis.alarm.spell import Spell
from analysis.model.alarm import AlarmChange, AlarmState
from analysis.model.instant import Instant

ROUNDING_SECONDS = 1e-6
"""Sums of frame intervals miss a whole second by a hair; that must not cost a frame."""

OUT_OF_SERVICE = "out of service: "
"""How the reason of that change begins; what follows is the operator's own words."""

_ACTIVE = ("active-unacknowledged", "active-acknowledged")
_SEEN: dict[AlarmState, AlarmState] = {
    "active-unacknowledged": "active-acknowledged",
    "returned-unacknowledged": "normal",
    "latched-unacknowledged": "latched-acknowledged",
}


class AlarmEntry(msgspec.Struct, frozen=True, kw_only=True):
    """Where one alarm stands.

    ``since`` is when its state began. ``exceeding`` and ``recovering`` are when the value
    last began to stay at or beyond the limit, or on the good side of the clear level; None when
    it does not. ``seen`` is when there last was a value. ``heard`` is the last occurrence that was
    announced, by itself or in a summary, and ``sounded`` when.
    """

    since: Instant
    state: AlarmState = "normal"
    occurrence: int = 0
    reason: str = "has not risen yet"
    exceeding: Instant | None = None
    recovering: Instant | None = None
    seen: Instant | None = None
    value: float | None = None
    quiet: Quiet = Quiet()
    heard: int = 0
    sounded: Instant | None = None
    spell: Spell = Spell()

    @property
    def active(self) -> bool:
        """Whether the condition holds, acknowledged or not, or comes and goes."""
        return self.state in _ACTIVE

    @property
    def holds(self) -> bool:
        """Whether it is active and its condition is not away for a while, as that of one that comes and goes may be."""
        return self.active and not self.spell.lull

    @property
    def waits(self) -> bool:
        """Whether somebody ought to hear of it: it holds now by what was last measured, and nobody has seen it."""
        holds = self.seen is not None and self.recovering is None
        return self.state == "active-unacknowledged" and holds and not self.quiet.ways


Step: TypeAlias = tuple[AlarmEntry, AlarmChange | None]
Answer: TypeAlias = tuple[AlarmEntry, AlarmChange | None, str | None]
"""The entry after a command, the change it made, and why it was refused."""


def advance(
    rule: AlarmRule, entry: AlarmEntry, value: float | None, now: Instant, *, patience: float, evidence: str = ""
) -> Step:
    """Show one value to one alarm.

    A missing value changes nothing, ever: it is not recovery. After a gap longer than
    ``patience`` seconds the clocks of both delays start again, because nobody knows what
    happened in between. For an alarm without limits the value is 1 when the condition holds, else 0.
    What comes and goes returns only after a calm (:mod:`analysis.alarm.spell`).
    """
    if value is None:
        return entry, None
    unbroken = entry.seen is not None and now.since(entry.seen) <= patience
    exceeding = (entry.exceeding if unbroken and entry.exceeding else now) if rule.over(value) else None
    recovering = (entry.recovering if unbroken and entry.recovering else now) if rule.back(value) else None
    row = spell.shown(rule, entry.spell, value, now, active=entry.active, unbroken=unbroken)
    entry = msgspec.structs.replace(entry, seen=now, value=value, exceeding=exceeding, recovering=recovering, spell=row)
    told = value if rule.limit is not None else None
    if exceeding and _passed(exceeding, now, rule.on_delay) and not entry.holds:
        why = reason.rose(rule, value, now.since(exceeding), evidence)
        if not entry.active:
            return _in_a_row(rule, entry, spell.risen(rule, row, now), why, now, told)
        entry = _again(rule, entry, spell.come_again(row), why, now)
    if entry.active and recovering and _passed(recovering, now, rule.off_delay):
        why = reason.returned(rule, value, now.since(recovering), evidence)
        return _returned(rule, entry, why, now, told)
    worse = entry.spell.worse
    if worse and _passed(worse, now, rule.on_delay):
        why = reason.rose(rule, value, now.since(worse), "much worse than before")
        return _in_a_row(rule, entry, spell.worsened(entry.spell), why, now, told)
    return entry, None


def acknowledge(rule: AlarmRule, entry: AlarmEntry, now: Instant) -> Step:
    """Take an alarm as seen; nothing changes where nothing waits to be seen. Why it is there stays told as it was."""
    if entry.state not in _SEEN:
        return entry, None
    seen, change = changed(rule, entry, _SEEN[entry.state], reason.acknowledged(entry.active), now, None)
    return (msgspec.structs.replace(seen, reason=entry.reason) if seen.state != "normal" else seen), change


def reset(rule: AlarmRule, entry: AlarmEntry, now: Instant) -> Answer:
    """Let a latched alarm go, or end the coming and going of one whose condition is away.

    Refused while the condition holds, and for a latched one while nobody has seen it.
    """
    if entry.active and entry.spell.lull:
        calm = reason.span(spell.calm_for(entry.spell, now))
        return *changed(rule, entry, "normal", f"reset while it was away for {calm}", now, None), None
    match entry.state:
        case "latched-acknowledged":
            return *changed(rule, entry, "normal", "reset", now, None), None
        case "latched-unacknowledged":
            return entry, None, "acknowledge it before the reset"
        case "active-unacknowledged" | "active-acknowledged":
            return entry, None, "it cannot be reset while it is active"
        case _:
            return entry, None, "nothing to reset"


def shelve(rule: AlarmRule, entry: AlarmEntry, seconds: float, now: Instant) -> Answer:
    """Keep it quiet for a time, an hour at most. Shelving again sets the time anew."""
    refusal = refused_shelf(seconds)
    if refusal:
        return entry, None, refusal
    quiet = msgspec.structs.replace(entry.quiet, shelved_until=Instant(now.monotonic + seconds, now.utc + seconds))
    return *hushed(rule, entry, quiet, f"shelved for {reason.length(seconds)}", now), None


def unshelve(rule: AlarmRule, entry: AlarmEntry, now: Instant, why: str = "taken off the shelf") -> Answer:
    """End a shelf; what still holds unseen is heard again."""
    if entry.quiet.shelved_until is None:
        return entry, None, "it is not shelved"
    quiet = msgspec.structs.replace(entry.quiet, shelved_until=None)
    return *hushed(rule, msgspec.structs.replace(entry, heard=0), quiet, why, now), None


def retire(rule: AlarmRule, entry: AlarmEntry, why: str, now: Instant) -> Answer:
    """Take it out of service, with a reason, until somebody puts it back."""
    if not why.strip():
        return entry, None, "say why it is taken out of service"
    if entry.quiet.out_of_service is not None:
        return entry, None, f"it is out of service already: {entry.quiet.out_of_service}"
    quiet = msgspec.structs.replace(entry.quiet, out_of_service=why.strip())
    return *hushed(rule, entry, quiet, f"{OUT_OF_SERVICE}{why.strip()}", now), None


def restore_service(rule: AlarmRule, entry: AlarmEntry, now: Instant) -> Answer:
    """Put it back in service; what still holds unseen is heard."""
    if entry.quiet.out_of_service is None:
        return entry, None, "it is in service"
    quiet = msgspec.structs.replace(entry.quiet, out_of_service=None)
    return *hushed(rule, msgspec.structs.replace(entry, heard=0), quiet, "back in service", now), None


def suppress(rule: AlarmRule, entry: AlarmEntry, by: str | None, now: Instant) -> Step:
    """Let another alarm speak for this one, or with None no longer. Not told twice, and what was heard stays heard."""
    if entry.quiet.suppressed_by == by:
        return entry, None
    quiet = msgspec.structs.replace(entry.quiet, suppressed_by=by)
    why = f"suppressed by {by}" if by else f"no longer suppressed by {entry.quiet.suppressed_by}"
    return hushed(rule, entry, quiet, why, now)


def expire(rule: AlarmRule, entry: AlarmEntry, now: Instant) -> Step:
    """End a shelf whose time is over."""
    until = entry.quiet.shelved_until
    if until is None or not _passed(until, now, 0.0):
        return entry, None
    after, change, _ = unshelve(rule, entry, now, "its time on the shelf is over")
    return after, change


def changed(
    rule: AlarmRule, entry: AlarmEntry, after: AlarmState, why: str, now: Instant, value: float | None
) -> tuple[AlarmEntry, AlarmChange]:
    """The entry in another state, and the change to record. Becoming unacknowledged while active is a new rise."""
    rises = after == "active-unacknowledged"
    moved = msgspec.structs.replace(
        entry, state=after, since=now, reason=why, occurrence=entry.occurrence + 1 if rises else entry.occurrence
    )
    if entry.active and not moved.active:
        moved = msgspec.structs.replace(moved, spell=spell.returned(rule, moved.spell, now))
    return moved, _told(rule, entry, moved, why, now, value)


def hushed(rule: AlarmRule, entry: AlarmEntry, quiet: Quiet, why: str, now: Instant) -> tuple[AlarmEntry, AlarmChange]:
    """The entry with other ways of being quiet, and the change to record; state, reason and times stay."""
    moved = msgspec.structs.replace(entry, quiet=quiet)
    return moved, _told(rule, entry, moved, why, now, None)


def _in_a_row(
    rule: AlarmRule, entry: AlarmEntry, row: Spell, why: str, now: Instant, value: float | None
) -> tuple[AlarmEntry, AlarmChange]:
    """A rise that is told, with its place in the row."""
    entry = msgspec.structs.replace(entry, spell=row)
    return changed(rule, entry, "active-unacknowledged", _with_row(rule, row, why, now), now, value)


def _again(rule: AlarmRule, entry: AlarmEntry, row: Spell, why: str, now: Instant) -> AlarmEntry:
    """The condition is back in an alarm that comes and goes: known already, so only counted."""
    return msgspec.structs.replace(entry, spell=row, reason=_with_row(rule, row, why, now))


def _returned(rule: AlarmRule, entry: AlarmEntry, why: str, now: Instant, value: float | None) -> Step:
    row = entry.spell
    if not spell.comes_and_goes(rule, row):
        return changed(rule, entry, _after_return(rule, entry.state), why, now, value)
    if spell.calm_for(row, now) < rule.calm - ROUNDING_SECONDS:
        return (entry if row.lull else msgspec.structs.replace(entry, spell=spell.lulled(row))), None
    since = now.since(row.first) - rule.calm if row.first else None
    why = reason.with_more(why, reason.came_and_went(row.rises, since, rule.calm))
    return changed(rule, entry, _after_return(rule, entry.state), why, now, value)


def _with_row(rule: AlarmRule, row: Spell, why: str, now: Instant) -> str:
    if not spell.comes_and_goes(rule, row):
        return why
    return reason.with_more(why, reason.in_a_row(row.rises, now.since(row.first) if row.first else None))


def _after_return(rule: AlarmRule, state: AlarmState) -> AlarmState:
    seen = state == "active-acknowledged"
    if rule.latching:
        return "latched-acknowledged" if seen else "latched-unacknowledged"
    return "normal" if seen or rule.self_clearing else "returned-unacknowledged"


def _passed(start: Instant, now: Instant, seconds: float) -> bool:
    return now.since(start) >= seconds - ROUNDING_SECONDS


def _told(
    rule: AlarmRule, before: AlarmEntry, after: AlarmEntry, why: str, now: Instant, value: float | None
) -> AlarmChange:
    return AlarmChange(
        alarm=rule.name,
        occurrence=after.occurrence,
        before=before.state,
        after=after.state,
        priority=rule.priority,
        reason=why,
        at=now,
        seconds=now.since(before.since),
        value=value,
        quiet_before=before.quiet.ways,
        quiet=after.quiet.ways,
        until=after.quiet.shelved_until,
        rises=after.spell.rises if after.active else before.spell.rises,
    )
