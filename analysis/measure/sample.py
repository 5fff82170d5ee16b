"""A sparse set of true pixels of a frame, for figures that need many pixels but not every one.

The pixels lie on a fixed lattice (about 135 rows of 480, whatever the size of the picture) and are taken
as they are: nothing is averaged, so their noise is the noise of the picture. Shares and percentiles
from 64,800 pixels are estimates; what must be exact is counted on the full picture elsewhere.
"""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from analysis.measure.unpack import Area
from analysis.model.frame import Frame, FrameFormat, Plane, Range
from analysis.signal.layouts import component, layout
from analysis.signal.levels import black_code, code, codes_per_range, percent
from analysis.signal.matrix import encoding_decoder, luma_weights

ROWS, COLUMNS = 135, 480
"""Pixels the lattice aims at in each direction; a small picture has fewer, none has twice as many."""

STEPS_PER_CODE = 64
"""Steps of the scale of R'G'B' to one 8-bit code."""
STEP_OF_CODE_0 = 16384
"""Where code 0 lies on that scale: R'G'B' of saturated Y'CbCr reach far below it."""
STEPS = 65536

Steps = npt.NDArray[np.uint16]


def step_of_level(level: float, bits: int, span: Range) -> float:
    """Where a level in IRE lies on the scale of :attr:`Sample.rgb`; not rounded.

    >>> step_of_level(0.0, 8, "narrow"), step_of_level(100.0, 10, "narrow")
    (17408.0, 31424.0)
    """
    return STEP_OF_CODE_0 + STEPS_PER_CODE * code(level, bits, span) / float(2 ** (bits - 8))


def level_of_step(step: float, bits: int, span: Range) -> float:
    """The level in IRE of a step: the inverse of :func:`step_of_level`."""
    return percent((step - STEP_OF_CODE_0) * float(2 ** (bits - 8)) / STEPS_PER_CODE, bits, span)


def signal_of_steps(bits: int, span: Range) -> npt.NDArray[np.float64]:
    """Signal V (0 black, 1 nominal white) of every step, shape (65536,): what tables are made from."""
    codes = (np.arange(STEPS) - STEP_OF_CODE_0) * (2 ** (bits - 8) / STEPS_PER_CODE)
    return np.asarray((codes - black_code(bits, span)) / codes_per_range(bits, span))


class Sample:
    """The pixels of one frame; its arrays are used again when the next sample is taken.

    ``luma`` holds codes, shape (rows, columns), uint8 up to a depth of 8 and uint16 above. ``rgb`` are
    R', G' and B' of the same pixels, uint16, on a scale of 64 steps to an 8-bit code that starts 256
    codes below code 0 (:func:`step_of_level`): none is lost beyond black or white, at any depth. In a
    feed without colour the three are one array. ``rgb`` is None when colour was not asked for. ``beside`` is
    luma one pixel to the right of each, None when not asked for; a column short where the picture ends.
    """

    __slots__ = ("beside", "luma", "rgb")

    def __init__(self, luma: Plane, rgb: tuple[Steps, Steps, Steps] | None, beside: Plane | None = None) -> None:
        self.luma, self.rgb, self.beside = luma, rgb, beside


class Sampler:
    """Takes samples of frames of one format.

    >>> from analysis.model.frame import Encoding
    >>> from analysis.model.instant import Instant
    >>> grey = np.full((90, 160), 126, np.uint8)
    >>> form = FrameFormat(
    ...     layout="gray", width=160, height=90, encoding=Encoding(bits=8, range="narrow", matrix="bt709"))
    >>> frame = Frame(planes=(grey,), format=form, instant=Instant(0.0, 0.0), generation=1, sequence=0)
    >>> sample = Sampler(form).take(frame, (0, 0, 160, 90))
    >>> sample.luma.shape, int(sample.luma[0, 0]), round(level_of_step(int(sample.rgb[0][0, 0]), 8, "narrow"), 2)
    ((90, 160), 126, 50.23)
    """

    def __init__(self, shape: FrameFormat) -> None:
        """Raises FeedUnreadable for a layout or matrix that cannot be read."""
        self.format = shape
        self._how = how = layout(shape.layout)
        self._decode = encoding_decoder(shape.encoding, how.depth) if how.kind == "ycbcr" else None
        self._weights = luma_weights(shape.encoding.matrix)
        self._scale = STEPS_PER_CODE / 2 ** (how.depth - 8)
        self._kept: dict[str, npt.NDArray[Any]] = {}

    def take(self, frame: Frame, area: Area, colour: bool = True, beside: bool = False) -> Sample:
        """The pixels of the frame within ``area`` (x, y, width, height, starting at a whole chroma group).

        The frame's planes must be what its format says, as the meter has checked them.
        """
        how = self._how
        right = self._luma(frame, area, 1)[0] if beside else None
        luma, codes = self._luma(frame, area, 0)
        if not colour:
            return Sample(luma, None, right)
        if how.is_rgb:
            red, green, blue = (self._steps(plane, f"rgb{index}") for index, plane in enumerate(codes))
            return Sample(luma, (red, green, blue), right)
        if how.is_grey:
            grey = self._steps(luma, "rgb0")
            return Sample(luma, (grey, grey, grey), right)
        chroma = (self._codes(frame, area, index, 0) for index in (1, 2))
        return Sample(luma, self._decoded(luma, *chroma), right)

    def _luma(self, frame: Frame, area: Area, right: int) -> tuple[Plane, list[Plane]]:
        """Luma ``right`` pixels beside the lattice, and the components it was made from."""
        codes = [self._codes(frame, area, index, right) for index in range(3 if self._how.is_rgb else 1)]
        return (self._luma_of(codes, f"luma{right}") if self._how.is_rgb else codes[0]), codes

    def _codes(self, frame: Frame, area: Area, index: int, right: int) -> Plane:
        """One component on the lattice, or beside it, as codes in an array of our own."""
        how = self._how
        across, down = _stride(area[2], COLUMNS, 1 << how.log2_width), _stride(area[3], ROWS, 1 << how.log2_height)
        rows, columns = slice(area[1], area[1] + area[3], down), slice(area[0] + right, area[0] + area[2], across)
        if how.kind == "ycbcr" and index:
            rows, columns = _in_groups(rows, how.log2_height), _in_groups(columns, how.log2_width)
        view = component(how, frame.planes, index, self.format.width)[rows, columns]
        codes = self._array(f"codes{index}.{right}", view.shape, how.dtype)
        if how.shift:
            np.right_shift(view, how.shift, out=codes)
        else:
            np.copyto(codes, view)
        return codes

    def _steps(self, codes: Plane, name: str) -> Steps:
        steps = self._array(name, codes.shape, np.uint16)
        cv2.addWeighted(codes, self._scale, codes, 0.0, STEP_OF_CODE_0, steps, dtype=cv2.CV_16U)
        return steps

    def _decoded(self, luma: Plane, blue: Plane, red: Plane) -> tuple[Steps, Steps, Steps]:
        decode, scale = self._decode, self._scale
        assert decode is not None
        found = [self._array(f"rgb{index}", luma.shape, np.uint16) for index in range(3)]
        for chroma, factor, steps in ((red, decode.r_cr, found[0]), (blue, decode.b_cb, found[2])):
            shift = STEP_OF_CODE_0 - scale * factor * decode.middle
            cv2.addWeighted(luma, scale, chroma, scale * factor, shift, steps, dtype=cv2.CV_16U)
        green = self._array("green", luma.shape, np.float32)
        shift = STEP_OF_CODE_0 - scale * (decode.g_cb + decode.g_cr) * decode.middle
        cv2.addWeighted(blue, scale * decode.g_cb, red, scale * decode.g_cr, shift, green, dtype=cv2.CV_32F)
        cv2.addWeighted(luma, scale, green, 1.0, 0.0, found[1], dtype=cv2.CV_16U)
        return found[0], found[1], found[2]

    def _luma_of(self, codes: list[Plane], name: str) -> Plane:
        """Luma of R'G'B' to the nearest code, halves upwards."""
        red, green, blue = self._weights
        total = self._array("sum", codes[0].shape, np.float32)
        cv2.addWeighted(codes[0], red, codes[1], green, 0.0001, total, dtype=cv2.CV_32F)
        luma = self._array(name, codes[0].shape, self._how.dtype)
        kind = cv2.CV_8U if luma.dtype == np.uint8 else cv2.CV_16U
        cv2.addWeighted(codes[2], blue, total, 1.0, 0.0, luma, dtype=kind)
        return luma

    def _array(self, name: str, shape: tuple[int, ...], dtype: npt.DTypeLike) -> npt.NDArray[Any]:
        kept = self._kept.get(name)
        if kept is None or kept.shape != shape:
            kept = self._kept[name] = np.empty(shape, dtype)
        return kept


def _stride(size: int, wanted: int, group: int) -> int:
    """Pixels from one sample to the next: whole chroma groups, so that each has a chroma sample of its own."""
    return max(group, size // wanted // group * group)


def _in_groups(part: slice, log2: int) -> slice:
    """The same places counted in chroma samples."""
    return slice(part.start >> log2, -(-part.stop >> log2), part.step >> log2)
