"""Playing at a feed's own pace: waiting until a picture is due."""

from __future__ import annotations

import threading

from analysis.feed.clock import Clock

_PATIENCE = 0.5
"""Seconds of delay after which the pace starts again from now, instead of hurrying to catch up."""


class Pace:
    """Waits for the moment of each picture; ``stop`` ends a wait at once."""

    def __init__(self, clock: Clock, stop: threading.Event) -> None:
        self._clock, self._stop = clock, stop
        self._origin: float | None = None

    def wait_for(self, seconds: float) -> None:
        """Wait until ``seconds`` of the feed's own time are due."""
        now = self._clock.now().monotonic
        if self._origin is None:
            self._origin = now - seconds
        ahead = self._origin + seconds - now
        if ahead < -_PATIENCE or ahead > _PATIENCE + 10.0:
            self._origin = now - seconds
        elif ahead > 0:
            self._clock.wait(self._stop, ahead)
