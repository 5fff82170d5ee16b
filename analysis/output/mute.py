"""A mute that ends by itself."""

from __future__ import annotations

import math

import msgspec

from analysis.model.errors import UsageError
from analysis.model.instant import Instant

DEFAULT_SECONDS = 600.0
LONGEST_SECONDS = 3600.0


class Mute(msgspec.Struct, frozen=True, kw_only=True):
    """Quiet from ``since`` for ``seconds``; nothing has to end it.

    >>> mute = muted(600.0, Instant(100.0, 0.0))
    >>> mute.left(Instant(400.0, 0.0)), mute.left(Instant(700.0, 0.0))
    (300.0, 0.0)
    """

    since: Instant
    seconds: float

    def left(self, now: Instant) -> float:
        """Seconds of quiet that are left, 0 when it is over."""
        return max(0.0, self.seconds - now.since(self.since))


def muted(seconds: float, now: Instant) -> Mute:
    """A mute of at most an hour; ``UsageError`` for what is no length of time."""
    if not math.isfinite(seconds) or seconds <= 0:
        raise UsageError(f"cannot mute for {seconds:g} seconds", "mute", "give a number of seconds above 0")
    return Mute(since=now, seconds=min(seconds, LONGEST_SECONDS))
