"""What an alarm watches for, as plain data: limit, clear level, delays, words."""

from __future__ import annotations

import math

import msgspec

from analysis.model.alarm import AlarmKind, Direction

HIGHEST_PRIORITY, LOWEST_PRIORITY = 1, 3


class AlarmRule(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One alarm: when it rises, when it returns, how urgent it is and what it says.

    It rises when the value has stayed at or above ``limit`` for ``on_delay`` seconds, and
    returns when the value has stayed below ``clear`` for ``off_delay`` seconds. ``clear`` is
    never above ``limit``; the room between them is the deadband, where nothing changes.
    A rule of kind ``feed`` has neither: the state of the feed decides.

    ``priority`` runs from 1 (act now) to 3. ``measured`` is how a value is told, with
    ``{value}`` standing for the number and its ``unit``. ``self_clearing`` lets an alarm that
    nobody acknowledged end by itself when its condition ends; without it the alarm waits as
    "returned-unacknowledged" until somebody has seen it.

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
    on_delay: float = 0.0
    off_delay: float = 0.0
    self_clearing: bool = False

    def __post_init__(self) -> None:
        fault = self._fault()
        if fault:
            raise ValueError(f"{self.name or 'alarm'}: {fault}")

    def _fault(self) -> str:
        if not self.name or not self.words:
            return "name and words must say something"
        if not HIGHEST_PRIORITY <= self.priority <= LOWEST_PRIORITY:
            return f"priority {self.priority} is not 1, 2 or 3"
        for field, seconds in (("on_delay", self.on_delay), ("off_delay", self.off_delay)):
            if not (math.isfinite(seconds) and seconds >= 0):
                return f"{field} {seconds:g} is not a number of seconds from 0 up"
        if self.kind == "feed":
            return "a feed alarm has no limit" if (self.limit, self.clear) != (None, None) else ""
        return self._fault_of_levels()

    def _fault_of_levels(self) -> str:
        if self.limit is None or self.clear is None:
            return "limit and clear are both needed"
        if not (math.isfinite(self.limit) and math.isfinite(self.clear)):
            return "limit and clear must be numbers"
        if self.clear > self.limit:
            return f"clear {self.clear:g} is above limit {self.limit:g}"
        if "{value}" not in self.measured:
            return "measured must hold {value}"
        return ""
