"""Builds what a screen draws of a frame: level densities per column, and a small picture.

The traces are of the first pixel of each group that shares a chroma sample (every second column in
4:2:2) and of evenly spaced rows: 270 to 539 of a large picture for luma, 135 to 269 for R'G'B' and the
small picture. These are densities and pictures for the eye; nothing here enters a reading.
"""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from analysis.measure.meter_settings import MeterSettings
from analysis.measure.unpack import Area, Tile
from analysis.model.frame import Range
from analysis.model.reading import View
from analysis.signal.layouts import Layout
from analysis.signal.levels import black_code, codes_per_range, percent
from analysis.signal.matrix import Decoder

BINS = 256
"""Level bins: one per 8-bit code, or the codes of a deeper signal that share their upper 8 bits."""

_LUMA_ROWS, _COLOUR_ROWS = 270, 135

Bytes = npt.NDArray[np.uint8]


class ViewBuilder:
    """Gathers rows of the tiles of a frame and makes the view; one per format and active picture.

    ``area`` is the active picture in groups of pixels that share a chroma sample, ``pixels`` its
    size in pixels. All gathered codes are brought to 8 bits (upper bits, after R'G'B' are rounded to
    the nearest code of the full depth).
    """

    def __init__(
        self, how: Layout, span: Range, decode: Decoder | None, area: Area, pixels: tuple[int, int], wish: MeterSettings
    ) -> None:
        self._how, self._decode, self._wish = how, decode, wish
        self._extra = how.depth - 8
        width, rows = area[2], area[3]
        self._luma_step, self._colour_step = max(1, rows // _LUMA_ROWS), max(1, rows // _COLOUR_ROWS)
        self._luma = np.empty((-(-rows // self._luma_step), width), np.uint8)
        colour_rows = -(-rows // self._colour_step)
        self._colour = [] if how.is_grey else [np.empty((colour_rows, width), np.uint8) for _ in range(3)]
        self._green = np.empty((colour_rows, width), how.dtype if decode else np.uint8)
        self._columns = min(wish.columns, width)
        self._strips = _strip_numbers(self._columns, self._luma.shape)
        self._rgb_columns = min(wish.rgb_columns, width)
        self._rgb_strips = _strip_numbers(self._rgb_columns, (colour_rows, width))
        self._small_size = _fit(pixels, wish)
        self._full = _to_full_range(span)
        unit = 1 << self._extra
        self._low = percent(-0.5, how.depth, span)
        self._bin = percent(unit - 0.5, how.depth, span) - self._low

    def add(self, tile: Tile) -> None:
        """Take this tile's share of the rows."""
        left, top = tile.place[:2]
        luma = tile.luma[0]
        columns = slice(left, left + luma.shape[1])
        start, first = _next(top, self._luma_step)
        rows = luma[start :: self._luma_step]
        if rows.shape[0]:
            self._bring(rows, self._luma[first : first + rows.shape[0], columns])
        start, first = _next(top, self._colour_step)
        rows = luma[start :: self._colour_step]
        if rows.shape[0] and self._colour:
            colour = [plane[start :: self._colour_step] for plane in tile.colour]
            target = [plane[first : first + rows.shape[0], columns] for plane in self._colour]
            if self._decode is None:
                for plane, place in zip(colour, target, strict=True):
                    self._bring(plane, place)
            else:
                self._decoded(self._decode, rows, colour, target)

    def finish(self) -> View:
        """The view of the gathered frame; its arrays are new and belong to the receiver."""
        trace_rgb = None
        if self._colour and self._wish.rgb:
            trace_rgb = np.stack([_trace(self._rgb_strips, plane, self._rgb_columns) for plane in self._colour])
        return View(
            trace=_trace(self._strips, self._luma, self._columns),
            trace_rgb=trace_rgb,
            low=self._low,
            step=self._bin,
            small=self._small(),
        )

    def _small(self) -> Bytes:
        planes = self._colour or [self._luma]
        small = [_shrunk(plane, self._small_size) for plane in planes]
        if len(small) == 1:
            small *= 3
        picture: Bytes = self._full[np.stack(small, axis=-1)]
        return picture

    def _bring(self, codes: npt.NDArray[Any], place: Bytes) -> None:
        """The upper 8 bits of codes, rounded down."""
        if codes.dtype == np.uint8:
            np.copyto(place, codes)
        else:
            unit = 1 << self._extra
            cv2.convertScaleAbs(codes, place, 1.0 / unit, 0.5 / unit - 0.5)

    def _decoded(
        self, decode: Decoder, luma: npt.NDArray[Any], colour: list[npt.NDArray[Any]], to: list[Bytes]
    ) -> None:
        """R'G'B' of some rows, rounded to the nearest code and then down to 8 bits."""
        unit = float(1 << self._extra)
        scale, down, middle = 1.0 / unit, (0.5 + 1e-4) / unit - 0.5, decode.middle
        blue, red = colour
        for chroma, factor, place in ((red, decode.r_cr, to[0]), (blue, decode.b_cb, to[2])):
            cv2.addWeighted(luma, scale, chroma, factor * scale, down - factor * middle * scale, place, dtype=cv2.CV_8U)
        green = self._green[: luma.shape[0], : luma.shape[1]]
        if green.dtype != luma.dtype:
            self._green = np.empty(self._green.shape, luma.dtype)
            green = self._green[: luma.shape[0], : luma.shape[1]]
        shift = middle - (decode.g_cb + decode.g_cr) * middle
        cv2.addWeighted(blue, decode.g_cb, red, decode.g_cr, shift, green)
        cv2.addWeighted(luma, scale, green, scale, down - middle * scale, to[1], dtype=cv2.CV_8U)


def _shrunk(plane: Bytes, size: tuple[int, int]) -> Bytes:
    """Area average down to (width, height); first in halves, which is ten times as fast."""
    while plane.shape[0] >= 2 * size[1] and plane.shape[1] >= 2 * size[0]:
        rows, columns = plane.shape[0] // 2, plane.shape[1] // 2
        half = cv2.resize(plane[: 2 * rows, : 2 * columns], (columns, rows), interpolation=cv2.INTER_AREA)
        plane = np.asarray(half, np.uint8)
    return np.asarray(cv2.resize(plane, size, interpolation=cv2.INTER_AREA), np.uint8)


def _trace(strips: Bytes, codes: Bytes, columns: int) -> npt.NDArray[np.float32]:
    counts = cv2.calcHist([strips, codes], [0, 1], None, [columns, BINS], [0, columns, 0, BINS])
    return np.asarray(counts, np.float32).reshape(columns, BINS)


def _strip_numbers(columns: int, shape: tuple[int, int]) -> Bytes:
    """For each sample the strip of columns it belongs to."""
    numbers = (np.arange(shape[1]) * columns // shape[1]).astype(np.uint8)
    return np.ascontiguousarray(np.broadcast_to(numbers, shape))


def _next(first: int, step: int) -> tuple[int, int]:
    """Of a tile from row ``first``: its first row that is taken, and which of all taken rows that is."""
    number = -(-first // step)
    return number * step - first, number


def _fit(pixels: tuple[int, int], wish: MeterSettings) -> tuple[int, int]:
    """Size of the small picture: the shape of the picture within the bounds, never enlarged."""
    scale = min(wish.small_width / pixels[0], wish.small_height / pixels[1], 1.0)
    return max(1, round(pixels[0] * scale)), max(1, round(pixels[1] * scale))


def _to_full_range(span: Range) -> Bytes:
    """Display values of 8-bit codes: 0 IRE to 0, 100 IRE to 255, nothing beyond."""
    scaled = (np.arange(256) - black_code(8, span)) * (255.0 / codes_per_range(8, span))
    full: Bytes = np.clip(np.floor(scaled + 0.5), 0, 255).astype(np.uint8)
    return full
