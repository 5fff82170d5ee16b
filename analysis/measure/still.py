"""Which parts of two pictures stood still: blocks of sparse pixels, judged by how much they differ, and how."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

ROWS, COLUMNS = 8, 16
"""Samples in a block; 128 of them tell a variance to one part in eight."""
NEIGHBOURS, PART = 12, 12
"""Blocks next in level among which the steady ones are looked for, on either side: at least, or one in so many."""
STEADIEST = 0.3
"""The quantile of their variances, and of all correlations, that is taken for still."""
FACTOR = 2.0
"""A block is still while its variance is at most this many times what its steady neighbours have."""
HANGING = 0.25
"""And while neighbouring pixels differ alike by at most this much more (correlation) than in steady blocks."""
ROUNDING = 1.0 / 6.0
"""Variance of a difference of two pictures by rounding alone, in codes squared."""
LIGHT_CHANGE = 0.02
"""Part by which most of the picture may grow brighter or darker together."""

Pixels = npt.NDArray[Any]
Pair = tuple[Pixels, Pixels]
"""Luma of sparse pixels, and of the pixel to the right of each."""


class Blocks:
    """Two sparse pictures cut into blocks of 128 samples.

    ``level`` is the mean code of a block, ``variance`` that of the difference with its mean removed
    (in codes squared, one degree of freedom given up), ``shift`` the mean of the difference, ``hanging`` how
    the difference correlates with that one pixel to the right; all have shape (blocks,).
    ``total`` is A + B of every sample, shape (blocks, samples).
    """

    size = ROWS * COLUMNS

    def __init__(self, first: Pair, second: Pair) -> None:
        self.total = second[0].astype(np.int32) + first[0]
        self._difference = second[0].astype(np.float32) - first[0]
        self.count = self.total.shape[0]
        self.level = self.total.mean(axis=1) / 2.0
        self.shift = self._difference.mean(axis=1, dtype=np.float64)
        here = self._difference - self.shift[:, None].astype(np.float32)
        self.variance = np.einsum("ij,ij->i", here, here).astype(np.float64) / (self.size - 1)
        beside = second[1].astype(np.float32) - first[1]
        beside -= beside.mean(axis=1, keepdims=True)
        variance = np.einsum("ij,ij->i", beside, beside).astype(np.float64) / (self.size - 1)
        common = np.einsum("ij,ij->i", here, beside).astype(np.float64) / (self.size - 1)
        self.hanging = common / np.sqrt(np.maximum(self.variance * variance, ROUNDING**2))

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


def cut(first: Pair, second: Pair) -> Blocks | None:
    """Two sparse pictures of one shape as blocks; what does not fill a block is left out. None without a block."""
    rows, columns = (min(side) for side in zip(*(one.shape for one in (*first, *second)), strict=True))
    rows, columns = rows // ROWS, columns // COLUMNS
    if not rows or not columns:
        return None

    def blocks(picture: Pixels) -> Pixels:
        part = picture[: rows * ROWS, : columns * COLUMNS].reshape(rows, ROWS, columns, COLUMNS)
        return part.transpose(0, 2, 1, 3).reshape(rows * columns, ROWS * COLUMNS)

    return Blocks((blocks(first[0]), blocks(first[1])), (blocks(second[0]), blocks(second[1])))


def still(blocks: Blocks, usable: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """The blocks that stood still.

    Noise depends on level, so each block is held against those nearest to it in level: the steadiest of them
    show what noise alone does there, movement only ever adds. And noise differs from pixel to pixel, while what
    moves differs alike in neighbours.
    """
    order = np.flatnonzero(usable)[np.argsort(blocks.level[usable], kind="stable")]
    verdict = np.zeros(blocks.count, np.bool_)
    if order.size < 2 * NEIGHBOURS + 1:
        return verdict
    aside = max(NEIGHBOURS, order.size // PART)
    windows = np.lib.stride_tricks.sliding_window_view(blocks.variance[order], 2 * aside + 1)
    steady = np.pad(np.quantile(windows, STEADIEST, axis=1), aside, mode="edge")
    variance = np.maximum(steady, ROUNDING)
    hanging = blocks.hanging[order] <= max(0.0, float(np.quantile(blocks.hanging[order], STEADIEST))) + HANGING
    verdict[order] = (blocks.variance[order] <= FACTOR * variance) & hanging
    return verdict
