"""Light on against light off: what a key adds to the sitter and to the background, and the ratio it makes.

Light adds: where a place has the linear light ``off`` without the key and ``on`` with it, the key's own is the
difference, its share ``1 - off / on``, and it adds ``log2(on / off)`` stops. Nothing of this needs to know the lamp.

A lighting ratio is given as key plus fill to fill (common practice, and the convention of printed tables; others
give key to fill, which is one less). Every doubling is a stop: 2:1 is one stop, 4:1 two, 8:1 three.
"""

from __future__ import annotations

from collections.abc import Callable
from math import log2

import numpy as np

from analysis.exposure.turn_compare import Look
from analysis.exposure.turn_zones import Lit, core, light_in, main_box, zones_of
from analysis.model.light import Box, SeenSitter
from analysis.model.turn import LampEffect

Part = Callable[[Box], Box]
LEAST = 0.1
"""Stops that a key must add to the sitter before anything is told of it."""
FEWEST = 12


def share_of(added: float) -> float:
    """The part of the light that is a lamp's when it adds so many stops; none when it adds nothing.

    >>> share_of(1.0), share_of(2.0), share_of(-0.1)
    (0.5, 0.75, 0.0)
    """
    return max(0.0, 1.0 - float(2.0**-added))


def stops_of_share(share: float) -> float:
    """The stops that a lamp adds whose share of the light this is: the inverse of :func:`share_of`.

    Raises ValueError for a share of 1 and above, which is light without any other.

    >>> stops_of_share(0.75)
    2.0
    """
    if share >= 1.0:
        raise ValueError("where all the light is the lamp's, it does not add to any")
    return -log2(1.0 - max(share, 0.0))


def lamp_effect(off: Look, on: Look) -> LampEffect | None:
    """What the key adds, from a look without and one with it; None where the sitter's light is not known in both.

    Which is which is told by the light: given the wrong way round the two are exchanged. None as well where the face
    differs by less than a tenth of a stop.
    """
    dark, bright = off, on
    change = _added(dark, bright, core)
    if change is not None and change[0] < 0.0:
        dark, bright = on, off
        change = _added(dark, bright, core)
    if change is None or change[0] < LEAST:
        return None
    left, right = _added(dark, bright, _left), _added(dark, bright, _right)
    ratio = lit = shadow = None
    hidden = change[1]
    if left is not None and right is not None:
        lit_side, shadow_side = (_left, _right) if left[0] >= right[0] else (_right, _left)
        lit, shadow = max(left[0], right[0]), min(left[0], right[0])
        hidden = hidden or left[1] or right[1]
        one, other = _lit(bright, lit_side), _lit(bright, shadow_side)
        if one is not None and other is not None and not one.end and not other.end:
            ratio = abs(one.stops - other.stops)
    return LampEffect(
        sitter_stops=change[0],
        background_stops=_ground(dark, bright),
        key_share=share_of(lit if lit is not None else change[0]),
        lit_stops=lit,
        shadow_stops=shadow,
        ratio_stops=ratio,
        at_least=hidden,
    )


def _added(dark: Look, bright: Look, part: Part) -> tuple[float, bool] | None:
    """Stops more in a part of the face, and whether that is at least; each measured where the face is."""
    one, two = _lit(dark, part), _lit(bright, part)
    if one is None or two is None or (one.end and two.end):
        return None
    change = two.stops - one.stops
    if (two.end - one.end) * change < 0.0:
        return None
    return change, bool(one.end or two.end)


def _lit(look: Look, part: Part) -> Lit | None:
    box = main_box(look.sitters)
    return light_in(look.light, part(box)) if box is not None else None


def _left(box: Box) -> Box:
    x, y, width, height = core(box)
    return x, y, 0.42 * width, height


def _right(box: Box) -> Box:
    x, y, width, height = core(box)
    return x + 0.58 * width, y, 0.42 * width, height


def _ground(dark: Look, bright: Look) -> float | None:
    sitters: tuple[SeenSitter, ...] = dark.sitters + bright.sitters
    cells = zones_of(sitters).ground & dark.light.trusted & bright.light.trusted
    delta = (bright.light.stops - dark.light.stops)[cells]
    return float(np.median(delta)) if delta.size >= FEWEST else None
