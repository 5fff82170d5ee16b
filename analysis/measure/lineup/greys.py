"""Finds grey ramps and grey steps in the picture."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

import msgspec
import numpy as np

from analysis.measure.lineup.bands import Band, Run, bands, runs
from analysis.measure.lineup.cells import Cells, Floats, Picture

LEAST_PART = 0.1
"""Ramps and steps lower than this part of the picture are not looked for."""
_ACROSS, _SPAN = 0.6, 60.0
"""Least width as a part of the picture, and least rise in codes of 8 bit."""
_LEAST_STEPS, _MOST_STEPS = 6, 40
_NEUTRAL = 4.0
_UNEVEN, _CELLS_UNEVEN = 0.3, 2.0
_BACK = 1.0
_STEP, _LEVEL, _CELLS = 0.6, 0.8, 3
"""Greatest rise from cell to cell and difference within the inner half of a step, codes of 8 bit; cells of a step."""
_UNKNOWN_ACROSS, _UNKNOWN_DOWN, _UNKNOWN_SPAN = 0.9, 0.5, 100.0
"""How large a ramp must be to be called one although it follows no known curve."""
_LARGEST_RISE = 0.15
_READ_AT = 33


class Greys(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """A grey scale found: luma at even distances, darkest first, in codes of 8 bit.

    ``sure`` is set when it is one whatever its shape.
    """

    kind: Literal["ramp", "steps"]
    levels: Floats
    sure: bool


def find_greys(picture: Picture, cells: Cells) -> Iterator[Greys]:
    """Every grey ramp and every row of grey steps that the picture may hold, from the top down."""
    for band in bands(cells, LEAST_PART):
        if not _neutral_enough(picture, band):
            continue
        ramp = _ramp(picture, cells, band)
        if ramp is not None:
            yield Greys(kind="ramp", levels=ramp, sure=_unmistakable(band, cells, ramp))
        steps = _steps(band)
        if steps is not None:
            levels = np.array([_code(picture, cells, band, run) for run in steps])
            yield Greys(kind="steps", levels=levels, sure=True)


def _unmistakable(band: Band, cells: Cells, ramp: Floats) -> bool:
    """Whether this is a ramp whatever its shape: large, and nearly the whole picture."""
    high = (band.bottom - band.top) >= _UNKNOWN_DOWN * cells.spread.shape[0]
    line = band.profile[0]
    wide = (np.abs(np.diff(line)) > 0.0).mean() >= _UNKNOWN_ACROSS
    return bool(high and wide and ramp[-1] - ramp[0] >= _UNKNOWN_SPAN)


def _neutral_enough(picture: Picture, band: Band) -> bool:
    profile = band.profile
    if picture.how.is_grey:
        return True
    if picture.how.is_rgb:
        apart = np.ptp(profile, axis=0)
    else:
        apart = np.abs(profile[1:] - 128.0).max(axis=0)
    return bool((apart <= _NEUTRAL).mean() >= 0.95)


def _steps(band: Band) -> list[Run] | None:
    """Neighbouring runs of one width that rise, or fall, all the way; turned so that they rise."""
    row = [run for run in runs(band, _STEP) if run.length >= _CELLS and _level(band, run)]
    for order in (row, row[::-1]):
        for start in range(len(order) - _LEAST_STEPS + 1):
            group = _rising(order[start:])
            if len(group) >= _LEAST_STEPS and _wide_enough(group, band):
                return group[:_MOST_STEPS]
    return None


def _level(band: Band, run: Run) -> bool:
    """Whether the inner half of a run is level: coding rings at the edges of a step."""
    margin = run.length // 4
    return bool(np.ptp(band.profile[0, run.first + margin : run.last - margin]) <= _LEVEL)


def _rising(row: list[Run]) -> list[Run]:
    group = [row[0]]
    for run in row[1:]:
        before = group[-1]
        uneven = abs(run.length - before.length) > max(_CELLS_UNEVEN, _UNEVEN * before.length)
        gap = max(run.first - before.last, before.first - run.last)
        if run.codes[0] - before.codes[0] < _BACK or uneven or gap > max(_CELLS_UNEVEN, _UNEVEN * before.length):
            break
        group.append(run)
    return group


def _wide_enough(group: list[Run], band: Band) -> bool:
    ends = [end for run in (group[0], group[-1]) for end in (run.first, run.last)]
    across = max(ends) - min(ends)
    return across >= _ACROSS * band.flat.size and group[-1].codes[0] - group[0].codes[0] >= _SPAN


def _code(picture: Picture, cells: Cells, band: Band, run: Run) -> float:
    """Luma of a step in codes of 8 bit; in R'G'B' the mean of the three, which are alike."""
    inside = 0.2 * (run.last - run.first)
    x = (run.first + inside) * cells.size, (run.last - inside) * cells.size
    codes = picture.median(x, (band.top * cells.size, band.bottom * cells.size))
    if codes is None:
        return run.codes[0]
    return (sum(codes) / 3.0 if picture.how.is_rgb else codes[0]) / picture.unit


def _ramp(picture: Picture, cells: Cells, band: Band) -> Floats | None:
    """Luma at evenly spaced places of a ramp, first and last included, turned so that it rises."""
    line = picture.columns((band.top * cells.size, band.bottom * cells.size))
    if line[-1] < line[0]:
        line = line[::-1]
    low, high = float(line.min()), float(line.max())
    if high - low < _SPAN:
        return None
    # Level pads before and after the ramp: it begins where they end.
    first = int(np.flatnonzero(line <= low + 0.5)[-1]) if _pad(line, low) else 0
    last = int(np.flatnonzero(line >= high - 0.5)[0]) if _pad(line, high) else line.size - 1
    part = line[first : last + 1]
    if part.size < _ACROSS * line.size or part.size < 2 * _READ_AT:
        return None
    places = np.linspace(0.0, part.size - 1.0, _READ_AT)
    smooth = np.interp(places, np.arange(part.size), _smoothed(part)).astype(np.float32)
    rises = np.diff(smooth)
    if rises.min() < -_BACK or rises.max() > _LARGEST_RISE * (high - low) * (1 if rises.argmax() else 3):
        return None
    return smooth


def _pad(line: Floats, level: float) -> bool:
    """Whether more than a ramp's own share of the line lies at this level."""
    return bool((np.abs(line - level) <= 0.5).mean() > 0.05)


def _smoothed(line: Floats) -> Floats:
    """A straight line through the neighbours of each place: rounding of codes goes, slopes and ends stay."""
    reach = max(1, line.size // 200)
    padded = np.concatenate([2 * line[0] - line[reach:0:-1], line, 2 * line[-1] - line[-2 : -reach - 2 : -1]])
    kernel = np.full(2 * reach + 1, 1.0 / (2 * reach + 1))
    return np.convolve(padded, kernel, "valid").astype(np.float32)
