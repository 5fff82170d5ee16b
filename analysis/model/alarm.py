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
]
Direction = Literal["up", "down", "none"]
AlarmKind = Literal["highlights", "shadows", "feed"]


class AlarmChange(msgspec.Struct, frozen=True, kw_only=True, rename={"before": "from", "after": "to"}):
    """One change of one alarm. ``occurrence`` counts the times it rose, from 1.

    ``seconds`` is the time spent in the state that was left. ``value`` is what was
    measured when it changed, in the alarm's own unit, None for a feed alarm.
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


class AlarmStatus(msgspec.Struct, frozen=True, kw_only=True):
    """An alarm as a screen shows it now. ``frozen`` means its data is missing and it is held as it was."""

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


class Announcement(msgspec.Struct, frozen=True, kw_only=True):
    """Something to be heard, once: which occurrence of which alarm, and what kind of sound."""

    alarm: str
    occurrence: int
    kind: AlarmKind
    direction: Direction
    priority: int
    words: str
    at: Instant
