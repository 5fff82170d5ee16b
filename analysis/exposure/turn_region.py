"""A part of the picture whose light changed while the rest did not: a view through a window, a lit wall."""

from __future__ import annotations

import cv2
import msgspec
import numpy as np
import numpy.typing as npt

from analysis.exposure.turn_compare import NEAR, Look, most_common, structure_kept
from analysis.exposure.turn_zones import zones_of
from analysis.model.light import COLUMNS, ROWS

APART = 0.18
"""Stops by which cells of a region differ from the rest, at least."""
SMALLEST = 0.025
"""Smaller shares of the picture are things, not light."""
KEPT = 0.4
"""A region keeps at least this much of its structure when only its light changed (0.52 to 0.88 in rendered rooms); one
where a thing came or went keeps less (0.06 to 0.09 behind a person who walks through)."""
WORN, AGREE = 0.12, 0.75
"""Noise and darkness wear structure away: so little is enough where this share (0 to 1) of a region changed by one
amount (0.85 and more in rendered rooms; behind people 0.7 at most)."""
PLAIN = 0.12
"""A region without structure is believed from this share of the picture on."""


class Region(msgspec.Struct, frozen=True, kw_only=True):
    """By how many stops a region changed, and its share of the picture; ``at_least`` where most of it is hidden."""

    stops: float
    share: float
    at_least: bool = False


def changed_region(before: Look, after: Look, ground: float) -> Region | None:
    """The largest region off the sitters whose light changed otherwise than the ``ground``'s, None without one.

    People who move and things put down change cells too, but not all by one amount, and not with what could be
    told apart in them still there.
    """
    one, two = before.light, after.light
    delta = two.stops - one.stops
    nobody = zones_of(before.sitters).ground & zones_of(after.sitters).ground
    sure = one.trusted & two.trusted
    best: Region | None = None
    for sign in (1.0, -1.0):
        # Light that went beyond the end of the range changed by at least what can be seen.
        gone = (one.trusted & two.clipped) | (one.crushed & two.trusted)
        if sign < 0.0:
            gone = (one.clipped & two.trusted) | (one.trusted & two.crushed)
        free = nobody & (sure | gone)
        marks = (free & (sign * (delta - ground) > APART)).astype(np.uint8)
        marks = cv2.medianBlur(marks, 3) & free.astype(np.uint8)
        count, names, stats, _ = cv2.connectedComponentsWithStats(marks, connectivity=4)
        for number in range(1, count):
            share = float(stats[number, cv2.CC_STAT_AREA]) / (ROWS * COLUMNS)
            if share < SMALLEST or (best is not None and share <= best.share):
                continue
            inside = names == number
            known = inside & sure
            hidden = bool(np.count_nonzero(known) < 0.3 * np.count_nonzero(inside))
            stops, agreed = _amount(delta[inside if hidden else known])
            if (share >= PLAIN) if hidden else _is_light(before, after, known, delta, stops, share, agreed):
                best = Region(stops=stops, share=share, at_least=hidden)
    return best


def _amount(deltas: npt.NDArray[np.float32]) -> tuple[float, float]:
    """The change on which most of a region agrees, and which share of it; the middle one of an uneven one."""
    stops = most_common(deltas)
    agreed = 0.0 if stops is None else float(np.mean(np.abs(deltas - stops) < NEAR))
    return (float(np.median(deltas)), agreed) if stops is None or agreed < 0.5 else (stops, agreed)


def _is_light(
    before: Look,
    after: Look,
    inside: npt.NDArray[np.bool_],
    delta: npt.NDArray[np.float32],
    stops: float,
    share: float,
    agreed: float,
) -> bool:
    kept = structure_kept(before.light, after.light, inside)
    if kept is not None:
        return kept >= KEPT or (kept >= WORN and agreed >= AGREE)
    low, high = np.percentile(delta[inside], (25, 75)).tolist()
    return share >= PLAIN and high - low < max(APART, 0.3 * abs(stops))
