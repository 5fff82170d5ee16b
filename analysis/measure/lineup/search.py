"""Finds seven bars side by side in the picture."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import msgspec
import numpy as np

from analysis.measure.lineup.bands import Band, Run, bands, runs
from analysis.measure.lineup.cells import Cells, Picture
from analysis.measure.lineup.hypotheses import Floats

LEAST_PART = 0.08
"""Bars lower than this part of the picture are not looked for."""
_UNEVEN, _CELLS_UNEVEN = 0.25, 2.0
_GAP = 0.45
_STEP, _NEUTRAL = 5.0, 10.0
_INSIDE = 0.22


class Bars(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """Seven bars found: left edge of the first, width of one, upper and lower edge, in pixels.

    ``codes`` are their medians in codes of the feed's depth, shape (7, components).
    """

    left: float
    width: float
    top: float
    bottom: float
    codes: Floats


def find(picture: Picture, cells: Cells) -> Iterator[Bars]:
    """Every place where seven flat bars of one width stand side by side, the first of them the brightest neutral."""
    for band in bands(cells, LEAST_PART):
        row = runs(band, _STEP)
        for start in range(len(row) - 6):
            seven = row[start : start + 7]
            if _alike(seven) and _begins_with_white(seven, picture):
                bars = _measured(picture, cells, band, seven)
                if bars is not None:
                    yield bars


def patch(picture: Picture, bars: Bars, x: tuple[float, float], y: tuple[float, float]) -> tuple[float, ...] | None:
    """Median codes of the inner part of a patch; ``x`` in bar widths from the left edge, ``y`` in pixels.

    None when the middle of the patch does not lie in the picture.
    """
    left, right = bars.left + x[0] * bars.width, bars.left + x[1] * bars.width
    if not (0 <= (left + right) / 2.0 < picture.width and 0 <= (y[0] + y[1]) / 2.0 < picture.height):
        return None
    return picture.median(_inner(left, right), _inner(*y))


def _inner(first: float, last: float) -> tuple[float, float]:
    margin = _INSIDE * (last - first)
    return first + margin, last - margin


def _alike(seven: list[Run]) -> bool:
    lengths = [run.length for run in seven]
    pitch = (seven[-1].last - seven[0].first) / 7.0
    if max(lengths) - min(lengths) > max(_CELLS_UNEVEN, _UNEVEN * pitch):
        return False
    gaps = [b.first - a.last for a, b in itertools.pairwise(seven)]
    return max(gaps) <= max(_CELLS_UNEVEN, _GAP * pitch)


def _begins_with_white(seven: list[Run], picture: Picture) -> bool:
    """White is neutral and, in luma, the brightest of the seven; each later bar must differ from its neighbour."""
    first = seven[0].codes
    if picture.how.is_rgb:
        neutral = max(first) - min(first) <= _NEUTRAL
        brightest = all(sum(run.codes) < sum(first) for run in seven[1:])
    else:
        neutral = all(abs(code - 128.0) <= _NEUTRAL for code in first[1:])
        brightest = all(run.codes[0] < first[0] for run in seven[1:])
    return neutral and brightest


def _measured(picture: Picture, cells: Cells, band: Band, seven: list[Run]) -> Bars | None:
    centres = np.array([(run.first + run.last) / 2.0 for run in seven]) * cells.size
    width, middle = float(np.polyfit(np.arange(7) - 3.0, centres, 1)[0]), float(centres.mean())
    shape = Bars(
        left=middle - 3.5 * width,
        width=width,
        top=float(band.top * cells.size),
        bottom=_bottom(band, cells, picture),
        codes=np.zeros((0, 0)),
    )
    rows = [patch(picture, shape, (i, i + 1), (shape.top, shape.bottom)) for i in range(7)]
    if any(row is None for row in rows):
        return None
    return msgspec.structs.replace(shape, codes=np.array(rows))


def _bottom(band: Band, cells: Cells, picture: Picture) -> float:
    """Lower edge in pixels; a band that reaches the last row of cells reaches the end of the picture."""
    if band.bottom == cells.spread.shape[0]:
        return float(picture.height)
    return float(band.bottom * cells.size)
