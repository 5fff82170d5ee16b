"""The part of a face's box that is skin and little else: an ellipse in its middle.

Half axes 0.36 of the width and 0.40 of the height. Of nine ways to read skin that were compared on 211 faces, the
70th percentile of luma in this ellipse moved least when the box moved (0.3 IRE standard deviation at 80 pixels of
height, 0.66 at 24): area counts for more than landmarks, which move by 3 to 6 % of the height themselves.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt

ACROSS, DOWN = 0.36, 0.40
"""Half axes in widths and heights of the box."""

FEWEST = 12
"""Pixels below which nothing is told."""

Box = tuple[float, float, float, float]


class Ellipse:
    """``mask`` (uint8, 255 inside) belongs to ``picture[rows, columns]``; slices step by the stride."""

    __slots__ = ("columns", "mask", "rows")

    def __init__(self, rows: slice, columns: slice, mask: npt.NDArray[np.uint8]) -> None:
        self.rows, self.columns, self.mask = rows, columns, mask


def ellipse(
    box: Box, size: tuple[int, int], stride: tuple[int, int] = (1, 1), group: tuple[int, int] = (1, 1)
) -> Ellipse | None:
    """The ellipse of a box (x, y, width, height) within a picture of ``size`` (width, height), in pixels.

    Every ``stride``-th pixel (across, down), starting at a whole ``group``. None where fewer than
    :data:`FEWEST` pixels are inside.

    >>> found = ellipse((10.0, 10.0, 100.0, 100.0), (640, 360))
    >>> round(float(np.count_nonzero(found.mask) / (np.pi * 36 * 40)), 2)
    1.0
    """
    columns = _span(box[0], box[2], ACROSS, size[0], stride[0], group[0])
    rows = _span(box[1], box[3], DOWN, size[1], stride[1], group[1])
    if columns is None or rows is None:
        return None
    mask = _mask(box, (columns.start, columns.stop, columns.step), (rows.start, rows.stop, rows.step))
    return Ellipse(rows, columns, mask) if np.count_nonzero(mask) >= FEWEST else None


def _span(start: float, length: float, half: float, size: int, stride: int, group: int) -> slice | None:
    middle = start + length / 2.0
    first = max(0, int(np.ceil(middle - half * length))) // group * group
    last = min(size, int(np.floor(middle + half * length)) + 1)
    return slice(first, last, stride) if 0 <= first < last and length > 0 else None


@lru_cache(maxsize=32)
def _mask(box: Box, columns: tuple[int, int, int], rows: tuple[int, int, int]) -> npt.NDArray[np.uint8]:
    across = _squares(columns, box[0], box[2], ACROSS)
    down = _squares(rows, box[1], box[3], DOWN)
    inside: npt.NDArray[Any] = (across[None, :] + down[:, None]) <= 1.0
    mask = inside.astype(np.uint8) * np.uint8(255)
    mask.flags.writeable = False
    return mask


def _squares(span: tuple[int, int, int], start: float, length: float, half: float) -> npt.NDArray[np.float64]:
    # A pixel's place is its middle, half a pixel on.
    places = (np.arange(*span) + 0.5 - (start + length / 2.0)) / (half * length)
    return np.asarray(places**2)
