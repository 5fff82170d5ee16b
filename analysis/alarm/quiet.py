"""The three ways of being quiet, beside the state of the alarm so that nothing of it is lost."""

from __future__ import annotations

import math

import msgspec

from analysis.alarm import reason
from analysis.model.alarm import QuietWay
from analysis.model.instant import Instant

MOST_SHELVED_SECONDS = 3600.0
"""A shelf ends by itself after an hour at most: what is forgotten must come back."""


class Quiet(msgspec.Struct, frozen=True, kw_only=True):
    """Until when an operator shelved it, which alarm suppresses it, why it is out of service; None where not."""

    shelved_until: Instant | None = None
    suppressed_by: str | None = None
    out_of_service: str | None = None

    @property
    def ways(self) -> tuple[QuietWay, ...]:
        """Every way in which it is quiet now.

        >>> Quiet(suppressed_by="dark", out_of_service="lamp taken down").ways
        ('suppressed', 'out of service')
        """
        ways: tuple[tuple[QuietWay, object], ...] = (
            ("shelved", self.shelved_until),
            ("suppressed", self.suppressed_by),
            ("out of service", self.out_of_service),
        )
        return tuple(way for way, why in ways if why is not None)

    def left(self, now: Instant) -> float:
        """Seconds until the shelf ends, 0 when it is not shelved."""
        return max(0.0, self.shelved_until.since(now)) if self.shelved_until else 0.0

    def words(self, now: Instant) -> str:
        """All of it in words, empty when it is not quiet.

        >>> Quiet(shelved_until=Instant(900.0, 900.0), suppressed_by="dark").words(Instant(0.0, 0.0))
        'shelved for 15 min more, suppressed by dark'
        >>> Quiet(shelved_until=Instant(900.0, 900.0)).words(Instant(26.8, 26.8))
        'shelved for 15 min more'
        """
        told = []
        if self.shelved_until is not None:
            told.append(f"shelved for {_left(self.left(now))} more")
        if self.suppressed_by is not None:
            told.append(f"suppressed by {self.suppressed_by}")
        if self.out_of_service is not None:
            told.append(f"out of service: {self.out_of_service}")
        return ", ".join(told)


def _left(seconds: float) -> str:
    """Whole minutes, rounded up so that it never says less than there is; the last one in seconds."""
    return f"{math.ceil(seconds / 60)} min" if seconds > 60 else f"{math.ceil(seconds)} s"


def refused_shelf(seconds: float) -> str | None:
    """Why an alarm cannot be shelved for so long, None where it can.

    >>> refused_shelf(3601.0)
    'an alarm can be shelved for 60 min at most'
    """
    if not seconds > 0.0:  # not a number falls out here as well
        return "the time on the shelf must be above zero"
    if seconds > MOST_SHELVED_SECONDS:
        return f"an alarm can be shelved for {reason.length(MOST_SHELVED_SECONDS)} at most"
    return None
