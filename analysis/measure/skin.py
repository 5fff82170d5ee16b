"""Reads the skin of the sitters from full-size pixels: level, spread, stops, what is clipped, left against right.

The level is the 70th percentile of luma in the face's ellipse (:mod:`analysis.measure.ellipse`). Measured on
photographs against patches of cheek and forehead placed by hand it lies 1.2 IRE below on light skin and 0.8 below
on dark skin, so it favours no complexion; on a face lit from one side it reads the lit side by itself.
"""

from __future__ import annotations

from math import ceil, log2
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from analysis.measure.ellipse import FEWEST, Ellipse, ellipse
from analysis.measure.follow import Company, Sitter
from analysis.measure.histogram import percentile
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

DENSE = 300
"""A face up to this many pixels high is read at every pixel, one up to twice as high at every second, and so on."""
DENSE_COLOUR = 100
"""The same for colour, which needs R', G' and B' of each pixel: clipped share, stops, left against right."""

SIDE, SIDE_PART = 60.0, 0.40
"""Each side's level is this percentile of its luminance, over this part of the width of the box."""
TURNED = 0.25
"""Offset of the nose from the middle of the eyes (in eye distances) from which on left and right are not comparable."""
SIDE_DARK, SIDE_CLIPPED = 3.0, 0.25
"""A side below this level (IRE above black) or with more than this part of it clipped says nothing."""
FAINTEST = 1e-6

Floats = npt.NDArray[np.float32]
Codes = npt.NDArray[Any]


class SkinReader:
    """Reads sitters on frames of one format, through one curve (None where nobody said which: then no stops).

    >>> from analysis.measure.follow import Look
    >>> from analysis.model.frame import Encoding
    >>> form = FrameFormat(
    ...     layout="gray", width=320, height=180, encoding=Encoding(bits=8, range="narrow", matrix="bt709"))
    >>> frame = Frame(
    ...     planes=(np.full((180, 320), 126, np.uint8),), format=form, instant=Instant(0.0, 0.0), generation=1,
    ...     sequence=0)
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
        self._decode = encoding_decoder(shape.encoding, how.depth) if how.kind == "ycbcr" else None
        self._weights = luma_weights(shape.encoding.matrix)
        self._light: Floats | None = None
        self._black = 0.0
        if curve is not None:
            least, most = (percent(code, how.depth, self._range) / 100.0 for code in (0, top_code(how.depth)))
            signal = np.clip(signal_of_steps(how.depth, self._range), least, most)
            self._light = np.asarray(curve.decode(signal), np.float32)
            self._black = black_level(curve)

    def read(
        self, frame: Frame, company: Company, now: Instant, *, clip: float | None = None
    ) -> tuple[SitterReading, ...]:
        """The readings of everybody present at ``now``, in the order of their names.

        ``clip`` is the level in IRE from which on a channel counts as clipped, None for the end of the
        range, as in the meter. The frame's planes must be what its format says, as the meter has checked.
        """
        limit = clip_code(clip, self._how.depth, self._range)
        main = company.main_at(now)
        return tuple(self._reading(frame, sitter, now, sitter.name == main, limit) for sitter in company.present(now))

    def _reading(self, frame: Frame, sitter: Sitter, now: Instant, main: bool, limit: int) -> SitterReading:
        state = sitter.state(now)
        assert state is not None
        plain = SitterReading(
            name=sitter.name, main=main, state=state, box=_whole(sitter, self.format), confidence=sitter.confidence
        )
        if state not in {"seen", "held"}:
            return plain
        counts = self._luma_counts(frame, sitter)
        if counts is None:
            return plain
        total = np.cumsum(counts)
        level, low, high = (self._percent(percentile(total, part)) for part in (LEVEL, LOW, HIGH))
        stops, ratio, clipped = self._colour(frame, sitter, limit)
        return SitterReading(
            name=sitter.name,
            main=main,
            state=state,
            box=plain.box,
            confidence=sitter.confidence,
            level=level,
            low=low,
            high=high,
            stops=stops,
            ratio_stops=ratio,
            clipped=clipped,
        )

    def _luma_counts(self, frame: Frame, sitter: Sitter) -> npt.NDArray[np.float64] | None:
        """How many pixels of the ellipse have each code."""
        step = max(1, ceil(sitter.box[3] / DENSE))
        part = ellipse(sitter.box, self._size, (step, step))
        if part is None:
            return None
        if self._how.is_rgb:
            luma = self._luma([self._codes(frame, part, index) for index in range(3)])
        else:
            luma = self._codes(frame, part, 0)
        bins = 1 << self._how.depth
        return np.asarray(cv2.calcHist([luma], [0], part.mask, [bins], [0, bins]), np.float64).ravel()

    def _colour(self, frame: Frame, sitter: Sitter, limit: int) -> tuple[float | None, float | None, float | None]:
        """Stops, left over right in stops, and the percent clipped."""
        group = 1 << self._how.log2_width, 1 << self._how.log2_height
        step = max(1, ceil(sitter.box[3] / DENSE_COLOUR))
        part = ellipse(sitter.box, self._size, _whole_groups(step, group), group)
        if part is None:
            return None, None, None
        inside = part.mask > 0
        luma, rgb = self._rgb(frame, part, inside)
        beyond = luma >= limit - 0.5
        for channel in rgb:
            beyond |= channel >= limit - 0.5
        clipped = 100.0 * float(np.count_nonzero(beyond)) / beyond.size
        if self._light is None:
            return None, None, clipped
        light = self._luminance(rgb)
        stops = log2(max(float(np.percentile(light, LEVEL)), FAINTEST) / MIDDLE_GREY)
        if abs(sitter.turn) > TURNED:
            return stops, None, clipped
        places = np.arange(part.columns.start, part.columns.stop, part.columns.step) + 0.5
        places = np.broadcast_to(places, inside.shape)[inside]
        left, _, width, _ = sitter.box
        sides = places < left + SIDE_PART * width, places > left + (1.0 - SIDE_PART) * width
        lights = [self._side(light[side], luma[side], beyond[side]) for side in sides]
        if lights[0] is None or lights[1] is None:
            return stops, None, clipped
        return stops, log2(lights[0] / lights[1]), clipped

    def _side(self, light: Floats, luma: Codes, beyond: npt.NDArray[np.bool_]) -> float | None:
        """The light of one side, None where it says nothing."""
        if light.size < FEWEST or np.count_nonzero(beyond) > SIDE_CLIPPED * beyond.size:
            return None
        if self._percent(float(np.percentile(luma, SIDE))) < self._black + SIDE_DARK:
            return None
        return max(float(np.percentile(light, SIDE)), FAINTEST)

    def _rgb(self, frame: Frame, part: Ellipse, inside: npt.NDArray[np.bool_]) -> tuple[Codes, list[Floats]]:
        """Luma and R'G'B' in codes of the pixels inside, one after the other."""
        how = self._how
        first = self._codes(frame, part, 0)[inside]
        if how.is_grey:
            return first, [first.astype(np.float32)] * 3
        second, third = (self._codes(frame, part, index)[inside] for index in (1, 2))
        decode = self._decode
        if decode is None:
            return self._luma([first, second, third]), [codes.astype(np.float32) for codes in (first, second, third)]
        blue, red = (codes.astype(np.float32) - np.float32(decode.middle) for codes in (second, third))
        luma = first.astype(np.float32)
        return first, [
            luma + np.float32(decode.r_cr) * red,
            luma + np.float32(decode.g_cb) * blue + np.float32(decode.g_cr) * red,
            luma + np.float32(decode.b_cb) * blue,
        ]

    def _luminance(self, rgb: list[Floats]) -> Floats:
        assert self._light is not None
        scale = np.float32(STEPS_PER_CODE / 2 ** (self._how.depth - 8))
        total: Floats | None = None
        for channel, weight in zip(rgb, self._weights, strict=True):
            steps = np.clip(channel * scale + np.float32(STEP_OF_CODE_0 + 0.5), 0, STEPS - 1).astype(np.int32)
            light = np.asarray(self._light[steps] * np.float32(weight), np.float32)
            total = light if total is None else total + light
        assert total is not None
        return total

    def _luma(self, rgb: list[Codes]) -> Codes:
        """Luma of R'G'B' to the nearest code, halves upwards."""
        red, green, blue = (
            codes.astype(np.float32) * np.float32(w) for codes, w in zip(rgb, self._weights, strict=True)
        )
        return np.asarray(np.floor(red + green + blue + np.float32(0.5001)), self._how.dtype)

    def _codes(self, frame: Frame, part: Ellipse, index: int) -> Codes:
        """One component at the places of an ellipse, in an array of its own."""
        how, rows, columns = self._how, part.rows, part.columns
        if how.kind == "ycbcr" and index:
            rows, columns = _in_groups(rows, how.log2_height), _in_groups(columns, how.log2_width)
        view = component(how, frame.planes, index, self.format.width)[rows, columns]
        return np.right_shift(view, how.shift) if how.shift else np.ascontiguousarray(view)

    def _percent(self, code: float) -> float:
        return percent(code, self._how.depth, self._range)

    @property
    def _size(self) -> tuple[int, int]:
        return self.format.width, self.format.height


def black_level(curve: Curve | None) -> float:
    """The level of no light in IRE: 0 without a curve, and never below.

    >>> from analysis.signal.curves import curve
    >>> round(black_level(curve("acescct")), 2), black_level(curve("bt709")), black_level(None)
    (7.29, 0.0, 0.0)
    """
    return max(0.0, 100.0 * float(curve.encode(np.array(0.0)))) if curve is not None else 0.0


def _whole(sitter: Sitter, shape: FrameFormat) -> tuple[int, int, int, int]:
    """The box in whole pixels within the picture."""
    x, y, width, height = sitter.box
    left, top = min(max(0, round(x)), shape.width - 1), min(max(0, round(y)), shape.height - 1)
    right, bottom = min(shape.width, round(x + width)), min(shape.height, round(y + height))
    return left, top, max(1, right - left), max(1, bottom - top)


def _whole_groups(step: int, group: tuple[int, int]) -> tuple[int, int]:
    return ceil(step / group[0]) * group[0], ceil(step / group[1]) * group[1]


def _in_groups(part: slice, log2_size: int) -> slice:
    """The same places counted in chroma samples."""
    return slice(part.start >> log2_size, -(-part.stop >> log2_size), max(1, part.step >> log2_size))
