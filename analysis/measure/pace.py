"""When frames were taken, from stamps that jitter."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from analysis.model.frame import Frame

STRAYED = 0.4
"""Stamps further than this part of a frame from even pacing are believed rather than the pacing."""


def time_of(frame: Frame) -> tuple[float, int]:
    """The best time of a frame in seconds and its number in the source: the source's own, else those of arrival."""
    seconds = frame.instant.monotonic if frame.source_seconds is None else frame.source_seconds
    return seconds, frame.sequence if frame.source_sequence is None else frame.source_sequence


def even_times(
    seconds: npt.NDArray[np.float64], numbers: npt.NDArray[np.int64]
) -> tuple[npt.NDArray[np.float64], float | None]:
    """Times on the even pace that a camera keeps, and its frames a second; both from stamps and frame numbers.

    Arrival jitters by network and load while the camera's own clock does not: a line through time against
    number tells both pace and times. Where the stamps leave that line the numbers missed something or the pace
    is not even; then the stamps themselves are returned, with the pace of their median step. None for
    frames a second where there is no pace at all.

    >>> times, fps = even_times(np.array([0.0, 0.041, 0.079, 0.161]), np.array([0, 1, 2, 4]))
    >>> np.round(times, 3).tolist(), round(fps, 1)
    ([0.0, 0.04, 0.08, 0.161], 24.9)
    """
    steps = np.diff(seconds)
    if steps.size < 2 or not (steps > 0.0).all():
        return seconds, None
    counts = np.diff(numbers)
    if (counts > 0).all():
        place, time = numbers - numbers.mean(), seconds - seconds.mean()
        pace = float((place * time).sum() / (place * place).sum())
        even = seconds.mean() + pace * place
        if pace > 0.0 and float(np.abs(even - seconds).max()) <= max(STRAYED * pace, 0.012):
            return np.asarray(even), float(1.0 / pace)
    middle = float(np.median(steps))
    return seconds, 1.0 / middle
