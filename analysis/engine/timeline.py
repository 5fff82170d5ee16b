"""The last minutes, one point a second."""

from __future__ import annotations

import math
from collections.abc import Callable

import msgspec

from analysis.model.feed import FeedState
from analysis.model.instant import Instant
from analysis.model.reading import Reading
from analysis.model.snapshot import TimelinePoint

KEPT_SECONDS = 900


class Timeline(msgspec.Struct, frozen=True, kw_only=True):
    """Finished seconds, oldest first (at most ``KEPT_SECONDS``), and the second under way."""

    points: tuple[TimelinePoint, ...] = ()
    current: TimelinePoint | None = None


def add(timeline: Timeline, reading: Reading | None, feed: FeedState, alarm: bool, now: Instant) -> Timeline:
    """The timeline with one more look at the watch.

    ``reading`` is None on a tick without a picture, or where the picture is not valid: then only
    the feed's state is noted. A second in which nothing valid was measured keeps None levels.
    Seconds are counted on the monotonic clock, so setting the clock leaves no gap.
    """
    second = math.floor(now.monotonic)
    current = timeline.current
    points = timeline.points
    if current is not None and current.second != second:
        points = (*points, current)
        # Seconds nobody looked at (a suspended machine) are said to be empty, not bridged.
        gap = min(second - current.second - 1, KEPT_SECONDS)
        points += tuple(_empty(second - missing, "lost") for missing in range(gap, 0, -1))
        points = points[-KEPT_SECONDS:]
        current = None
    if current is None:
        current = _empty(second, feed)
    return Timeline(points=points, current=_merged(current, reading, feed, alarm))


def _empty(second: int, feed: FeedState) -> TimelinePoint:
    return TimelinePoint(
        second=second, low=None, middle=None, high=None, clipped=None, crushed=None, feed=feed, alarm=False
    )


def _merged(point: TimelinePoint, reading: Reading | None, feed: FeedState, alarm: bool) -> TimelinePoint:
    luma = reading.luma if reading is not None else None
    clipped = reading.clipped.any if reading is not None and reading.clipped is not None else None
    crushed = reading.crushed.luma if reading is not None and reading.crushed is not None else None
    return TimelinePoint(
        second=point.second,
        low=_extreme(min, point.low, luma.p1 if luma else None),
        middle=luma.p50 if luma else point.middle,
        high=_extreme(max, point.high, luma.p99 if luma else None),
        clipped=_extreme(max, point.clipped, clipped),
        crushed=_extreme(max, point.crushed, crushed),
        feed=feed,
        alarm=point.alarm or alarm,
    )


def _extreme(choose: Callable[[float, float], float], a: float | None, b: float | None) -> float | None:
    if a is None or b is None:
        return b if a is None else a
    return choose(a, b)
