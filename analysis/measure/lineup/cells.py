"""The picture as a coarse grid of cells, and exact medians of parts of it."""

from __future__ import annotations

from typing import Any

import cv2
import msgspec
import numpy as np
import numpy.typing as npt

from analysis.model.frame import Frame
from analysis.signal.layouts import Layout, check_planes, component

Floats = npt.NDArray[np.float32]

_SIZES = (48, 32, 24, 16, 12, 8, 4)
"""Cell sizes in pixels: whole chroma groups of every layout, and their samples can be thinned evenly."""
_CELLS_ACROSS = 160
_SAMPLES = 32


class Cells(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """Means and spreads per cell, in codes of 8 bit whatever the depth.

    ``means`` has shape (components, rows, columns); ``spread`` (rows, columns) is the largest standard deviation
    within the cell of any component. ``size`` is the side of a cell in pixels.
    """

    means: Floats
    spread: Floats
    size: int


class Picture:
    """Components of one frame: Y' Cb Cr, R' G' B' or Y' alone, read as codes.

    Raises FeedUnreadable or FeedCorrupt when the planes are not what the format says.
    """

    def __init__(self, frame: Frame) -> None:
        self.how: Layout = check_planes(frame)
        self.width, self.height = frame.format.width, frame.format.height
        self.encoding = frame.format.encoding
        self.bits = self.how.depth
        self.unit = 2.0 ** (self.bits - 8)
        self._views = [component(self.how, frame.planes, i, self.width) for i in range(len(self.how.components))]

    def cells(self) -> Cells | None:
        """The grid; None for a picture too small to hold one. Cells are thinned to a few samples, evenly."""
        size = next((each for each in _SIZES if self.width // each >= _CELLS_ACROSS), _SIZES[-1])
        columns, rows = self.width // size, self.height // size
        if columns < 16 or rows < 4:
            return None
        means, spread = [], np.zeros((rows, columns), np.float32)
        for index, view in enumerate(self._views):
            across, down = self._shifts(index)
            thin = _thinned(view, columns, rows, size >> across, size >> down)
            thin /= np.float32(self.unit * (1 << self.how.shift))
            mean = cv2.resize(thin, (columns, rows), interpolation=cv2.INTER_AREA)
            square = cv2.resize(cv2.multiply(thin, thin), (columns, rows), interpolation=cv2.INTER_AREA)
            means.append(mean)
            np.maximum(spread, np.sqrt(np.maximum(square - mean * mean, 0.0)), out=spread)
        return Cells(means=np.stack(means), spread=spread, size=size)

    def median(self, x: tuple[float, float], y: tuple[float, float]) -> tuple[float, ...] | None:
        """Median code per component between these pixel limits; None when nothing lies between them."""
        found = []
        for index in range(len(self._views)):
            part = self._part(index, x, y)
            if part is None:
                return None
            found.append(float(np.median(part)) / (1 << self.how.shift))
        return tuple(found)

    def columns(self, y: tuple[float, float]) -> Floats:
        """Median luma of every column of pixels between two rows, in codes of 8 bit."""
        part = self._part(0, (0, self.width), y, thin_columns=False)
        assert part is not None
        return np.asarray(np.median(part, axis=0) / (self.unit * (1 << self.how.shift)), np.float32)

    def _part(
        self, index: int, x: tuple[float, float], y: tuple[float, float], thin_columns: bool = True
    ) -> npt.NDArray[Any] | None:
        view = self._views[index]
        across, down = self._shifts(index)
        left, right = _limits(x, across, view.shape[1])
        top, bottom = _limits(y, down, view.shape[0])
        if right <= left or bottom <= top:
            return None
        every = max(1, (right - left) // _SAMPLES) if thin_columns else 1
        part: npt.NDArray[Any] = view[top : bottom : max(1, (bottom - top) // _SAMPLES), left:right:every]
        return part

    def _shifts(self, index: int) -> tuple[int, int]:
        chroma = self.how.kind == "ycbcr" and index > 0
        return (self.how.log2_width, self.how.log2_height) if chroma else (0, 0)


def _limits(ends: tuple[float, float], shift: int, size: int) -> tuple[int, int]:
    """First and last sample whose pixels lie within the ends."""
    group = 1 << shift
    first, last = int(np.ceil(ends[0] / group)), int(np.floor(ends[1] / group))
    return max(first, 0), min(last, size)


def _thinned(view: npt.NDArray[Any], columns: int, rows: int, width: int, height: int) -> Floats:
    """Every few samples of the part of a component that the grid covers."""
    across, down = max(1, width // 4), max(1, height // 4)
    return np.ascontiguousarray(view[: rows * height : down, : columns * width : across], np.float32)
