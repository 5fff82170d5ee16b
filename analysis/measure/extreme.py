"""One extreme channel of every pixel, the brightest or the darkest of R, G and B, of a sample or of every row."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from analysis.measure.sample import ROWS, STEPS, Sample, Sampler
from analysis.measure.unpack import Area
from analysis.model.frame import Frame, FrameFormat
from analysis.model.reading import StopsSpread
from analysis.signal.layouts import layout

Channel = npt.NDArray[Any]


class ExtremeMeter:
    """Spreads an extreme channel of the pictures of one format over stops; which channel and how, subclasses say."""

    def __init__(self, shape: FrameFormat) -> None:
        self._how = layout(shape.layout)
        self._sampler = Sampler(shape)

    def look(self, sample: Sample) -> StopsSpread:
        """The spread of a sample with colour."""
        return self._spread(self._counts(sample))

    def look_closely(self, frame: Frame, area: Area) -> StopsSpread:
        """The same of every row of ``area``, for a command that has the time: several samples, row beside row."""
        group = 1 << self._how.log2_height
        apart = max(group, area[3] // ROWS // group * group)
        left, top, wide, high = area
        counts = np.zeros(STEPS)
        for down in range(0, min(apart, high), group):
            counts += self._counts(self._sampler.take(frame, (left, top + down, wide, high - down)))
        return self._spread(counts)

    def _counts(self, sample: Sample) -> npt.NDArray[np.float64]:
        """How many pixels have their extreme channel at each step of the sample's scale."""
        assert sample.rgb is not None, "an extreme channel needs a sample with colour"
        red, green, blue = sample.rgb
        extreme = red if green is red else self._of(self._of(red, green), blue)
        return np.asarray(cv2.calcHist([extreme], [0], None, [STEPS], [0, STEPS]).ravel(), np.float64)

    def _of(self, one: Channel, other: Channel) -> Channel:
        """The extreme of two channels, pixel by pixel."""
        raise NotImplementedError

    def _spread(self, counts: npt.NDArray[np.float64]) -> StopsSpread:
        """Counts at each step of the sample's scale, as percent of the picture in stops."""
        raise NotImplementedError
