"""Room left where the journal lies, looked at now and then."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from analysis.model.instant import Instant

ROOM_SECONDS = 10.0


class RoomGauge:
    """Asks ``left`` (GiB, None where nobody can say) every ten seconds, and says what it last heard."""

    def __init__(self, left: Callable[[], float | None] | None) -> None:
        self._left = left
        self._seen: Instant | None = None
        self._gibibytes: float | None = None

    def values(self, now: Instant) -> Mapping[str, float]:
        """For the alarm about the disk."""
        if self._left is None:
            return {}
        if self._seen is None or now.since(self._seen) >= ROOM_SECONDS:
            self._seen, self._gibibytes = now, self._left()
        return {} if self._gibibytes is None else {"disk": self._gibibytes}
