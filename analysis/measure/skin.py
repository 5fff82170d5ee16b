"""Reads the skin of the sitters from full-size pixels: level, spread, stops, what is clipped, left against right.

The level is the 70th percentile of luma in the face's ellipse (:mod:`analysis.measure.ellipse`). Measured on
photographs against patches of cheek and forehead placed by landmarks it lies 1.2 IRE below on light skin and 0.8 below
on dark skin, so it favours no complexion; on a face lit from one side it leans to the lit side by itself.

The percentile is taken of cells, an eightieth of the face each, in which all pixels are averaged. Of single pixels it
rises with noise (by 0.7 IRE on photographs with 6 IRE of noise, measured; of cells by 0.3 at most), and it can only be
a whole code where the skin is even.

Left against right is what the two sides of the face differ by as areas. A light that divides the face in the
middle is read nearly in full (0.94 of it, measured on drawn faces), one that wraps around a round face at 0.5 to 0.6 of
what two spots on the cheeks would show: no one factor is right for both, so none is applied.
"""

from __future__ import annotations

from math import ceil, log2
from typing import Any

import cv2
import msgspec
import numpy as np
import numpy.typing as npt

from analysis.measure.ellipse import FEWEST, Box, Ellipse, ellipse
from analysis.measure.follow import Company, Sitter
from analysis.measure.sample import STEP_OF_CODE_0, STEPS, STEPS_PER_CODE, signal_of_steps
from analysis.model.frame import Frame, FrameFormat
from analysis.model.instant import Instant
from analysis.model.sitter import SitterReading
from analysis.signal.curves import MIDDLE_GREY, Curve
from analysis.signal.layouts import component, layout
from analysis.signal.levels import clip_code, percent, top_code
from analysis.signal.matrix import encoding_decoder, luma_weights

LEVEL, LOW, HIGH = 70.0, 10.0, 95.0
"""Percentiles of luma in the ellipse."""

CELLS = 80
"""Cells to the height of a face; a smaller face is read pixel by pixel."""

COUNTED = 100
"""Rows and columns of single pixels, to the height of the face, among which the clipped ones are counted."""

SIDE, SIDE_PART = 60.0, 0.40
"""Each side's level is this percentile of its luminance, over this part of the width of the box."""
TURNED = 0.25
"""Offset of the nose from the middle of the eyes (in eye distances) from which on left and right are not comparable."""
SIDE_DARK, SIDE_CLIPPED = 3.0, 25.0
"""A side below this level (IRE above black), or of a face of which more than this percent is clipped, says nothing."""
FAINTEST = 1e-6

Floats = npt.NDArray[np.float32]
Codes = npt.NDArray[Any]


class SkinReader:
    """Reads sitters on frames of one format, through one curve (None where nobody said which: then no stops).

    >>> from analysis.measure.follow import Look
    >>> from analysis.model.frame import Encoding
    >>> form = FrameFormat(
    ...     layout="gray", width=320, height=180, encoding=Encoding(bits=8, range="narrow", matrix="bt709"))
    >>> grey = np.full((180, 320), 126, np.uint8)
    >>> frame = Frame(planes=(grey,), format=form, instant=Instant(0.0, 0.0), generation=1, sequence=0)
    >>> one = Sitter(
    ...     name="sitter 1", box=(100.0, 40.0, 60.0, 80.0), confidence=0.9, turn=0.0, since=0.0, found=0.0, looked=0.0,
    ...     steadiness=1.0, look=Look(level=50.0, clipped=0.0))
    >>> reading = SkinReader(form, None).read(frame, Company(sitters=(one,), main="sitter 1"), Instant(0.1, 0.1))[0]
    >>> reading.name, reading.main, reading.state, round(reading.level, 2), reading.stops
    ('sitter 1', True, 'seen', 50.23, None)
    """

    def __init__(self, shape: FrameFormat, curve: Curve | None) -> None:
        """Raises FeedUnreadable for a layout or matrix that cannot be read."""
        self.format, self.curve = shape, curve
        self._how = how = layout(shape.layout)
        self._range = shape.encoding.range
        self._group = 1 << how.log2_width, 1 << how.log2_height
        self._size = shape.width, shape.height
        self._decode = encoding_decoder(shape.encoding, how.depth) if how.kind == "ycbcr" else None
        self._weights = [np.float32(weight) for weight in luma_weights(shape.encoding.matrix)]
        self._black = black_level(curve)
        self._light: Floats | None = None
        if curve is not None:
            least, most = (percent(code, how.depth, self._range) / 100.0 for code in (0, top_code(how.depth)))
            signal = np.clip(signal_of_steps(how.depth, self._range), least, most)
            self._light = np.asarray(curve.decode(signal), np.float32)

    def read(
        self, frame: Frame, company: Company, now: Instant, *, clip: float | None = None
    ) -> tuple[SitterReading, ...]:
        """The readings of everybody present at ``now``, in the order of their names.

        ``clip`` is the level in IRE from which on a channel counts as clipped, None for the end of the
        range, as in the meter. The frame's planes must be what its format says, as the meter has checked.
        """
        limit = clip_code(clip, self._how.depth, self._range) - 0.5  # decoded values are rounded to the nearest code
        main = company.main_at(now)
        return tuple(self._reading(frame, sitter, now, sitter.name == main, limit) for sitter in company.present(now))

    def _reading(self, frame: Frame, sitter: Sitter, now: Instant, main: bool, limit: float) -> SitterReading:
        state = sitter.state(now)
        assert state is not None
        box = _whole(sitter.box, self._size)
        plain = SitterReading(name=sitter.name, main=main, state=state, box=box, confidence=sitter.confidence)
        part = ellipse(sitter.box, self._size, max(1, round(sitter.box[3] / CELLS)), self._group)
        if part is None or state not in {"seen", "held"}:
            return plain
        luma, rgb = self._decoded([codes[part.inside] for codes in self._averaged(frame, part)])
        low, level, high = (self._percent(code) for code in np.percentile(luma, (LOW, LEVEL, HIGH)).tolist())
        clipped = self._clipped(frame, sitter, limit)
        stops = ratio = None
        if self._light is not None:
            light = self._luminance(self._light, rgb)
            stops = log2(max(float(np.percentile(light, LEVEL)), FAINTEST) / MIDDLE_GREY)
            if abs(sitter.turn) <= TURNED and max(clipped[1:]) <= SIDE_CLIPPED:
                ratio = self._left_over_right(part, luma, light)
        return msgspec.structs.replace(
            plain, level=level, low=low, high=high, stops=stops, ratio_stops=ratio, clipped=clipped[0]
        )

    def _clipped(self, frame: Frame, sitter: Sitter, limit: float) -> tuple[float, float, float]:
        """Percent of the pixels clipped in any channel: of the ellipse, of its left and of its right side."""
        group = max(self._group)
        part = ellipse(
            sitter.box, self._size, ceil(max(1, round(sitter.box[3] / COUNTED)) / group) * group, self._group
        )
        if part is None:
            return 0.0, 0.0, 0.0
        luma, rgb = self._decoded([codes[part.inside] for codes in self._picked(frame, part)])
        beyond = np.maximum(np.maximum(luma, rgb[0]), np.maximum(rgb[1], rgb[2])) >= limit
        left, right = (_share(beyond[side]) for side in _sides(part))
        return _share(beyond), left, right

    def _left_over_right(self, part: Ellipse, luma: Floats, light: Floats) -> float | None:
        """Stops, None where a side says nothing."""
        lights = []
        for side in _sides(part):
            if np.count_nonzero(side) < FEWEST:
                return None
            if self._percent(float(np.percentile(luma[side], SIDE))) < self._black + SIDE_DARK:
                return None
            lights.append(max(float(np.percentile(light[side], SIDE)), FAINTEST))
        return log2(lights[0] / lights[1])

    def _averaged(self, frame: Frame, part: Ellipse) -> list[Floats]:
        """Every component in codes, averaged over the cells of an ellipse, shape of ``part.inside``."""
        high, wide = part.inside.shape
        found = []
        for index in range(len(self._how.components)):
            codes = self._codes(frame, index, part.rows, part.columns, 1).astype(np.float32)
            if codes.shape != (high, wide):
                way = cv2.INTER_AREA if codes.shape[0] >= high and codes.shape[1] >= wide else cv2.INTER_LINEAR
                codes = np.asarray(cv2.resize(codes, (wide, high), interpolation=way), np.float32)
            found.append(codes)
        return found

    def _picked(self, frame: Frame, part: Ellipse) -> list[Floats]:
        """Every component in codes of the first pixel of each cell."""
        indices = range(len(self._how.components))
        return [self._codes(frame, index, part.rows, part.columns, part.block).astype(np.float32) for index in indices]

    def _codes(self, frame: Frame, index: int, rows: slice, columns: slice, step: int) -> Codes:
        """One component within rows and columns of the picture, every ``step``-th, in an array of its own."""
        how = self._how
        if how.kind == "ycbcr" and index:
            rows, columns = _taken(rows, how.log2_height, step), _taken(columns, how.log2_width, step)
        else:
            rows, columns = _taken(rows, 0, step), _taken(columns, 0, step)
        view = component(how, frame.planes, index, self.format.width)[rows, columns]
        return np.right_shift(view, how.shift) if how.shift else np.ascontiguousarray(view)

    def _decoded(self, codes: list[Floats]) -> tuple[Floats, list[Floats]]:
        """Luma and R'G'B' in codes, not rounded, of components in codes."""
        if self._how.is_grey:
            return codes[0], codes * 3
        decode = self._decode
        if decode is None:
            red, green, blue = (part * weight for part, weight in zip(codes, self._weights, strict=True))
            return np.asarray(red + green + blue, np.float32), codes
        luma, cb, cr = codes[0], codes[1] - np.float32(decode.middle), codes[2] - np.float32(decode.middle)
        return luma, [np.asarray(luma + np.float32(b) * cb + np.float32(r) * cr) for b, r in decode.channels()]

    def _luminance(self, table: Floats, rgb: list[Floats]) -> Floats:
        """Linear luminance of R'G'B' in codes."""
        scale, shift = np.float32(STEPS_PER_CODE / 2 ** (self._how.depth - 8)), np.float32(STEP_OF_CODE_0 + 0.5)
        steps = [np.clip(channel * scale + shift, 0, STEPS - 1).astype(np.int32) for channel in rgb]
        red, green, blue = (table[step] * weight for step, weight in zip(steps, self._weights, strict=True))
        return np.asarray(red + green + blue, np.float32)

    def _percent(self, code: float) -> float:
        return percent(code, self._how.depth, self._range)


def black_level(curve: Curve | None) -> float:
    """The level of no light in IRE: 0 without a curve, and never below.

    >>> from analysis.signal.curves import curve
    >>> round(black_level(curve("acescct")), 2), black_level(curve("bt709")), black_level(None)
    (7.29, 0.0, 0.0)
    """
    return max(0.0, 100.0 * float(curve.encode(np.array(0.0)))) if curve is not None else 0.0


def _sides(part: Ellipse) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.bool_]]:
    """Which cells inside lie on the left side of the face, as seen, and which on the right."""
    return part.side < SIDE_PART, part.side > 1.0 - SIDE_PART


def _share(beyond: npt.NDArray[np.bool_]) -> float:
    return 100.0 * float(np.count_nonzero(beyond)) / max(1, beyond.size)


def _taken(part: slice, log2_size: int, step: int) -> slice:
    """The same places counted in chroma samples (or pixels), every ``step``-th pixel, at least one sample apart."""
    return slice(part.start >> log2_size, -(-part.stop >> log2_size), max(1, step >> log2_size))


def _whole(box: Box, size: tuple[int, int]) -> tuple[int, int, int, int]:
    """The box in whole pixels within the picture."""
    x, y, width, height = box
    left, top = min(max(0, round(x)), size[0] - 1), min(max(0, round(y)), size[1] - 1)
    right, bottom = min(size[0], round(x + width)), min(size[1], round(y + height))
    return left, top, max(1, right - left), max(1, bottom - top)
