"""Pictures that mean "no signal", learnt from the operator, because no rule can know them.

Converters and receivers put up a picture of their own when nothing is connected: blue, bars,
a logo, often coloured, so that darkness says nothing. The operator shows it once and confirms
it; from then on it is evidence, and every other picture is a picture.
"""

from __future__ import annotations

import threading
from collections.abc import Sequence

import msgspec
import numpy as np
import numpy.typing as npt

from analysis.model.errors import UsageError
from analysis.model.frame import Frame, Picture
from analysis.signal.layouts import component, layout

_ROWS, _COLUMNS = 18, 32
_TOLERANCE = 2.0
"""Largest difference of a cell's mean in 8-bit codes: noise of sigma 2 averages far below, an added clock far above."""
_MOVING_SHARE = 0.1
"""Share of cells that may change while a slate is learnt (a clock, a spinning mark)."""


class Slate(msgspec.Struct, frozen=True, kw_only=True):
    """A learnt picture: means of a grid of cells per component, in 8-bit codes; ``still`` marks cells that count.

    Plain lists, so that settings can keep it. ``cells`` has three components of 18 x 32 values
    (one where there is no colour).
    """

    name: str
    layout: str
    cells: list[list[float]]
    still: list[bool]


class SlateBook:
    """The slates the operator has confirmed. Matching is cheap: a grid of means, not pixels."""

    def __init__(self, slates: Sequence[Slate] = ()) -> None:
        self._lock = threading.Lock()
        self._slates: dict[str, Slate] = {}
        self._arrays: tuple[tuple[Slate, npt.NDArray[np.float32], npt.NDArray[np.bool_]], ...] = ()
        self._set({slate.name: slate for slate in slates})

    @property
    def slates(self) -> tuple[Slate, ...]:
        """All learnt slates, to be kept by the settings."""
        with self._lock:
            return tuple(self._slates.values())

    def learn(self, name: str, pictures: Sequence[Picture | Frame]) -> Slate:
        """Remember a slate from one or more pictures of it; cells that change between them do not count.

        Raises UsageError when more than a tenth changes: that is a picture, not a slate.
        """
        if not pictures:
            raise UsageError("no picture to learn from", name, "wait for a picture")
        kind = pictures[0].format.layout
        if any(picture.format.layout != kind for picture in pictures):
            raise UsageError("the picture changed its form meanwhile", name, "learn it again")
        grids = np.stack([_cells(picture) for picture in pictures])
        moving = (grids.max(axis=0) - grids.min(axis=0) > _TOLERANCE).any(axis=0)
        if moving.mean() > _MOVING_SHARE:
            raise UsageError("too much of this picture moves for a slate", name, "show the slate alone")
        slate = Slate(name=name, layout=kind, cells=grids.mean(axis=0).tolist(), still=(~moving).tolist())
        with self._lock:
            self._set({**self._slates, name: slate})
        return slate

    def forget(self, name: str) -> None:
        """Take a slate out of the book; an unknown name is no fault."""
        with self._lock:
            self._set({key: value for key, value in self._slates.items() if key != name})

    def match(self, picture: Picture | Frame) -> str | None:
        """The name of the slate this picture shows, None when it shows none."""
        arrays = self._arrays
        if not arrays:
            return None
        cells = _cells(picture)
        for slate, learnt, still in arrays:
            if slate.layout != picture.format.layout or learnt.shape != cells.shape:
                continue
            if (np.abs(cells - learnt)[:, still] <= _TOLERANCE).all():
                return slate.name
        return None

    def _set(self, slates: dict[str, Slate]) -> None:
        self._slates = slates
        self._arrays = tuple(
            (slate, np.asarray(slate.cells, np.float32), np.asarray(slate.still, np.bool_)) for slate in slates.values()
        )


def _cells(picture: Picture | Frame) -> npt.NDArray[np.float32]:
    """Mean of every cell of a fixed grid, shape (components, 576), in codes brought to 8 bits."""
    how = layout(picture.format.layout)
    scale = 2.0 ** (how.depth - 8 + how.shift)
    means = []
    for index in range(len(how.components)):
        plane = component(how, picture.planes, index, picture.format.width)
        means.append(_grid(plane) / scale)
    return np.stack(means).astype(np.float32)


def _grid(plane: npt.NDArray[np.uint8] | npt.NDArray[np.uint16]) -> npt.NDArray[np.float64]:
    """Cell means from at most 16 x 16 samples of each cell, flattened."""
    height, width = plane.shape
    step_y, step_x = max(1, height // (_ROWS * 16)), max(1, width // (_COLUMNS * 16))
    samples = plane[::step_y, ::step_x].astype(np.float64)
    height, width = samples.shape
    rows = np.minimum(np.arange(_ROWS) * height // _ROWS, height - 1)
    columns = np.minimum(np.arange(_COLUMNS) * width // _COLUMNS, width - 1)
    sums = np.add.reduceat(np.add.reduceat(samples, rows, axis=0), columns, axis=1)
    high = np.maximum(np.diff(np.append(rows, height)), 1)
    wide = np.maximum(np.diff(np.append(columns, width)), 1)
    flat: npt.NDArray[np.float64] = (sums / (high[:, None] * wide[None, :])).ravel()
    return flat
