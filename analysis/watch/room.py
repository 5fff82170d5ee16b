"""Room left where the journal lies, looked at now and then."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

from analysis.model.instant import Instant

ROOM_SECONDS = 10.0
LONGEST_HOURS = 1000.0
"""What lasts longer than this lasts as long as anybody asks, and so does what nothing fills."""


class RoomLeft(NamedTuple):
    """GiB that are free, and for how many hours they last if it goes on like this; None where nothing fills them."""

    gibibytes: float
    hours: float | None = None


class RoomGauge:
    """Asks ``left`` (None where nobody can say) every ten seconds, and says what it last heard.

    >>> gauge = RoomGauge(lambda: RoomLeft(1.5, 12.0))
    >>> gauge.values(Instant(0.0, 0.0))
    {'disk': 1.5, 'disk-full': 1.5, 'disk-hours': 12.0}
    """

    def __init__(self, left: Callable[[], RoomLeft | None] | None) -> None:
        self._left = left
        self._seen: Instant | None = None
        self._known: RoomLeft | None = None

    def values(self, now: Instant) -> Mapping[str, float]:
        """For the alarms about the disk."""
        if self._left is None:
            return {}
        if self._seen is None or now.since(self._seen) >= ROOM_SECONDS:
            self._seen, self._known = now, self._left()
        if self._known is None:
            return {}
        room, hours = self._known
        lasts = LONGEST_HOURS if hours is None else min(hours, LONGEST_HOURS)
        return {"disk": room, "disk-full": room, "disk-hours": lasts}
