"""The clock at the edge; everything pure is given an Instant instead."""

from __future__ import annotations

import threading
import time
from typing import Protocol

from analysis.model.instant import Instant


class Clock(Protocol):
    """Time as the feed side sees it, replaceable in tests."""

    def now(self) -> Instant:
        """This moment."""

    def wait(self, event: threading.Event, seconds: float) -> bool:
        """Wait for ``event`` at most ``seconds``; True if it was set."""


class SystemClock:
    """The machine's own clocks."""

    def now(self) -> Instant:
        """This moment by the machine."""
        return Instant(time.monotonic(), time.time())

    def wait(self, event: threading.Event, seconds: float) -> bool:
        """Wait in real time."""
        return event.wait(seconds)
