"""Bands of rows that are all alike, and the flat runs from left to right within a band."""

from __future__ import annotations

import itertools

import msgspec
import numpy as np
import numpy.typing as npt

from analysis.measure.lineup.cells import Cells, Floats

ALIKE = 2.0
"""Greatest difference of a cell and the one beneath it that count as the same, codes of 8 bit."""
_PART_ALIKE = 0.92
"""Part of the cells of two neighbouring rows that must be alike; the rest are edges and titles."""
FLAT = 3.5
"""Greatest standard deviation within a flat cell of a clean picture, codes of 8 bit: coding noise, but no edge."""
_NOISE, _ROWS_NOISE = 6.0, 1.0
"""Most noise that is allowed for (a median standard deviation of all cells), and its weight between two rows."""
_ROWS_READ = 24


class Run(msgspec.Struct, frozen=True, kw_only=True):
    """Neighbouring flat cells of one colour: first and last cell (exclusive), means in codes of 8 bit."""

    first: int
    last: int
    codes: tuple[float, ...]

    @property
    def length(self) -> int:
        """Width in cells."""
        return self.last - self.first


class Band(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """Rows of cells from ``top`` to ``bottom`` (exclusive) that are alike.

    ``profile`` has shape (components, columns): the median of each column of cells; ``flat`` (columns) says which
    of them hold no edge.
    """

    top: int
    bottom: int
    profile: Floats
    flat: npt.NDArray[np.bool_]


def bands(cells: Cells, part: float) -> list[Band]:
    """Every band at least ``part`` of the picture high, from the top down."""
    rows = cells.spread.shape[0]
    noise = min(float(np.median(cells.spread)), _NOISE)
    apart = np.abs(np.diff(cells.means, axis=1)).max(axis=0)
    alike = (apart <= ALIKE + _ROWS_NOISE * noise).mean(axis=1) >= _PART_ALIKE
    breaks = [0, *(int(row) + 1 for row in np.flatnonzero(~alike)), rows]
    least = max(2, round(part * rows))
    return [
        _band(cells, top, bottom, FLAT + noise) for top, bottom in itertools.pairwise(breaks) if bottom - top >= least
    ]


def runs(band: Band, alike: float) -> list[Run]:
    """Flat runs of two cells and more, from left to right; cells on an edge belong to none.

    A step of more than ``alike`` codes of 8 bit from one cell to the next ends a run.
    """
    step = np.abs(np.diff(band.profile, axis=1)).max(axis=0)
    found: list[Run] = []
    first = 0
    columns = band.flat.size
    for column in range(1, columns + 1):
        if column < columns and step[column - 1] <= alike and band.flat[column] == band.flat[first]:
            continue
        if band.flat[first] and column - first >= 2:
            part = band.profile[:, first:column]
            found.append(Run(first=first, last=column, codes=tuple(float(v) for v in np.median(part, axis=1))))
        first = column
    return found


def _band(cells: Cells, top: int, bottom: int, flat_below: float) -> Band:
    # The outer rows of a band may hold a little of the edge.
    inside = slice(top + 1, bottom - 1) if bottom - top > 4 else slice(top, bottom)
    every = max(1, (bottom - top) // _ROWS_READ)
    profile = np.median(cells.means[:, inside][:, ::every], axis=1).astype(np.float32)
    flat = np.median(cells.spread[inside][::every], axis=0) <= flat_below
    return Band(top=top, bottom=bottom, profile=profile, flat=flat)
