"""One moment, told by two clocks."""

from __future__ import annotations

from datetime import UTC, datetime

import msgspec


class Instant(msgspec.Struct, frozen=True, order=True):
    """A moment: monotonic seconds for durations, UTC seconds for people and files.

    Only differences of ``monotonic`` mean anything; ``utc`` may step when the clock is set.

    >>> Instant(12.0, 0.0).since(Instant(10.5, 0.0))
    1.5
    """

    monotonic: float
    utc: float

    def since(self, earlier: Instant) -> float:
        """Seconds from ``earlier`` to this moment on the monotonic clock."""
        return self.monotonic - earlier.monotonic

    def text(self) -> str:
        """RFC 3339 UTC time with milliseconds.

        >>> Instant(0.0, 0.0).text()
        '1970-01-01T00:00:00.000Z'
        """
        moment = datetime.fromtimestamp(self.utc, UTC)
        return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")
