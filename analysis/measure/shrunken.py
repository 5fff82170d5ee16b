"""A small colour picture of a frame, cheaply made from its true planes: what a search of the whole picture looks at."""

from __future__ import annotations

import math
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from analysis.measure.unpack import Area
from analysis.model.frame import Frame, FrameFormat
from analysis.signal.layouts import layout
from analysis.signal.levels import black_code, codes_per_range
from analysis.signal.matrix import encoding_decoder, luma_weights

ROWS_AVERAGED = 3
"""Rows of the picture that become one row, where there are more: leaving the others out halves the cost at 1080p."""

TALLEST = 0.75
"""Height over width up to which the full width is used; a taller picture gets as many pixels, not more."""

Bytes = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.float32]


class Shrunken:
    """A small picture and where it came from.

    ``bgr`` has shape (height, width, 3), ``luma`` (height, width), both uint8 with 0 for 0 IRE and 255 for
    100 IRE, nothing beyond. ``area`` is the part of the picture it shows (x, y, width, height in pixels).
    """

    __slots__ = ("area", "bgr", "luma")

    def __init__(self, bgr: Bytes, luma: Bytes, area: Area) -> None:
        self.bgr, self.luma, self.area = bgr, luma, area

    @property
    def scale(self) -> tuple[float, float]:
        """Picture pixels to one pixel of the small picture, across and down."""
        return self.area[2] / self.bgr.shape[1], self.area[3] / self.bgr.shape[0]


class Shrinker:
    """Makes small pictures of the frames of one format; every result has arrays of its own.

    >>> from analysis.model.frame import Encoding
    >>> from analysis.model.instant import Instant
    >>> form = FrameFormat(
    ...     layout="gray", width=640, height=360, encoding=Encoding(bits=8, range="narrow", matrix="bt709"))
    >>> grey = np.full((360, 640), 126, np.uint8)
    >>> frame = Frame(planes=(grey,), format=form, instant=Instant(0.0, 0.0), generation=1, sequence=0)
    >>> small = Shrinker(form).take(frame, (0, 0, 640, 360), 320)
    >>> small.bgr.shape, int(small.luma[0, 0]), small.scale
    ((180, 320, 3), 128, (2.0, 2.0))
    """

    def __init__(self, shape: FrameFormat) -> None:
        """Raises FeedUnreadable for a layout or matrix that cannot be read."""
        self.format = shape
        self._how = how = layout(shape.layout)
        self._scale = 255.0 / codes_per_range(8, shape.encoding.range)
        self._black = black_code(8, shape.encoding.range)
        self._weights = luma_weights(shape.encoding.matrix)
        self._mix = self._matrix(shape) if how.kind == "ycbcr" else None

    def take(self, frame: Frame, area: Area, width: int) -> Shrunken:
        """The frame within ``area`` (starting at a whole chroma group), at most ``width`` wide and never enlarged.

        The frame's planes must be what its format says, as the meter has checked them.
        """
        size = fitted(area, width)
        parts = self._components(frame, area, size)
        if self._mix is not None:
            bgr = np.asarray(cv2.transform(cv2.merge(parts), self._mix), np.uint8)
            return Shrunken(bgr, self._plain(parts[0]), area)
        if self._how.is_grey:
            luma = self._plain(parts[0])
            return Shrunken(np.repeat(luma[:, :, None], 3, axis=2), luma, area)
        red, green, blue = (self._plain(part) for part in parts)
        bgr = np.asarray(cv2.merge([blue, green, red]), np.uint8)
        grey = np.asarray(cv2.transform(bgr, np.array([self._weights[::-1]], np.float32)), np.uint8)
        return Shrunken(bgr, grey, area)

    def _components(self, frame: Frame, area: Area, size: tuple[int, int]) -> list[Bytes]:
        """Y' Cb Cr, R' G' B' or Y' in 8-bit codes, each of the small size."""
        small: dict[int, Bytes] = {}
        found = []
        for place in self._how.components:
            if place.plane not in small:
                small[place.plane] = self._plane(frame, area, place.plane, size)
            plane = small[place.plane]
            picked = [cv2.extractChannel(plane, channel) for channel in range(place.offset, plane.shape[2], place.step)]
            both = picked[0] if len(picked) == 1 else cv2.addWeighted(picked[0], 0.5, picked[1], 0.5, 0.0)
            found.append(np.asarray(both, np.uint8))
        return found

    def _plane(self, frame: Frame, area: Area, number: int, size: tuple[int, int]) -> Bytes:
        """One plane, area averaged, as 8-bit codes: shape (height, width, samples of a group)."""
        shape = self._how.planes[number]
        across, down = shape.log2_width, shape.log2_height
        plane = frame.planes[number].reshape(frame.planes[number].shape[0], -1, shape.samples)
        rows = slice(area[1] >> down, -(-(area[1] + area[3]) >> down))
        part = plane[rows, area[0] >> across : -(-(area[0] + area[2]) >> across)]
        part = part[:: max(1, part.shape[0] // (ROWS_AVERAGED * size[1]))]
        while part.shape[0] >= 2 * size[1] and part.shape[1] >= 2 * size[0]:  # halving first is twice as fast
            half = part.shape[0] // 2, part.shape[1] // 2
            part = _resized(part[: 2 * half[0], : 2 * half[1]], (half[1], half[0]))
        codes = _resized(part, size)
        if codes.dtype == np.uint8:
            return np.asarray(codes, np.uint8)
        extra = self._how.shift + self._how.depth - 8
        return np.asarray(cv2.convertScaleAbs(codes, alpha=2.0**-extra), np.uint8).reshape(codes.shape)

    def _plain(self, codes: Bytes) -> Bytes:
        return np.asarray(cv2.addWeighted(codes, self._scale, codes, 0.0, -self._black * self._scale), np.uint8)

    def _matrix(self, shape: FrameFormat) -> Floats:
        """Y' Cb Cr and 1 to B' G' R' on the scale of the small picture, shape (3, 4)."""
        decode = encoding_decoder(shape.encoding, 8)
        red, green, blue = decode.channels()
        rows = [(1.0, *factors, -self._black - decode.middle * sum(factors)) for factors in (blue, green, red)]
        return np.array(rows, np.float32) * np.float32(self._scale)


def fitted(area: Area, width: int) -> tuple[int, int]:
    """Width and height of the small picture of an area.

    >>> fitted((0, 0, 1920, 1080), 320), fitted((0, 0, 160, 120), 320), fitted((0, 0, 1080, 1920), 320)
    ((320, 180), (160, 120), (208, 370))
    """
    scale = min(1.0, width / area[2], width * math.sqrt(TALLEST / (area[2] * area[3])))
    return max(1, round(area[2] * scale)), max(1, round(area[3] * scale))


def _resized(part: npt.NDArray[Any], size: tuple[int, int]) -> npt.NDArray[Any]:
    smaller = part.shape[0] >= size[1] and part.shape[1] >= size[0]
    made = cv2.resize(part, size, interpolation=cv2.INTER_AREA if smaller else cv2.INTER_LINEAR)
    return made.reshape(size[1], size[0], part.shape[2])
