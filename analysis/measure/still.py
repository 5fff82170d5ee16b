"""Which parts of two pictures stood still: blocks of sparse pixels, judged by how much they differ."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

ROWS, COLUMNS = 8, 16
"""Samples in a block; 128 of them tell a variance to one part in eight."""
NEIGHBOURS = 12
"""Blocks next in level among which the steady ones are looked for, on either side."""
STEADIEST = 0.3
"""The quantile of their variances that is taken for still."""
FACTOR = 2.0
"""A block is still while its variance is at most this many times what its steady neighbours have."""
SHIFT_SIGMAS = 5.0
"""A block is still while its mean moved by less than this many standard errors."""
LIGHT_CHANGE = 0.02
"""Part by which most of the picture may grow brighter or darker together."""


class Blocks:
    """Two sparse pictures cut into blocks of 128 samples.

    ``level`` is the mean code of a block, ``variance`` that of the difference with its mean removed
    (in codes squared, one degree of freedom given up), ``shift`` the mean of the difference;
    all have shape (blocks,). ``total`` is A + B of every sample, shape (blocks, samples).
    """

    size = ROWS * COLUMNS

    def __init__(self, first: npt.NDArray[Any], second: npt.NDArray[Any]) -> None:
        self.total = first.astype(np.int32) + second
        self._difference = second.astype(np.float32) - first
        self.count = self.total.shape[0]
        self.level = self.total.mean(axis=1) / 2.0
        self.shift = self._difference.mean(axis=1, dtype=np.float64)
        self.variance = self._difference.var(axis=1, ddof=1, dtype=np.float64)

    def between(self, low: int, high: int, most: float) -> npt.NDArray[np.bool_]:
        """Blocks with at most this part of their samples at or beyond either code (in both pictures' mean)."""
        outside = ((self.total <= 2 * low) | (self.total >= 2 * high)).mean(axis=1)
        return np.asarray(outside <= most)

    def centred(self, which: npt.NDArray[np.intp]) -> npt.NDArray[np.float64]:
        """Differences of some blocks, each block's mean removed."""
        return np.asarray(self._difference[which] - self.shift[which, None])

    def freedom(self, which: npt.NDArray[np.intp]) -> int:
        """Degrees of freedom left in those differences."""
        return len(which) * (self.size - 1)

    def light_moved(self, usable: npt.NDArray[np.bool_], black: float) -> bool:
        """Whether most blocks grew brighter, or most darker, by more than a little."""
        bright = usable & (self.level > black + 1.0)
        if not bright.any():
            return False
        change = self.shift[bright] / (self.level[bright] - black)
        return bool(abs(float(np.median(change))) > LIGHT_CHANGE)


def cut(first: npt.NDArray[Any], second: npt.NDArray[Any]) -> Blocks | None:
    """Two sparse pictures of one shape as blocks; what does not fill a block is left out. None without a block."""
    rows, columns = first.shape[0] // ROWS, first.shape[1] // COLUMNS
    if not rows or not columns:
        return None

    def blocks(picture: npt.NDArray[Any]) -> npt.NDArray[Any]:
        part = picture[: rows * ROWS, : columns * COLUMNS].reshape(rows, ROWS, columns, COLUMNS)
        return part.transpose(0, 2, 1, 3).reshape(rows * columns, ROWS * COLUMNS)

    return Blocks(blocks(first), blocks(second))


def still(blocks: Blocks, usable: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """The blocks that stood still.

    Noise depends on level, so each block is held against those nearest to it in level: the steadiest
    of them show what noise alone does there. Movement only ever adds.
    """
    order = np.flatnonzero(usable)[np.argsort(blocks.level[usable], kind="stable")]
    verdict = np.zeros(blocks.count, np.bool_)
    if order.size < 2 * NEIGHBOURS + 1:
        return verdict
    variance = blocks.variance[order]
    windows = np.lib.stride_tricks.sliding_window_view(variance, 2 * NEIGHBOURS + 1)
    steady = np.quantile(windows, STEADIEST, axis=1)
    steady = np.pad(steady, NEIGHBOURS, mode="edge")
    common = float(np.median(blocks.shift[order]))
    moved = np.abs(blocks.shift[order] - common)
    limit = SHIFT_SIGMAS * np.sqrt(np.maximum(steady, 1.0 / 6.0) / blocks.size)
    verdict[order] = (variance <= FACTOR * np.maximum(steady, 1.0 / 6.0)) & (moved <= limit)
    return verdict
