"""Pile-ups at the top of a histogram: many pixels at one level and almost none beyond it.

Light that rises smoothly to a maximum leaves no pile-up. Around the summit of a smooth hill equal steps of level
take equal areas; along a smooth ridge the topmost step takes 2.4 times the one below (the area grows as the square
root of the depth: 1 against the root of 2 less 1). What holds more than that at its upper end is flat on top.
"""

from __future__ import annotations

import msgspec
import numpy as np
import numpy.typing as npt

Counts = npt.NDArray[np.float64]

RIDGE = 2.0**0.5 + 1.0
"""How many times the step below it the topmost step of a smooth ridge holds."""
MOST_BEYOND = 0.15
"""Most that may lie beyond a pile-up, as a part of it: coding rings around edges."""

MOST_FOUND = 3
"""Most pile-ups looked at in one histogram."""


class Pileup(msgspec.Struct, frozen=True, kw_only=True):
    """A pile-up: ``code`` is its level, ``low`` and ``high`` the codes that belong to it (inclusive).

    ``share`` is the part (0 to 1) of all pixels in it, ``beyond`` what lies above it as a part of it, ``contrast``
    how many times as many it holds as a step of the same width below it.
    """

    code: int
    low: int
    high: int
    share: float
    beyond: float
    contrast: float


def find_pileups(counts: Counts, half: int, least: float, contrast: float = RIDGE) -> list[Pileup]:
    """The pile-ups with almost nothing above them, from the top; none of an empty histogram.

    ``half`` is half the width of a pile-up in codes: rounding and coding spread it that far. ``least`` is the
    smallest share of all pixels that counts (0 to 1).

    >>> counts = np.array([0, 50, 40, 30, 20, 10, 5, 5, 60, 0, 0, 0], float)
    >>> [pile.code for pile in find_pileups(counts, 1, 0.01)], find_pileups(counts[:8], 1, 0.01)
    ([8], [])
    """
    total = float(counts.sum())
    width = 2 * half + 1
    if total <= 0.0 or counts.size <= width:
        return []
    held = _windows(counts, half)
    above = np.maximum(total - np.cumsum(counts), 0.0)
    beyond = np.concatenate([above[half:], np.zeros(half)])
    below = np.concatenate([np.zeros(width), held[:-width]])
    fits = (held >= least * total) & (beyond <= MOST_BEYOND * held) & (held >= contrast * below) & (held > 0.0)
    found: list[Pileup] = []
    places = np.flatnonzero(fits)
    while places.size and len(found) < MOST_FOUND:
        group = places[places > places[-1] - 2 * width]
        middle = int(group[np.argmax(held[group])])
        low, high = max(0, middle - half), min(counts.size - 1, middle + half)
        found.append(
            Pileup(
                code=_summit(counts, low, high),
                low=low,
                high=high,
                share=float(held[middle]) / total,
                beyond=float(beyond[middle] / held[middle]),
                contrast=float(held[middle] / max(below[middle], 1.0)),
            )
        )
        places = places[places <= places[-1] - 2 * width]
    return found


def mass_above(counts: Counts, code: float) -> float:
    """Share (0 to 1) of the pixels strictly above a code, which need not be whole or in range.

    >>> mass_above(np.array([3.0, 0.0, 1.0]), 1.5)
    0.25
    """
    first = min(max(int(np.floor(code)) + 1, 0), counts.size)
    total = float(counts.sum())
    return float(counts[first:].sum()) / total if total > 0.0 else 0.0


def _windows(counts: Counts, half: int) -> Counts:
    """How many pixels lie within ``half`` codes of each code."""
    sums = np.concatenate([[0.0], np.cumsum(counts)])
    places = np.arange(counts.size)
    return np.asarray(sums[np.minimum(places + half + 1, counts.size)] - sums[np.maximum(places - half, 0)])


def _summit(counts: Counts, low: int, high: int) -> int:
    """The highest code that holds nearly as many pixels as any: edges lie below the level, rarely above it."""
    part = counts[low : high + 1]
    return low + int(np.flatnonzero(part >= 0.6 * part.max())[-1])
