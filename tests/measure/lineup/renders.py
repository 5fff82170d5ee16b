"""Line-up pictures drawn from the standards' own figures, wronged in known ways, and carried through codecs.

Nothing here uses the tables or the arithmetic of the program: colours are written out, luma weights are those
of ITU-R BT.709-6 item 3.2, BT.601-7 2.5.1 and BT.2020-2 table 4, code ranges those of BT.709-6 item 3.4.
"""

from __future__ import annotations

import io
from fractions import Fraction
from typing import Any

import av
import msgspec
import numpy as np

from analysis.model.frame import Frame
from analysis.signal.layouts import LAYOUTS, plane_shapes
from tests.measure import plain
from tests.support.clips import av_frame

ORDER = ((1, 1, 1), (1, 1, 0), (0, 1, 1), (0, 1, 0), (1, 0, 1), (1, 0, 0), (0, 0, 1), (0, 0, 0))
STANDARD = {"bt709": "BT.709", "bt601": "BT.601", "bt2020": "BT.2020"}
NAMES = ("white", "yellow", "cyan", "green", "magenta", "red", "blue", "black")


def bars(width: int, height: int, white: float = 75.0, colours: float = 75.0, sides: bool = False) -> np.ndarray:
    """R'G'B' (height, width, 3) as parts of the range: eight bars, or seven between 40 % grey sides."""
    picture = np.full((height, width, 3), 0.4)
    if sides:
        edges = np.linspace(width / 8.0, width * 7.0 / 8.0, 8).round().astype(int)
    else:
        edges = np.linspace(0, width, 9).round().astype(int)
    for number in range(len(edges) - 1):
        part = white if number == 0 else colours
        picture[:, edges[number] : edges[number + 1]] = np.array(ORDER[number]) * part / 100.0
    return picture


def ramp(width: int, height: int, steps: int | None = None) -> np.ndarray:
    """Levels from 0 to 1 from left to right (height, width): a ramp, or even steps."""
    x = (np.arange(width) + 0.5) / width
    line = np.arange(width) / (width - 1.0) if steps is None else np.floor(x * steps) / (steps - 1)
    return np.tile(line, (height, 1))


def grey(levels: np.ndarray) -> np.ndarray:
    return np.repeat(levels[:, :, None], 3, axis=2)


def squeezed(rgb: np.ndarray) -> np.ndarray:
    """Narrow codes taken for full range and written as narrow once more."""
    return (16.0 + 219.0 * rgb) / 255.0


def framed(rgb: np.ndarray, top: int = 0, left: int = 0, shift: int = 0) -> np.ndarray:
    """Black edges of ``top`` and ``left`` pixels put over the picture, and the picture moved right by ``shift``."""
    moved = np.roll(rgb, shift, axis=1)
    if shift:
        moved[:, :shift] = 0.0
    if top:
        moved[:top] = moved[-top:] = 0.0
    if left:
        moved[:, :left] = moved[:, -left:] = 0.0
    return moved


def frame(
    rgb: np.ndarray,
    layout: str = "yuv422p",
    *,
    written: str = "narrow",
    coded: str = "bt709",
    declared: str | None = None,
    matrix: str | None = None,
    curve: str | None = None,
    gain: float = 1.0,
    lift: float = 0.0,
    colour: float = 1.0,
    noise: float = 0.0,
    seed: int = 1,
) -> Frame:
    """The picture in codes of the layout, written in one encoding and declared as another (the same unless said).

    ``gain`` and ``lift`` act on R'G'B', ``colour`` on the colour differences, ``noise`` is a standard
    deviation in codes of 8 bit.
    """
    how = LAYOUTS[layout]
    rgb = rgb * gain + lift
    unit, top = 1 << (how.depth - 8), (1 << how.depth) - 1
    black, span = (16 * unit, 219 * unit) if written == "narrow" else (0, top)
    chroma = 224 * unit if written == "narrow" else top
    if how.is_rgb:
        codes = [black + span * rgb[:, :, index] for index in range(3)]
    else:
        red, green, blue = (float(weight) for weight in plain.WEIGHTS[coded])
        y = rgb @ np.array([red, green, blue])
        middle = 128 * unit
        codes = [
            black + span * y,
            middle + chroma * colour * (rgb[:, :, 2] - y) / (2 * (1 - blue)),
            middle + chroma * colour * (rgb[:, :, 0] - y) / (2 * (1 - red)),
        ]
    dice = np.random.default_rng(seed)
    height, width = rgb.shape[:2]
    planes = [np.zeros(shape, how.dtype) for shape in plane_shapes(how, width, height)]
    for index, where in enumerate(how.components):
        plane = codes[index]
        if how.kind == "ycbcr" and index:
            across, down = 1 << how.log2_width, 1 << how.log2_height
            plane = plane.reshape(height // down, down, width // across, across).mean(axis=(1, 3))
        if noise:
            plane = plane + dice.normal(0.0, noise * unit, plane.shape)
        whole = np.clip(np.floor(plane + 0.5), 0, top).astype(how.dtype)
        planes[where.plane][:, where.offset :: where.step] = whole << how.shift
    made = plain.frame_of(tuple(planes), layout, width, height, declared or written, matrix or coded)
    return told(made, curve=curve) if curve else made


def told(made: Frame, **encoding: Any) -> Frame:
    """The same frame with another statement about its encoding."""
    known = msgspec.structs.replace(made.format.encoding, **encoding)
    return msgspec.structs.replace(made, format=msgspec.structs.replace(made.format, encoding=known))


def through(made: Frame, codec: str, options: dict[str, str] | None = None, frames: int = 1) -> Frame:
    """The last of a few equal frames after an encoder and its decoder, in the same planar layout."""
    shape, store = made.format, io.BytesIO()
    with av.open(store, "w", format="matroska") as output:
        stream: Any = output.add_stream(codec, rate=25, options=options or {})
        stream.width, stream.height, stream.pix_fmt = shape.width, shape.height, shape.layout
        if codec == "mjpeg":
            stream.codec_context.color_range = 2
        for number in range(frames):
            picture = av_frame(shape.layout, shape.width, shape.height, list(made.planes))
            picture.pts, picture.time_base = number, Fraction(1, 25)
            if codec == "mjpeg":
                picture.color_range = 2
            output.mux(stream.encode(picture))
        output.mux(stream.encode())
    store.seek(0)
    with av.open(store) as coded:
        *_, picture = coded.decode(video=0)
    how = LAYOUTS[shape.layout]
    planes = []
    for plane, (rows, samples) in zip(picture.planes, plane_shapes(how, shape.width, shape.height), strict=True):
        lines = np.frombuffer(plane, how.dtype).reshape(-1, plane.line_size // how.dtype.itemsize)
        planes.append(lines[:rows, :samples].copy())
    return msgspec.structs.replace(made, planes=tuple(planes))
