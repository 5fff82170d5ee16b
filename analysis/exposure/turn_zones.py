"""Which cells of a map of light are the sitter's face and body, and which are the ground behind."""

from __future__ import annotations

from collections.abc import Iterable

import msgspec
import numpy as np
import numpy.typing as npt

from analysis.model.light import COLUMNS, ROWS, Box, LightMap, SeenSitter

Mask = npt.NDArray[np.bool_]

CORE_WIDTH, CORE_HEIGHT = 0.6, 0.7
"""The part of a face's box that is skin and nothing else."""
SHOULDERS = 1.0
"""How far a body reaches to each side of the face, in widths of it."""


TRUSTED = 0.6
"""The part of an area that must be trusted for its light to be known."""
FEW = 0.06
"""The part of an area that may leave the range before its change is at least what the rest shows."""


class Zones(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """Cells of the main sitter's face and of their body below it, and of everything that is nobody's."""

    face: Mask
    body: Mask
    ground: Mask


def main_box(sitters: Iterable[SeenSitter]) -> Box | None:
    """The box of the main sitter, of the first when none is."""
    seen = sorted(sitters, key=lambda sitter: not sitter.main)
    return seen[0].box if seen else None


def zones_of(sitters: tuple[SeenSitter, ...]) -> Zones:
    """The zones of a picture with these sitters; without any, everything is ground.

    >>> zones = zones_of((SeenSitter(box=(0.4, 0.2, 0.2, 0.4)),))
    >>> int(zones.face.sum()) > 20, bool((zones.face & zones.ground).any())
    (True, False)
    """
    face, body, anybody = (np.zeros((ROWS, COLUMNS), bool) for _ in range(3))
    main = main_box(sitters)
    for sitter in sitters:
        x, y, width, height = sitter.box
        anybody |= _cells((x - 0.35 * width, y - 0.4 * height, 1.7 * width, 1.5 * height))
        anybody |= _cells((x - SHOULDERS * width, y + height, (1.0 + 2.0 * SHOULDERS) * width, 1.0))
    if main is not None:
        face = _cells(core(main))
        body = _cells(below(main)) & ~face
    return Zones(face=face, body=body, ground=~anybody)


def core(box: Box) -> Box:
    """The inner part of a face.

    >>> [round(value, 3) for value in core((0.4, 0.2, 0.2, 0.4))]
    [0.44, 0.26, 0.12, 0.28]
    """
    x, y, width, height = box
    left, top = (1.0 - CORE_WIDTH) / 2.0, (1.0 - CORE_HEIGHT) / 2.0
    return x + left * width, y + top * height, CORE_WIDTH * width, CORE_HEIGHT * height


def below(box: Box) -> Box:
    """The chest below a face."""
    x, y, width, height = box
    return x - 0.4 * width, y + 1.35 * height, 1.8 * width, 1.3 * height


class Lit(msgspec.Struct, frozen=True, kw_only=True):
    """The light of an area in stops; where ``end`` is 1 at least that (it clips), where -1 at most (it is crushed).

    Where neither, ``stops`` is of what lies within the range, ``through`` of all of it, what clips at its clip;
    ``clipped`` and ``crushed`` are the parts of the area (0 to 1) that do not.
    """

    stops: float
    end: int = 0
    through: float | None = None
    clipped: float = 0.0
    crushed: float = 0.0


def light_in(light: LightMap, box: Box) -> Lit | None:
    """Mean linear light of an area, cells counting by the part of them within; None where nothing is known of it.

    A place that moves by less than a cell is followed this way.
    """
    x, y, width, height = box
    rows, columns = _covered(y, height, ROWS), _covered(x, width, COLUMNS)
    if rows is None or columns is None:
        return None
    at = np.s_[rows[0] : rows[0] + rows[1].size, columns[0] : columns[0] + columns[1].size]
    weight = np.outer(rows[1], columns[1])
    total = float(weight.sum())
    good = weight * light.trusted[at]
    part = float(good.sum())
    linear = np.exp2(light.stops[at])
    if part >= TRUSTED * total:
        return Lit(
            stops=float(np.log2((good * linear).sum() / part)),
            through=float(np.log2((weight * linear).sum() / total)),
            clipped=float((weight * light.clipped[at]).sum()) / total,
            crushed=float((weight * light.crushed[at]).sum()) / total,
        )
    for mask, end in ((light.clipped, 1), (light.crushed, -1)):
        if float((weight * mask[at]).sum()) > (1.0 - TRUSTED) * total:
            return Lit(stops=float(np.log2((weight * linear).sum() / total)), end=end)
    return None


def lit_change(before: Lit | None, after: Lit | None) -> tuple[float | None, bool]:
    """By how many stops an area became brighter, and whether it is at least that; None where it cannot be told.

    >>> lit_change(Lit(stops=1.0), Lit(stops=2.5, end=1)), lit_change(Lit(stops=1.0), Lit(stops=0.5, end=1))
    ((1.5, True), (None, False))
    """
    if before is None or after is None:
        return None, False
    change = after.stops - before.stops
    if not before.end and not after.end:
        up = change > 0.0
        gone = after.clipped - before.clipped if up else before.clipped - after.clipped
        gone = max(gone, before.crushed - after.crushed if up else after.crushed - before.crushed)
        if gone <= FEW or before.through is None or after.through is None:
            return change, False
        # Cells that left the range in one of the two only were those that changed most: what is left tells too little.
        through = after.through - before.through
        return (max(change, through) if up else min(change, through)), True
    # What is hidden must lie on the side to which the light went.
    further = (after.end - before.end) * change > 0.0
    return (change, True) if further else (None, False)


def _covered(start: float, size: float, count: int) -> tuple[int, npt.NDArray[np.float64]] | None:
    """The first row (or column) that a stretch touches, and what part of each it covers."""
    low, high = max(0.0, start * count), min(float(count), (start + size) * count)
    if high - low < 0.5:
        return None
    first = int(low)
    edges = np.arange(first, int(np.ceil(high)) + 1, dtype=np.float64)
    return first, np.diff(np.clip(edges, low, high))


def overlap(one: Box, other: Box) -> float:
    """Intersection over union of two boxes.

    >>> overlap((0.0, 0.0, 0.2, 0.2), (0.1, 0.0, 0.2, 0.2)) > 0.33
    True
    """
    wide = min(one[0] + one[2], other[0] + other[2]) - max(one[0], other[0])
    high = min(one[1] + one[3], other[1] + other[3]) - max(one[1], other[1])
    if wide <= 0.0 or high <= 0.0:
        return 0.0
    both = wide * high
    return both / (one[2] * one[3] + other[2] * other[3] - both)


def _cells(box: Box) -> Mask:
    """The cells whose middle lies in a box; the one nearest to its middle when none does."""
    x, y, width, height = box
    out = np.zeros((ROWS, COLUMNS), bool)
    top, bottom = (round(min(max(v * ROWS, 0.0), ROWS)) for v in (y, y + height))
    left, right = (round(min(max(v * COLUMNS, 0.0), COLUMNS)) for v in (x, x + width))
    if bottom > top and right > left:
        out[top:bottom, left:right] = True
    elif 0.0 <= x + width / 2.0 < 1.0 and 0.0 <= y + height / 2.0 < 1.0:
        out[int((y + height / 2.0) * ROWS), int((x + width / 2.0) * COLUMNS)] = True
    return out
