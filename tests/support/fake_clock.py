"""A clock that moves only when told to; waiting on it moves it."""

from __future__ import annotations

import threading

from analysis.model.instant import Instant


class FakeClock:
    """Monotonic and UTC time under the test's hand, safe to read from several threads."""

    def __init__(self, monotonic: float = 1000.0, utc: float = 1_700_000_000.0) -> None:
        self._lock = threading.Lock()
        self._monotonic, self._utc = monotonic, utc

    def now(self) -> Instant:
        with self._lock:
            return Instant(self._monotonic, self._utc)

    def advance(self, seconds: float) -> None:
        with self._lock:
            self._monotonic += seconds
            self._utc += seconds

    def step_utc(self, seconds: float) -> None:
        """Set the wall clock, as an operator or a time server does; monotonic time goes on."""
        with self._lock:
            self._utc += seconds

    def wait(self, event: threading.Event, seconds: float) -> bool:
        """True if the event is set within a blink of real time; otherwise the wait passes at once."""
        if event.wait(min(seconds, 0.02)):
            return True
        self.advance(seconds)
        return event.is_set()
