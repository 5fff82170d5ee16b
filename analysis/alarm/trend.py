"""Where a slowly moving value is heading: minutes until the headroom is gone, from its last minutes."""

from __future__ import annotations

import math

import msgspec
import numpy as np

from analysis.model.instant import Instant

MOST_MINUTES = 60.0
"""Further ahead than an hour nothing is foretold: this means "not in sight"."""


class TrendSettings(msgspec.Struct, frozen=True, kw_only=True):
    """How much of the past counts.

    One sample each ``every`` seconds (the lowest of them), over the last ``span`` seconds; nothing is said before
    ``least`` seconds are known. A gap longer than ``gap`` seconds begins anew. The trend counts
    only where ``agreeing`` of all pairs of samples fall, so that what swings is no trend.
    """

    every: float = 5.0
    span: float = 240.0
    least: float = 90.0
    gap: float = 20.0
    agreeing: float = 0.85


class Trend(msgspec.Struct, frozen=True, kw_only=True):
    """The last minutes of one value: ``times`` in monotonic seconds, ``values`` in its own unit."""

    settings: TrendSettings = TrendSettings()
    times: tuple[float, ...] = ()
    values: tuple[float, ...] = ()
    latest: float | None = None


def noted(trend: Trend, value: float | None, now: Instant) -> Trend:
    """The trend with one more value; a missing one changes nothing, a long gap starts it afresh.

    Cheap enough for every frame: only one sample each few seconds is kept.

    >>> trend = noted(noted(Trend(), 2.0, Instant(0.0, 0.0)), 1.5, Instant(1.0, 1.0))
    >>> trend.times, trend.values
    ((0.0,), (1.5,))
    """
    if value is None or not math.isfinite(value):
        return trend
    settings, time = trend.settings, now.monotonic
    if trend.latest is not None and time - trend.latest > settings.gap:
        trend = Trend(settings=settings)
    if trend.times and time - trend.times[-1] < settings.every:
        values = (*trend.values[:-1], min(trend.values[-1], value))
        return msgspec.structs.replace(trend, values=values, latest=time)
    first = next((n for n, past in enumerate(trend.times) if time - past <= settings.span), len(trend.times))
    return msgspec.structs.replace(
        trend, times=(*trend.times[first:], time), values=(*trend.values[first:], value), latest=time
    )


def minutes_left(trend: Trend, floor: float = 0.0) -> float | None:
    """Minutes until the value reaches ``floor`` if it goes on falling as it does; at most an hour.

    The slope is the median of the slopes of all pairs (Theil 1950, Sen 1968), which a passing hand
    cannot bend. None while too little is known; an hour where the value does not fall steadily, and
    so where it has long been there: a lamp that always clips is running out of nothing; 0 where it
    fell until it was there. Worth asking when a sample was added, not at every frame.

    >>> trend = Trend()
    >>> for second in range(0, 180, 5):
    ...     trend = noted(trend, 2.0 - second / 300, Instant(float(second), float(second)))
    >>> round(minutes_left(trend), 2)
    7.08
    """
    settings = trend.settings
    if not trend.times or trend.times[-1] - trend.times[0] < settings.least - settings.every:
        return None
    times, values = np.asarray(trend.times), np.asarray(trend.values)
    one, other = np.triu_indices(len(times), 1)
    slopes = (values[other] - values[one]) / (times[other] - times[one])
    slope = float(np.median(slopes))
    present = float(np.median(values - slope * times) + slope * times[-1]) - floor
    if slope >= 0.0 or float(np.mean(slopes < 0.0)) < settings.agreeing:
        return MOST_MINUTES
    return min(MOST_MINUTES, max(0.0, present) / -slope / 60.0)
