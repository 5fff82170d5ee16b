"""What an alarm watches for, as plain data: limit, clear level, delays, words."""

from __future__ import annotations

import math
from typing import Literal

import msgspec

from analysis.model.alarm import AlarmKind, Direction

HIGHEST_PRIORITY, LOWEST_PRIORITY = 1, 3
GRAVEST_REPEAT_SECONDS = 60.0
"""An alarm of priority 1 that nobody acknowledged is heard again after this long."""


class AlarmRule(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One alarm: when it rises, when it returns, how urgent it is and what it says.

    It rises when the value has stayed at or above ``limit`` for ``on_delay`` seconds, and
    returns when the value has stayed below ``clear`` for ``off_delay`` seconds. ``clear`` is
    never above ``limit``; the room between them is the deadband, where nothing changes. With
    ``when="below"`` all of this is turned over: it rises at or under the limit and returns over
    the clear level, which is never under the limit. A rule with neither limit nor clear level
    judges a condition that is simply there (1) or not (0); a rule of kind ``feed`` always does,
    and the state of the feed decides.

    ``priority`` runs from 1 (act now) to 3. ``measured`` is how a value is told, with
    ``{value}`` standing for the number and its ``unit``; a value at or beyond ``far`` on the good side is no
    figure but stands for "not in sight", and is told as ``far_words``. ``self_clearing`` lets an alarm that
    nobody acknowledged end by itself when its condition ends; without it the alarm waits as
    "returned-unacknowledged" until somebody has seen it. ``latching`` keeps it, even when it was
    seen, until somebody resets it. ``repeat`` is after how many seconds an alarm nobody
    acknowledged is heard again, 0 for never; None leaves that to the priority.

    An alarm that has risen ``often`` times in a row, each time at most ``calm`` seconds after it had returned, or
    twice within a tenth of that, stays active until it has been calm for that long (:mod:`analysis.alarm.spell`); 0
    for an alarm of which every rise is told.

    ``of_picture`` means that without a picture there is nothing to judge. While an alarm named
    in ``hushed_by`` is active this one makes no sound: both have the same cause.

    Raises ``ValueError`` naming the field when a number or text cannot be meant.

    >>> from analysis.alarm.defaults import HIGHLIGHTS
    >>> msgspec.structs.replace(HIGHLIGHTS, clear=2.0)
    Traceback (most recent call last):
    ...
    ValueError: highlights: clear 2 is above limit 1
    """

    name: str
    kind: AlarmKind
    direction: Direction
    priority: int
    words: str
    advice: str
    measured: str = "{value}"
    unit: str = "%"
    limit: float | None = None
    clear: float | None = None
    far: float | None = None
    far_words: str = ""
    when: Literal["above", "below"] = "above"
    on_delay: float = 0.0
    off_delay: float = 0.0
    self_clearing: bool = False
    latching: bool = False
    repeat: float | None = None
    often: int = 0
    calm: float = 600.0
    of_picture: bool = True
    hushed_by: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        fault = self._fault()
        if fault:
            raise ValueError(f"{self.name or 'alarm'}: {fault}")

    @property
    def repeat_seconds(self) -> float | None:
        """After how long it is heard again while nobody acknowledged it; None for never."""
        if self.repeat is None:
            return GRAVEST_REPEAT_SECONDS if self.priority == HIGHEST_PRIORITY else None
        return self.repeat or None

    def over(self, value: float) -> bool:
        """Whether a value is at or beyond the limit."""
        limit = 0.5 if self.limit is None else self.limit
        return value >= limit if self.when == "above" else value <= limit

    def back(self, value: float) -> bool:
        """Whether a value is on the good side of the clear level."""
        clear = 0.5 if self.clear is None else self.clear
        return value < clear if self.when == "above" else value > clear

    def out_of_sight(self, value: float) -> bool:
        """Whether a value is so far on the good side that it is told in words and not as a figure."""
        if self.far is None or not self.back(value):
            return False
        return value >= self.far if self.when == "below" else value <= self.far

    def _fault(self) -> str:
        if not self.name or not self.words:
            return "name and words must say something"
        if not HIGHEST_PRIORITY <= self.priority <= LOWEST_PRIORITY:
            return f"priority {self.priority} is not 1, 2 or 3"
        delays = (
            ("on_delay", self.on_delay),
            ("off_delay", self.off_delay),
            ("repeat", self.repeat or 0.0),
            ("calm", self.calm),
        )
        for field, seconds in delays:
            if not (math.isfinite(seconds) and seconds >= 0):
                return f"{field} {seconds:g} is not a number of seconds from 0 up"
        if self.often < 0 or self.often == 1:
            return f"often {self.often} is neither 0 (every rise is told) nor 2 or more"
        if self.often and self.calm < self.off_delay:
            return f"calm {self.calm:g} is shorter than off_delay {self.off_delay:g}"
        if self.latching and self.self_clearing:
            return "an alarm that latches cannot clear by itself"
        if self.name in self.hushed_by:
            return "an alarm cannot be hushed by itself"
        if self.limit is None and self.clear is None:
            return ""
        return "a feed alarm has no limit" if self.kind == "feed" else self._fault_of_levels()

    def _fault_of_levels(self) -> str:
        if self.limit is None or self.clear is None:
            return "limit and clear are both needed"
        if not (math.isfinite(self.limit) and math.isfinite(self.clear)):
            return "limit and clear must be numbers"
        if self.when == "above" and self.clear > self.limit:
            return f"clear {self.clear:g} is above limit {self.limit:g}"
        if self.when == "below" and self.clear < self.limit:
            return f"clear {self.clear:g} is below limit {self.limit:g}"
        if "{value}" not in self.measured:
            return "measured must hold {value}"
        if (self.far is None) != (not self.far_words):
            return "far and far_words are needed together"
        return ""
