"""Rows of a picture for the search of its ceiling and floor: luma as it is, R'G'B' where it is exact.

R'G'B' of a picture with subsampled chroma are known where the chroma sample is: of the mean luma of its group. At
luma resolution every pixel would carry the noise of the other channels' luma, and a clipped channel would not look
still. (Measured: red clipped at 100 IRE in 4:2:2 then spreads over twice as many codes.)
"""

from __future__ import annotations

from typing import Any

import cv2
import msgspec
import numpy as np
import numpy.typing as npt

from analysis.measure.unpack import Area
from analysis.model.frame import Encoding, Frame, Plane, Range
from analysis.signal.layouts import Layout, component, layout
from analysis.signal.levels import top_code
from analysis.signal.matrix import encoding_decoder, luma_weights

ROWS = 40
"""Rows of groups looked at in one picture."""
_SCATTER = 7919  # a prime: successive pictures are looked at in other rows, whichever of them are looked at

OVER = 16
"""8-bit codes above the top one that R'G'B' of a narrow-range picture are followed."""

Codes = npt.NDArray[np.int16]
Floats = npt.NDArray[np.float32]


class Samples(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """Codes of some rows: ``luma`` (rows, width), ``rgb`` (3, rows, columns) or None without colour.

    Both are in codes of ``bits`` bits, at most 10: deeper pictures lose the bits below.
    """

    luma: Codes
    rgb: Codes | None
    bits: int


def samples_of(frame: Frame, area: Area, encoding: Encoding, rows: int = ROWS) -> Samples:
    """Rows spread over ``area`` (x, y, width, height in pixels) of a frame whose planes fit its format.

    Which rows depends on the frame's sequence number: the frames of a second cover many more than one does. The
    planes are only read. Raises FeedUnreadable for a layout or matrix that cannot be read.
    """
    how = layout(frame.format.layout)
    x, y, width, height = area
    across, down = 1 << how.log2_width, 1 << how.log2_height
    left, right, top, bottom = x // across, -(-(x + width) // across), y // down, -(-(y + height) // down)
    step = max(1, (bottom - top) // max(1, rows))
    picked = slice(top + frame.sequence * _SCATTER % min(step, bottom - top), bottom, step)
    drop = max(0, how.depth - 10)
    if how.kind != "ycbcr":
        return _of_colours(how, frame, picked, slice(left, right), drop)
    lines = _luma_lines(how, frame, picked, down)
    luma = [_codes(how, line[:, left * across : min(right * across, frame.format.width)], drop) for line in lines]
    blue, red = (
        _codes(how, component(how, frame.planes, index, frame.format.width)[picked, left:right], drop)
        for index in (1, 2)
    )
    mean = _group_mean(luma, across)
    columns = min(mean.shape[1], blue.shape[1])
    rgb = _colours(mean[:, :columns], blue[:, :columns], red[:, :columns], encoding, how.depth - drop)
    return Samples(luma=luma[0], rgb=rgb, bits=how.depth - drop)


def reach(bits: int, span: Range) -> int:
    """The highest code that R'G'B' of a sample can have: in narrow range Y'CbCr can say more than the codes can."""
    return top_code(bits) + (OVER << (bits - 8) if span == "narrow" else 0)


def _colours(mean: Floats, blue: Codes, red: Codes, encoding: Encoding, depth: int) -> Codes:
    """R'G'B' to the nearest code, held between 0 and :func:`reach`."""
    decode = encoding_decoder(encoding, depth)
    cb, cr = blue.astype(np.float32), red.astype(np.float32)
    rgb = np.empty((3, *mean.shape), np.float32)
    for index, (on_blue, on_red) in enumerate(decode.channels()):
        cv2.addWeighted(cb, on_blue, cr, on_red, 0.5 - (on_blue + on_red) * decode.middle, dst=rgb[index])
        cv2.add(rgb[index], mean, dst=rgb[index])
    np.clip(rgb, 0, reach(depth, encoding.range), out=rgb)
    return rgb.astype(np.int16)


def _luma_lines(how: Layout, frame: Frame, picked: slice, down: int) -> list[Plane]:
    """Luma of the picked rows of groups, one array per row of a group, each of the same height."""
    luma = component(how, frame.planes, 0, frame.format.width)
    groups = range(picked.start, picked.stop, picked.step)
    last = frame.format.height - 1
    return [luma[[min(group * down + row, last) for group in groups]] for row in range(down)]


def _group_mean(luma: list[Codes], across: int) -> Floats:
    """Mean luma of the groups whose every column is there."""
    columns = luma[0].shape[1] // across
    total = luma[0] if len(luma) == 1 else np.add.reduce(luma)
    if across > 1:
        total = np.add.reduce([total[:, place : columns * across : across] for place in range(across)])
    return np.asarray(total, np.float32) * np.float32(1.0 / (len(luma) * across))


def _of_colours(how: Layout, frame: Frame, picked: slice, columns: slice, drop: int) -> Samples:
    found = [
        _codes(how, component(how, frame.planes, index, frame.format.width)[picked, columns], drop)
        for index in range(1 if how.is_grey else 3)
    ]
    if how.is_grey:
        return Samples(luma=found[0], rgb=None, bits=how.depth - drop)
    rgb = np.stack(found)
    red, green, blue = (np.float32(weight) for weight in luma_weights("rgb"))
    luma = red * rgb[0] + green * rgb[1] + blue * rgb[2] + np.float32(0.5001)
    return Samples(luma=luma.astype(np.int16), rgb=rgb, bits=how.depth - drop)


def _codes(how: Layout, samples: npt.NDArray[Any], drop: int) -> Codes:
    """Samples as codes, without the bits below the tenth."""
    shift = how.shift + drop
    return (samples >> shift).astype(np.int16) if shift else samples.astype(np.int16)
