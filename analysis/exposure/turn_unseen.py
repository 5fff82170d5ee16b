"""Changes so large that hardly a cell can be measured both before and after: at least so much."""

from __future__ import annotations

import numpy as np

from analysis.exposure.turn_compare import Look
from analysis.exposure.turn_kind import LEAST, Kind

MOST = 0.8
"""The share of cells that must have gone the same way, or be hidden in both looks."""
BEYOND = 95.0
"""Percentile of the cells' own bounds that is told: the highest few may be things that moved."""


def unseen_change(before: Look, after: Look) -> Kind | None:
    """A change of the whole picture told by what clipping and crushing leave of it; None where that tells nothing.

    Light that was measured and now clips went up by at least what can be seen; light that was measured and is crushed
    now went down by at least that. The largest of these bounds holds for all when all changed by one amount.
    """
    one, two = before.light, after.light
    change = two.stops - one.stops
    for sign, ends in ((1.0, one.crushed | two.clipped), (-1.0, one.clipped | two.crushed)):
        bounds = sign * change[ends]
        if bounds.size < MOST * change.size:
            continue
        least = float(np.percentile(bounds, BEYOND))
        if least >= LEAST:
            share = float(np.count_nonzero(bounds > 0.0) / change.size)
            return Kind(kind="whole", stops=sign * least, share=share, at_least=True, background=sign * least)
    return None
