"""Finds the active picture: what is left when black bars above and below or at the sides are taken away.

Bars are inserted by machines: they are black, even, and alike on both sides. A dark scene is none of
these for long. So bars are believed only after several frames in a row in which both edges are black
and even, about equally wide, and end at a line that is not black for most of its length; and they are
given up as soon as light shows inside them. Frames that show nothing either way change nothing.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from analysis.measure.unpack import Area
from analysis.model.frame import Frame, Range
from analysis.signal.layouts import Layout, component
from analysis.signal.levels import code

BLACK_PERCENT = 2.5
"""Bars lie at or below this level, IRE: black with room for coding noise."""
EVEN_PERCENT = 3.0
"""Greatest difference of two samples of the bars, IRE."""
LEAST, MOST = 0.01, 0.4
"""Width of one bar as a part of the picture."""
UNEQUAL = 0.01
"""How far the two bars may differ, as a part of the picture."""
FRAMES_TO_BELIEVE, FRAMES_TO_GIVE_UP = 12, 3
SMALLEST = 32
"""Pictures with fewer pixels on a side are not searched."""

_LINES = 96  # samples looked at along a line
_TOLERANCE = 2  # pixels by which two findings may differ and still be the same

Samples = npt.NDArray[Any]
Bars = tuple[int, int]


class ActivePicture:
    """Remembers which part of the frames of one format is picture.

    ``find(frame)`` returns x, y, width and height in pixels, whole chroma groups, for this frame.
    """

    def __init__(self, how: Layout, width: int, height: int, span: Range) -> None:
        self._how, self._width, self._height = how, width, height
        unit = 1 << how.shift
        self._black = code(BLACK_PERCENT, how.depth, span) * unit
        self._even = (code(EVEN_PERCENT, how.depth, span) - code(0.0, how.depth, span)) * unit
        self._rows, self._columns = _Edges(), _Edges()

    def find(self, frame: Frame) -> Area:
        """The active picture, given everything seen up to and including this frame."""
        if min(self._width, self._height) >= SMALLEST:
            lines = self._luma(frame)
            self._rows.see(self._look([line[:, :: max(1, self._width // _LINES)] for line in lines]))
            self._columns.see(self._look([line[:: max(1, self._height // _LINES)].T for line in lines]))
        x, width = _whole_groups(self._columns.bars, self._width, 1 << self._how.log2_width)
        y, height = _whole_groups(self._rows.bars, self._height, 1 << self._how.log2_height)
        return x, y, width, height

    def _luma(self, frame: Frame) -> list[Samples]:
        """Luma, or each of R'G'B': black is where all of them are."""
        count = 3 if self._how.is_rgb else 1
        return [component(self._how, frame.planes, index, self._width) for index in range(count)]

    def _look(self, lines: list[Samples]) -> _Sight:
        """What one direction of this frame shows; ``lines`` run along the bars."""
        size = lines[0].shape[0]
        edge = max(1, round(size * LEAST))
        outer = max(max(int(array[:edge].max()), int(array[-edge:].max())) for array in lines)
        if outer > self._black:
            return _Sight(None, False, None)
        brightest = np.max([array.max(axis=1) for array in lines], axis=0)
        lit = np.flatnonzero(brightest > self._black)
        if not lit.size:
            return _Sight(None, False, brightest <= self._black)
        first, last = int(lit[0]), size - 1 - int(lit[-1])
        fits = abs(first - last) <= max(_TOLERANCE, UNEQUAL * size) and max(first, last) <= MOST * size
        even = max(_spread(array, first, last) for array in lines) <= self._even
        sharp = all(
            np.median(np.max([array[line] for array in lines], axis=0)) > self._black
            for line in (min(first + 1, size - 1), max(size - 2 - last, 0))
        )
        return _Sight((first, last), fits and even and sharp, brightest <= self._black)


class _Sight:
    """One look at one direction: the bars seen, whether they are convincing, which lines are dark."""

    __slots__ = ("bars", "convincing", "dark")

    def __init__(self, bars: Bars | None, convincing: bool, dark: npt.NDArray[np.bool_] | None) -> None:
        self.bars, self.convincing, self.dark = bars, convincing, dark


class _Edges:
    """The bars believed in one direction, with the frames for and against a change."""

    def __init__(self) -> None:
        self.bars: Bars = (0, 0)
        self._wanted: Bars = (0, 0)
        self._for = 0
        self._against = 0

    def see(self, sight: _Sight) -> None:
        self._against = self._against + 1 if self._lit_inside(sight) else 0
        if self._against >= FRAMES_TO_GIVE_UP:
            self.bars, self._against = (0, 0), 0
        if not sight.convincing or sight.bars is None:
            self._for = 0
            return
        near = all(abs(a - b) <= _TOLERANCE for a, b in zip(sight.bars, self._wanted, strict=True))
        self._for = self._for + 1 if near else 1
        self._wanted = sight.bars
        same = all(abs(a - b) <= _TOLERANCE for a, b in zip(sight.bars, self.bars, strict=True))
        if self._for >= FRAMES_TO_BELIEVE and not same:
            self.bars = sight.bars

    def _lit_inside(self, sight: _Sight) -> bool:
        """Whether light shows where bars are believed to be."""
        first, last = self.bars
        if not first and not last:
            return False
        if sight.dark is None:
            return True
        inside = sight.dark[: max(0, first - _TOLERANCE)], sight.dark[sight.dark.size - max(0, last - _TOLERANCE) :]
        return not (inside[0].all() and inside[1].all())


def _spread(array: Samples, first: int, last: int) -> int:
    """Difference of the largest and smallest sample in both bars; the line next to the picture may ring."""
    parts = [part for part in (array[: max(1, first - 1)], array[array.shape[0] - max(1, last - 1) :]) if part.size]
    return max(int(part.max()) for part in parts) - min(int(part.min()) for part in parts)


def _whole_groups(bars: Bars, size: int, group: int) -> tuple[int, int]:
    """Start and length of what the bars leave, cut inwards to whole groups; the far edge may be a part."""
    start = -(-bars[0] // group) * group
    end = size if bars[1] == 0 else (size - bars[1]) // group * group
    return start, end - start
