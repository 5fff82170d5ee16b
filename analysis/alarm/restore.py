"""A restart of the watch: alarms go on where the journal left them."""

from __future__ import annotations

import msgspec

from analysis.alarm import machine
from analysis.alarm.book import AlarmBook
from analysis.alarm.machine import AlarmEntry
from analysis.alarm.quiet import MOST_SHELVED_SECONDS, Quiet
from analysis.alarm.rule import AlarmRule
from analysis.alarm.spell import Spell
from analysis.model.alarm import AlarmChange, SavedAlarms
from analysis.model.instant import Instant

STALE_SECONDS = 60.0
"""After a longer absence nobody knows whether it is still the same trouble: an acknowledgement no longer holds."""


def restore(book: AlarmBook, saved: SavedAlarms, now: Instant) -> tuple[AlarmBook, tuple[AlarmChange, ...]]:
    """A new book with the states of an earlier run, and the changes that the restart itself made.

    Occurrences go on counting, so that an acknowledgement sent before the restart cannot silence what rises
    after it. Within a minute everything stays as it was: what was acknowledged stays so and makes no sound,
    what was not is heard once more when a picture shows that it still holds. After a longer absence an
    acknowledged alarm is unacknowledged again, as a new occurrence, and heard if it still holds. Shelves end
    at their own time, by the wall clock; what is out of service stays so. What comes and goes still does, and
    must be calm anew. Alarms without a rule in this book are passed over. Monotonic times of an earlier run
    mean nothing here, so UTC bridges the gap; a clock that was set back counts as no gap.
    """
    away = max(0.0, now.utc - saved.alive.utc)
    entries, changes = [], []
    for rule, entry in zip(book.rules, book.entries, strict=True):
        past = [change for change in saved.changes if change.alarm == rule.name]
        if not past:
            entries.append(entry)
            continue
        restored, made = _restored(rule, past, away, now)
        entries.append(restored)
        if made is not None:
            changes.append(made)
    return msgspec.structs.replace(book, entries=tuple(entries)), tuple(changes)


def _restored(
    rule: AlarmRule, past: list[AlarmChange], away: float, now: Instant
) -> tuple[AlarmEntry, AlarmChange | None]:
    last = past[-1]
    moved = next((change for change in reversed(past) if change.before != change.after), None)
    entry = AlarmEntry(
        since=_here(Instant(last.at.monotonic, last.at.utc - last.seconds) if moved is None else moved.at, now),
        state=last.after,
        occurrence=last.occurrence,
        reason=_why(past, moved or last),
        quiet=Quiet(
            # What suppresses it is judged anew.
            shelved_until=_shelf(last.until, now) if last.until else None,
            out_of_service=_service_words(past) if "out of service" in last.quiet else None,
        ),
        heard=0 if last.after == "active-unacknowledged" else last.occurrence,
        spell=_row(last, moved, now),
    )
    if last.after == "active-acknowledged" and away >= STALE_SECONDS:
        why = f"the watch was away for {away:.0f} s: acknowledged too long ago"
        return machine.changed(rule, entry, "active-unacknowledged", why, now, None)
    return entry, None


def _why(past: list[AlarmChange], moved: AlarmChange) -> str:
    """Why an alarm stands as it does; that somebody has seen it is no reason for it."""
    if not moved.after.endswith("-acknowledged"):
        return moved.reason
    seen = moved.before
    return next((change.reason for change in reversed(past) if change.after == seen != change.before), moved.reason)


def _row(last: AlarmChange, moved: AlarmChange | None, now: Instant) -> Spell:
    """Its rises in a row: how long it was calm in an active alarm nobody knows, so that counts from now."""
    if last.after.startswith("active"):
        return Spell(rises=last.rises, bad=now)
    return Spell(rises=last.rises, left=_here(moved.at, now)) if moved is not None else Spell()


def _here(then: Instant, now: Instant) -> Instant:
    """A moment of an earlier run on this run's clock; never in the future, whatever the wall clock did."""
    utc = min(then.utc, now.utc)
    return Instant(now.monotonic + (utc - now.utc), utc)


def _shelf(until: Instant, now: Instant) -> Instant:
    """When a shelf ends; a wall clock that was set back makes it no longer than a new one could be."""
    left = min(until.utc - now.utc, MOST_SHELVED_SECONDS)
    return Instant(now.monotonic + left, now.utc + left)


def _service_words(past: list[AlarmChange]) -> str:
    for change in reversed(past):
        if "out of service" in change.quiet and "out of service" not in change.quiet_before:
            return change.reason.removeprefix(machine.OUT_OF_SERVICE)
    return "since an earlier run"
