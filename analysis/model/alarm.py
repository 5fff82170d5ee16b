"""What an alarm is, and what happened to it. Vocabulary of ISA-18.2 / IEC 62682."""

from __future__ import annotations

from typing import Literal

import msgspec

from analysis.model.instant import Instant

AlarmState = Literal[
    "normal",
    "active-unacknowledged",
    "active-acknowledged",
    "returned-unacknowledged",
    "latched-unacknowledged",
    "latched-acknowledged",
]
"""Where the condition and the operator stand. Latched: the condition is over and a reset is still owed."""

QuietWay = Literal["shelved", "suppressed", "out of service"]
"""Why an alarm makes no sound: an operator for a time, another alarm, maintenance. It is judged all the same."""

Direction = Literal["up", "down", "none"]
AlarmKind = Literal["highlights", "shadows", "feed", "skin", "light", "hold", "picture", "disk"]


class AlarmChange(msgspec.Struct, frozen=True, kw_only=True, rename={"before": "from", "after": "to"}):
    """One change of one alarm. ``occurrence`` counts the times it rose, from 1.

    ``seconds`` is the time spent in the state that was left. ``value`` is what was
    measured when it changed, in the alarm's own unit, None for a feed alarm.

    ``quiet_before`` and ``quiet`` are the ways in which the alarm was and is quiet; when only
    they differ, ``before`` and ``after`` are the same state. ``until`` is when a shelf ends.
    ``rises`` is how often it has risen in a row, without a longer calm between; 0 before its first rise.
    """

    alarm: str
    occurrence: int
    before: AlarmState
    after: AlarmState
    priority: int
    reason: str
    at: Instant
    seconds: float
    value: float | None = None
    quiet_before: tuple[QuietWay, ...] = ()
    quiet: tuple[QuietWay, ...] = ()
    until: Instant | None = None
    rises: int = 0


class AlarmStatus(msgspec.Struct, frozen=True, kw_only=True):
    """An alarm as a screen shows it now. ``frozen`` means its data is missing and it is held as it was.

    ``quiet`` lists why it makes no sound now, if it makes none; ``shelved_seconds`` is what is
    left of a shelf, ``quiet_words`` tells all of it in words. ``measured`` is the newest value in words and
    ``limits`` when it rises and returns; both are empty where there is no number.
    """

    alarm: str
    kind: AlarmKind
    direction: Direction
    state: AlarmState
    priority: int
    occurrence: int
    since: Instant
    reason: str
    words: str
    advice: str
    frozen: bool = False
    quiet: tuple[QuietWay, ...] = ()
    shelved_seconds: float = 0.0
    quiet_words: str = ""
    lull: bool = False
    measured: str = ""
    limits: str = ""


class Announcement(msgspec.Struct, frozen=True, kw_only=True):
    """Something to be heard, once: which occurrence of which alarm, and what kind of sound.

    ``since`` is when the alarm rose, which may be well before ``at`` when it was quiet until
    now. ``again`` marks a reminder of an alarm that nobody acknowledged. ``counts`` is above
    one where this stands for that many alarms at once; ``alarm`` is then ``several``.
    """

    alarm: str
    occurrence: int
    kind: AlarmKind
    direction: Direction
    priority: int
    words: str
    at: Instant
    since: Instant | None = None
    again: bool = False
    counts: int = 1


class SavedAlarms(msgspec.Struct, frozen=True, kw_only=True):
    """What a journal remembers of the alarms, and when the watch was last alive.

    ``changes`` are in order of time and hold for each alarm at least its last change, the last that
    moved its state, the last that left it unacknowledged, and the last that took it out of service.
    """

    alive: Instant
    changes: tuple[AlarmChange, ...] = ()


def named_state(state: AlarmState, quiet: tuple[QuietWay, ...]) -> str:
    """One word for both: the way in which it is quiet goes before the state (ISA-18.2's G, H and I).

    >>> named_state("active-unacknowledged", ("shelved",)), named_state("normal", ())
    ('shelved', 'normal')
    """
    return next((way for way in ("out of service", "suppressed", "shelved") if way in quiet), state)
