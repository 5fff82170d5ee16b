"""Makes the map of a scene's light from a sparse sample of the picture: cheap enough for ten times a second."""

from __future__ import annotations

from math import ceil, log2
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from analysis.measure.framing import FINER, Framing
from analysis.measure.sample import STEPS, Sample, level_of_step, step_of_level
from analysis.measure.stops import FAINTEST, StopsMeter
from analysis.model.frame import FrameFormat
from analysis.model.instant import Instant
from analysis.model.light import COLUMNS, ROWS, LightMap
from analysis.signal.curves import MIDDLE_GREY, Curve
from analysis.signal.layouts import layout
from analysis.signal.levels import code, codes_per_range

SPOILT = 0.02
"""Share of a cell's pixels that may be clipped or crushed before its mean is not believed."""
COARSE = 0.25
"""Where one code is more than this many stops, a mean over a cell says too little."""
DARKEST = MIDDLE_GREY / 256.0
"""Light by which no place is recognised: eight stops below middle grey."""


class LightMapper:
    """Maps the light of pictures of one format through one curve.

    >>> from analysis.measure.sample import Sampler
    >>> from analysis.model.frame import Encoding, Frame
    >>> from analysis.signal.curves import curve
    >>> form = FrameFormat(
    ...     layout="gray", width=320, height=180, encoding=Encoding(bits=8, range="narrow", matrix="bt709"))
    >>> grey = np.full((180, 320), 106, np.uint8)
    >>> frame = Frame(planes=(grey,), format=form, instant=Instant(0.0, 0.0), generation=1, sequence=0)
    >>> sample = Sampler(form).take(frame, (0, 0, 320, 180))
    >>> light = LightMapper(form, curve("bt709")).look(sample, 100.0, 0.0, Instant(0.0, 0.0), 1, (0, 0, 320, 180))
    >>> light.stops.shape, round(float(light.stops[3, 4]), 1), bool(light.trusted.all())
    ((27, 48), 0.0, True)
    """

    def __init__(self, shape: FrameFormat, curve: Curve) -> None:
        """Raises FeedUnreadable for a layout or matrix that cannot be read."""
        self.format, self.curve = shape, curve
        self._meter = StopsMeter(shape, curve)
        self._depth, self._range = layout(shape.layout).depth, shape.encoding.range
        self._least = self._least_light()
        levels = np.array([level_of_step(step, self._depth, self._range) for step in (0, STEPS - 1)])
        self._levels = np.interp(np.arange(STEPS), (0, STEPS - 1), levels / 100.0)
        self._kept: dict[str, npt.NDArray[Any]] = {}
        self._framing, self._view = Framing(), (0, (0, 0, 0, 0))

    def look(
        self,
        sample: Sample,
        clip_level: float,
        crush_level: float,
        at: Instant,
        generation: int,
        area: tuple[int, int, int, int],
    ) -> LightMap:
        """The map of a sample with colour, taken of ``area`` of a frame that arrived ``at``.

        ``clip_level`` and ``crush_level`` are the levels in IRE from which on pixels count as clipped and crushed, as
        the reading tells them. The map's arrays are its own.
        """
        assert sample.rgb is not None, "a map of light needs a sample with colour"
        fine = self._meter.luminance(sample)
        shift = self._shift(fine, (generation, area))
        luminance = _in_cells(fine, shift)
        largest = self._largest(sample)
        clip_step = step_of_level(clip_level, self._depth, self._range)
        crush_code = code(crush_level, self._depth, self._range)
        clipped, crushed = self._beyond(largest, clip_step - 0.5, sample.luma, crush_code + 0.5, shift)
        inside = _inside(shift)
        stops = np.log2(np.maximum(luminance, FAINTEST) / MIDDLE_GREY)
        trusted = inside & (clipped <= SPOILT) & (crushed <= SPOILT) & (luminance >= self._least)
        return LightMap(
            stops=stops.astype(np.float32),
            room=self._room(_in_cells(largest.astype(np.float32), shift), clip_level),
            trusted=trusted,
            clipped=inside & (clipped > SPOILT),
            crushed=inside & ((crushed > SPOILT) | (luminance < self._least)),
            at=at,
            generation=generation,
            area=area,
            shift=shift,
        )

    def _shift(self, luminance: npt.NDArray[Any], view: tuple[int, tuple[int, int, int, int]]) -> tuple[float, float]:
        """By how many cells (down, right) the view has moved since this feed life began, or another view did."""
        if view != self._view:
            self._framing.forget()
            self._view = view
        small = cv2.resize(luminance, (FINER * COLUMNS, FINER * ROWS), interpolation=cv2.INTER_AREA)
        # What is darker than can be told apart is noise, and no mark to find a place by.
        return self._framing.see(np.log2(np.maximum(small, max(self._least, DARKEST))).astype(np.float32))

    def _largest(self, sample: Sample) -> npt.NDArray[np.uint16]:
        assert sample.rgb is not None
        red, green, blue = sample.rgb
        if red is green:
            return red
        largest = self._array("largest", red.shape, np.uint16)
        cv2.max(red, green, largest)
        cv2.max(largest, blue, largest)
        return largest

    def _beyond(
        self,
        largest: npt.NDArray[np.uint16],
        clip_step: float,
        luma: npt.NDArray[Any],
        crush_code: float,
        shift: tuple[float, float],
    ) -> tuple[npt.NDArray[np.float32], npt.NDArray[np.float32]]:
        """Shares of the pixels of each cell that are clipped, and that are crushed."""
        # By numpy: where a picture has four values, cv2.compare takes a number for an array of another size.
        above, below = largest >= clip_step, luma <= crush_code
        return _in_cells(above.astype(np.float32), shift), _in_cells(below.astype(np.float32), shift)

    def _room(self, steps: npt.NDArray[np.float32], clip_level: float) -> npt.NDArray[np.float32]:
        light = self._meter.curve.decode(self._levels[np.clip(steps, 0, STEPS - 1).astype(np.intp)])
        top = max(self._meter.light_of(clip_level), FAINTEST)
        return np.asarray(log2(top) - np.log2(np.maximum(light, FAINTEST)), np.float32)

    def _least_light(self) -> float:
        """The least light at which one code is no more than ``COARSE`` stops; black of a curve without any."""
        signal = np.arange(0, codes_per_range(self._depth, self._range)) / codes_per_range(self._depth, self._range)
        light = np.maximum(np.asarray(self.curve.decode(signal), np.float64), FAINTEST)
        steps = np.diff(np.log2(light))
        coarse = np.nonzero((steps > COARSE) | (light[1:] <= FAINTEST))[0]
        return float(light[coarse[-1] + 1]) if coarse.size and coarse[-1] + 1 < light.size - 1 else FAINTEST

    def _array(self, name: str, shape: tuple[int, ...], dtype: npt.DTypeLike) -> npt.NDArray[Any]:
        kept = self._kept.get(name)
        if kept is None or kept.shape != shape:
            kept = self._kept[name] = np.empty(shape, dtype)
        return kept


def _in_cells(pixels: npt.NDArray[Any], shift: tuple[float, float] = (0.0, 0.0)) -> npt.NDArray[np.float32]:
    """Means over the cells, each pixel by the part of it that lies within; the view lies ``shift`` cells away."""
    if shift != (0.0, 0.0):
        rows, columns = pixels.shape[:2]
        move = np.array([[1.0, 0.0, shift[1] * columns / COLUMNS], [0.0, 1.0, shift[0] * rows / ROWS]])
        how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        pixels = cv2.warpAffine(pixels, move, (columns, rows), flags=how, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(cv2.resize(pixels, (COLUMNS, ROWS), interpolation=cv2.INTER_AREA), np.float32)


def _inside(shift: tuple[float, float]) -> npt.NDArray[np.bool_]:
    """The cells that still lie in the picture when the view has moved by so many."""
    inside = np.ones((ROWS, COLUMNS), bool)
    for axis, moved in enumerate(shift):
        cells = ceil(abs(moved) - 0.1)
        if cells > 0:
            gone = slice(-cells, None) if moved > 0.0 else slice(0, cells)
            inside[(gone, slice(None)) if axis == 0 else (slice(None), gone)] = False
    return inside
