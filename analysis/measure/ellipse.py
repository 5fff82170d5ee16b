"""The part of a face's box that is skin and little else: an ellipse in its middle.

Half axes 0.36 of the width and 0.40 of the height. Of nine ways to read skin that were compared on 211 faces, the
70th percentile of luma in this ellipse moved least when the box moved (0.3 IRE standard deviation at 80 pixels of
height, 0.66 at 24): area counts for more than landmarks, which move by 3 to 6 % of the height themselves.
"""

from __future__ import annotations

from functools import lru_cache
from math import ceil, floor

import numpy as np
import numpy.typing as npt

ACROSS, DOWN = 0.36, 0.40
"""Half axes in widths and heights of the box."""

FEWEST = 12
"""Cells below which nothing is told."""

Box = tuple[float, float, float, float]
Mask = npt.NDArray[np.bool_]


class Ellipse:
    """Where an ellipse lies: ``rows`` and ``columns`` of the picture around it, in cells of ``block`` pixels a side.

    ``inside`` has one place per cell, shape (rows // block, columns // block): whether its middle is inside.
    ``side`` says of each cell inside how far right it is, in widths of the box from its left edge.
    """

    __slots__ = ("block", "columns", "inside", "rows", "side")

    def __init__(self, rows: slice, columns: slice, block: int, inside: Mask, side: npt.NDArray[np.float64]) -> None:
        self.rows, self.columns, self.block, self.inside, self.side = rows, columns, block, inside, side


def ellipse(box: Box, size: tuple[int, int], block: int = 1, group: tuple[int, int] = (1, 1)) -> Ellipse | None:
    """The ellipse of a box (x, y, width, height) within a picture of ``size`` (width, height), in pixels.

    It starts at a whole ``group`` of pixels (across, down) and holds whole cells and groups. None where fewer
    than :data:`FEWEST` cells are inside.

    >>> found = ellipse((10.0, 10.0, 100.0, 100.0), (640, 360))
    >>> round(float(np.count_nonzero(found.inside) / (np.pi * 36 * 40)), 2)
    1.0
    """
    columns = _span(box[0], box[2], ACROSS, size[0], block, group[0])
    rows = _span(box[1], box[3], DOWN, size[1], block, group[1])
    if columns is None or rows is None:
        return None
    inside, side = _cells(box, (columns.start, columns.stop), (rows.start, rows.stop), block)
    return Ellipse(rows, columns, block, inside, side) if side.size >= FEWEST else None


def _span(start: float, length: float, half: float, size: int, block: int, group: int) -> slice | None:
    middle = start + length / 2.0
    if length <= 0.0:
        return None
    first = max(0, floor(middle - half * length)) // group * group
    unit = block if block % group == 0 else block * group
    last = first + ceil((min(size, middle + half * length) - first) / unit) * unit
    while last > size:
        last -= unit
    return slice(first, last) if first < last else None


@lru_cache(maxsize=32)
def _cells(
    box: Box, columns: tuple[int, int], rows: tuple[int, int], block: int
) -> tuple[Mask, npt.NDArray[np.float64]]:
    across, down = _middles(columns, block), _middles(rows, block)
    x = (across - (box[0] + box[2] / 2.0)) / (ACROSS * box[2])
    y = (down - (box[1] + box[3] / 2.0)) / (DOWN * box[3])
    inside = np.asarray(x[None, :] ** 2 + y[:, None] ** 2 <= 1.0)
    side = np.broadcast_to((across - box[0]) / box[2], inside.shape)[inside]
    inside.flags.writeable = side.flags.writeable = False
    return inside, side


def _middles(span: tuple[int, int], block: int) -> npt.NDArray[np.float64]:
    return np.asarray(np.arange(span[0], span[1], block) + block / 2.0)
