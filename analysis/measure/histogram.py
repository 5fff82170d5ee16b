"""Levels of a picture from the count of each code: exact, and cheap however large the picture."""

from __future__ import annotations

from math import floor

import numpy as np
import numpy.typing as npt

from analysis.model.frame import Range
from analysis.model.reading import Luma
from analysis.signal.levels import percent

Counts = npt.NDArray[np.float64]
"""How many pixels have each code; whole numbers, exact up to 2**53."""

PERCENTILES = (1.0, 5.0, 50.0, 95.0, 99.0)


def percentile(cumulative: Counts, part: float) -> float:
    """The code below which ``part`` percent of the pixels lie, as ``numpy.percentile`` has it.

    Linear interpolation between the two neighbouring order statistics (method "linear", number 7 of
    R. J. Hyndman and Y. Fan, Sample Quantiles in Statistical Packages, 1996).

    >>> percentile(np.cumsum([0.0, 2.0, 0.0, 2.0]), 50.0)
    2.0
    """
    position = part / 100.0 * (float(cumulative[-1]) - 1.0)
    below = floor(position)
    lower = int(np.searchsorted(cumulative, below, side="right"))
    upper = int(np.searchsorted(cumulative, min(below + 1, float(cumulative[-1]) - 1.0), side="right"))
    return lower + (upper - lower) * (position - below)


def luma_levels(counts: Counts, bits: int, span: Range) -> Luma:
    """Mean, extremes and percentiles in IRE of at least one counted pixel."""
    used = np.flatnonzero(counts)
    cumulative = np.cumsum(counts)
    mean = float(counts @ np.arange(counts.size)) / float(cumulative[-1])
    p1, p5, p50, p95, p99 = (percent(percentile(cumulative, part), bits, span) for part in PERCENTILES)
    return Luma(
        mean=percent(mean, bits, span),
        min=percent(int(used[0]), bits, span),
        p1=p1,
        p5=p5,
        p50=p50,
        p95=p95,
        p99=p99,
        max=percent(int(used[-1]), bits, span),
    )
