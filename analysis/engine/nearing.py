"""When a drift of the light will reach the clip, for the alarm about headroom: what is too quick for its trend."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import NamedTuple

from analysis.alarm.observation import PATIENCE_SECONDS
from analysis.alarm.trend import MOST_MINUTES
from analysis.engine.turns import Heading
from analysis.model.instant import Instant
from analysis.model.turn import Turn

LASTED_SECONDS = 15.0
"""A drift counts when it has lasted so long: the sun that comes out from behind a cloud takes less."""
IN_TIME_SECONDS = 10.0
"""With less left when it counts, it clips before anybody has moved: the highlights tell that themselves."""
LEAST_STOPS_A_MINUTE = 0.25
"""What is slower is left to the trend of the headroom, which sees minutes at a time and is not misled by a swing."""


class Nearing(NamedTuple):
    """Minutes until the brightest clips, an hour where it is not on its way there, and the name of what clips."""

    minutes: float
    clips: str | None = None


class ClipWatch:
    """Follows the drifts that are told and says when they reach the clip.

    Nothing is said before the first drift, nor where a drift was lost sight of: what is not known is no return. A
    drift that ended, or turned round, is not on its way to the clip.

    >>> watch, t = ClipWatch(), Instant(0.0, 0.0)
    >>> watch.nearing((), Heading(stops_a_minute=1.0, since=t, seconds_to_clip=40.0), Instant(10.0, 10.0)) is None
    True
    >>> watch.nearing((), Heading(stops_a_minute=1.0, since=t, seconds_to_clip=30.0), Instant(20.0, 20.0)).minutes
    0.5
    """

    def __init__(self) -> None:
        self._following = self._over = self._in_time = False
        self._told: Nearing | None = None
        self._at: Instant | None = None

    def nearing(self, turns: Iterable[Turn], heading: Heading | None, now: Instant) -> Nearing | None:
        """What is known with a map of light; ``turns`` are those it completed, ``heading`` is None without a drift."""
        if self.newest(now) is None:
            self._over = False
        self._told, self._at = self._known(turns, heading, now), now
        return self._told

    def newest(self, now: Instant) -> Nearing | None:
        """What was known with the newest map, for frames that have none; None where that was more than a second ago."""
        return self._told if self._at is not None and now.since(self._at) <= PATIENCE_SECONDS else None

    def _known(self, turns: Iterable[Turn], heading: Heading | None, now: Instant) -> Nearing | None:
        ended = any(turn.drift is not None and turn.drift.stage == "ended" for turn in turns)
        if heading is None:
            self._over = ended or (self._over and not self._following)
            self._following = self._in_time = False
            return Nearing(MOST_MINUTES) if self._over else None
        self._following = True
        found = _ahead(heading, now)
        self._in_time |= found is not None and 60.0 * found.minutes >= IN_TIME_SECONDS
        return found if self._in_time else None

    def forget(self) -> None:
        """The picture is gone, and with it what was known."""
        self._following = self._over = self._in_time = False
        self._told = self._at = None


def _ahead(heading: Heading, now: Instant) -> Nearing | None:
    seconds = heading.seconds_to_clip
    if seconds is None:
        return None
    if heading.stops_a_minute < 0.0 or math.isinf(seconds):
        return Nearing(MOST_MINUTES)
    if heading.stops_a_minute < LEAST_STOPS_A_MINUTE or now.since(heading.since) < LASTED_SECONDS:
        return None
    return Nearing(min(MOST_MINUTES, seconds / 60.0), heading.clips)
