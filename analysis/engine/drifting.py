"""Whether the picture is to be judged against its hold yet."""

from __future__ import annotations

from collections.abc import Mapping

from analysis.alarm.values import beyond_hold
from analysis.model.instant import Instant

MATCHED_STOPS = 0.2
MATCHED_SECONDS = 2.0
"""So near the hold, for so long, the picture counts as matched: from then on leaving it is drift."""
NOTHING: Mapping[str, float] = {"drift-up": 0.0, "drift-down": 0.0}
"""No drift: what is told where there is nothing to drift from."""


class DriftWatch:
    """Tells the drift alarms how far the picture lies from the chosen hold, once it has been matched to it.

    A hold chosen for the next set-up lies off until the operator has matched it; nothing should ring while they do.
    A hold that was just kept is matched from the start. Without a hold there is nothing to drift from.

    >>> watch, t = DriftWatch(), Instant(0.0, 0.0)
    >>> watch.values("bench", 1.5, t), watch.values("bench", 0.1, t)["drift-up"]
    ({'drift-up': 0.0, 'drift-down': 0.0}, 0.0)
    >>> watch.values("bench", 0.1, Instant(2.0, 2.0))["drift-up"], watch.values("bench", 0.5, Instant(3.0, 3.0))
    (0.1, {'drift-up': 0.5, 'drift-down': -0.5})
    """

    def __init__(self) -> None:
        self._hold: str | None = None
        self._near_since: Instant | None = None
        self._matched = False

    @property
    def matched(self) -> bool:
        """Whether leaving the hold would be told."""
        return self._matched

    def kept(self, hold: str) -> None:
        """This hold was made from the picture as it is."""
        self._hold, self._near_since, self._matched = hold, None, True

    def values(self, hold: str | None, stops: float | None, now: Instant) -> Mapping[str, float]:
        """For the two drift alarms. ``hold`` is the chosen one's name, ``stops`` how far above it the picture lies.

        Empty where there is a hold and nothing was measured against it: what is missing is no return.
        """
        if hold != self._hold:
            self._hold, self._near_since, self._matched = hold, None, False
        if hold is None:
            return NOTHING
        if stops is None:
            return {} if self._matched else NOTHING
        if not self._matched:
            near = abs(stops) <= MATCHED_STOPS
            self._near_since = (self._near_since or now) if near else None
            self._matched = self._near_since is not None and now.since(self._near_since) >= MATCHED_SECONDS
        return beyond_hold(stops) if self._matched else NOTHING
