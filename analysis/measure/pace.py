"""When frames were taken, from stamps that jitter."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from analysis.model.frame import Frame

Seconds = npt.NDArray[np.float64]

STRAYED = 0.35
"""Stamps this far from an even pace, as a part of a frame, still belong to it."""
STRAYS = 0.9
"""Quantile of the stamps that must belong: a frame held up on its way proves nothing."""


def time_of(frame: Frame) -> tuple[float, int]:
    """The best time of a frame in seconds and its number in the source: the source's own, else those of arrival."""
    seconds = frame.instant.monotonic if frame.source_seconds is None else frame.source_seconds
    return seconds, frame.sequence if frame.source_sequence is None else frame.source_sequence


def even_times(seconds: Seconds, numbers: npt.NDArray[np.int64]) -> tuple[Seconds, float | None]:
    """Times on the even pace that a camera keeps, and its frames a second; both from stamps and frame numbers.

    Arrival jitters with network and load while the camera's own clock does not: a line through time against
    number tells both pace and times. Where frames went missing before they were numbered, the steps of time
    say how many, and that line fits better. Where neither fits there is no even pace, and the stamps
    themselves are returned with the rate of their median step. No rate (None) from fewer than three
    frames or from stamps that do not rise.

    >>> times, fps = even_times(np.array([0.0, 0.041, 0.079, 0.161]), np.array([0, 1, 2, 4]))
    >>> np.round(times, 3).tolist(), round(fps, 1)
    ([0.0, 0.04, 0.08, 0.161], 24.9)
    """
    steps = np.diff(seconds)
    if steps.size < 2 or not (steps > 0.0).all():
        return seconds, None
    middle = float(np.median(steps))
    counted = np.concatenate([[0], np.cumsum(np.maximum(1, np.rint(steps / middle)))])
    fits = [_line(seconds, count) for count in (numbers, counted) if (np.diff(count) > 0).all()]
    strayed, even, pace = min(fits, key=lambda fit: fit[0])
    return (even, 1.0 / pace) if strayed <= STRAYED * pace else (seconds, 1.0 / middle)


def _line(seconds: Seconds, count: npt.NDArray[Any]) -> tuple[float, Seconds, float]:
    """The line through time against count: how far the stamps stray from it, the times on it, its slope."""
    place, time = count - count.mean(), seconds - seconds.mean()
    pace = float((place * time).sum() / (place * place).sum())
    even = seconds.mean() + pace * place
    return float(np.quantile(np.abs(even - seconds), STRAYS)), np.asarray(even), pace
