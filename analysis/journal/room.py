"""How much room the disk has and how long it lasts; takes what was seen and when, asks nobody."""

from __future__ import annotations

from statistics import median

import msgspec

from analysis.model.instant import Instant

STEP_SECONDS = 60.0
MOST_STEPS = 30
FEWEST_STEPS = 5
"""Over fewer minutes nothing is said about how long the room lasts."""


class Room(msgspec.Struct, frozen=True, kw_only=True):
    """``free`` bytes now; ``lasts`` seconds if it goes on like this, None while nothing fills the disk or too
    little is known."""

    free: int
    lasts: float | None = None

    @property
    def gibibytes(self) -> float:
        """Free room in GiB.

        >>> Room(free=3 << 30).gibibytes
        3.0
        """
        return self.free / 2**30

    @property
    def hours(self) -> float | None:
        """How long it lasts in hours.

        >>> Room(free=0, lasts=5400.0).hours
        1.5
        """
        return None if self.lasts is None else self.lasts / 3600


class Filling(msgspec.Struct, frozen=True, kw_only=True):
    """Free room minute by minute, half an hour of it.

    The rate is the median of the minutes: what fills the disk steadily counts, one large file copied meanwhile
    does not.
    """

    points: tuple[tuple[float, int], ...] = ()

    def seen(self, free: int, now: Instant) -> Filling:
        """With one more look at the disk; looks closer together than a minute are passed over."""
        if self.points and 0.0 <= now.monotonic - self.points[-1][0] < STEP_SECONDS:
            return self
        return Filling(points=(*self.points, (now.monotonic, free))[-MOST_STEPS - 1 :])

    def room(self, free: int) -> Room:
        """The room by what is free now and how it went.

        >>> filling = Filling()
        >>> for minute in range(7):
        ...     filling = filling.seen(10_000_000 - 600_000 * minute, Instant(60.0 * minute, 0.0))
        >>> filling.room(6_000_000).lasts
        600.0
        """
        rates = [
            (before - after) / (until - since)
            for (since, before), (until, after) in zip(self.points, self.points[1:], strict=False)
            if until > since
        ]
        rate = median(rates) if len(rates) >= FEWEST_STEPS else 0.0
        return Room(free=free, lasts=free / rate if rate > 0.0 else None)
