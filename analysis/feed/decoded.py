"""From a decoded PyAV frame to a picture: the decoder's own codes, without padding, in pooled arrays."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

import msgspec
import numpy as np
import numpy.typing as npt

from analysis.feed.pool import FramePool
from analysis.feed.source import FeedOptions
from analysis.feed.tags import encoding_from_tags
from analysis.model.errors import FeedCorrupt, FeedError, FeedUnreadable
from analysis.model.frame import FrameFormat, Picture, Plane
from analysis.signal.layouts import LAYOUTS, layout, plane_shapes

if TYPE_CHECKING:
    from av.video.frame import VideoFrame

_Rows = npt.NDArray[np.uint8]


class _Rewrite(msgspec.Struct, frozen=True):
    """How a format outside the known layouts becomes one of them without changing a code that is measured."""

    name: str
    pixel: int = 0
    take: tuple[int, ...] = ()
    swapped: bool = False


# Alpha is dropped, byte order turned, components moved; no value changes.
_REWRITES: dict[str, _Rewrite] = {
    **{
        f"yuva{part}p{bits}": _Rewrite(f"yuv{part}p{bits}")
        for part in ("420", "422", "444")
        for bits in ("", "10le", "12le")
    },
    **{f"gbrap{bits}": _Rewrite(f"gbrp{bits}") for bits in ("", "10le", "12le")},
    "argb": _Rewrite("rgb24", 4, (1, 2, 3)),
    "0rgb": _Rewrite("rgb24", 4, (1, 2, 3)),
    "abgr": _Rewrite("rgb24", 4, (3, 2, 1)),
    "0bgr": _Rewrite("rgb24", 4, (3, 2, 1)),
    "rgba64le": _Rewrite("rgb48le", 8, (0, 1, 2)),
    "bgra64le": _Rewrite("rgb48le", 8, (2, 1, 0)),
    "bgr48le": _Rewrite("rgb48le", 6, (2, 1, 0)),
    "rgba64be": _Rewrite("rgb48le", 8, (0, 1, 2), swapped=True),
    "ya16le": _Rewrite("gray16le", 4, (0,)),
    "ya16be": _Rewrite("gray16le", 4, (0,), swapped=True),
    **{f"{name.removesuffix('le')}be": _Rewrite(name, swapped=True) for name in LAYOUTS if name.endswith("le")},
}


class Decoded:
    """Turns decoded frames of one stream into pictures; ``where`` is the masked address for messages."""

    def __init__(self, options: FeedOptions, pool: FramePool, where: str) -> None:
        self._options, self._pool, self._where = options, pool, where
        self._format: FrameFormat | None = None
        self._key: tuple[object, ...] = ()

    def picture(
        self, frame: VideoFrame, rate: float | None, number: int | None, seconds: float | None, corrupt: bool
    ) -> Picture:
        """The frame as a picture. Raises FeedUnreadable for formats whose codes cannot be had unchanged."""
        name = frame.format.name
        if name == "pal8":
            target, fill = "rgb24", self._from_palette
        elif name == "gbrp16le":
            target, fill = "rgb48le", self._interleaved
        elif name in LAYOUTS:
            target, fill = name, self._copy
        elif name in _REWRITES:
            target, fill = _REWRITES[name].name, self._rewritten
        else:
            raise self._unreadable(name)
        shape = self._format_of(frame, target, rate)
        return Picture(
            planes=fill(frame, shape),
            format=shape,
            source_sequence=number,
            source_seconds=seconds,
            corrupt=corrupt,
        )

    def _unreadable(self, name: str) -> FeedUnreadable:
        return FeedUnreadable(
            f"pictures in the pixel format {name} cannot be read without changing their codes",
            self._where,
            "convert it, for example to yuv422p10le",
        )

    def _format_of(self, frame: VideoFrame, name: str, rate: float | None) -> FrameFormat:
        tags = (int(frame.color_range), int(frame.colorspace), int(frame.color_trc))
        key = (name, frame.width, frame.height, tags, rate)
        if self._format is None or key != self._key:
            try:
                encoding = encoding_from_tags(name, frame.height, *tags, self._options)
            except FeedError as error:
                raise type(error)(error.what, self._where, error.todo) from None
            self._key = key
            self._format = FrameFormat(
                layout=name, width=frame.width, height=frame.height, encoding=encoding, rate=rate
            )
        return self._format

    def _new(self, shape: FrameFormat) -> list[Plane]:
        how = layout(shape.layout)
        return [self._pool.take(size, how.dtype) for size in plane_shapes(how, shape.width, shape.height)]

    def _copy(self, frame: VideoFrame, shape: FrameFormat) -> tuple[Plane, ...]:
        planes = self._new(shape)
        for index, plane in enumerate(planes):
            samples = self._rows(frame, index, plane.shape[0], plane.shape[1] * plane.itemsize)
            np.copyto(plane.view(np.uint8), samples)
        return tuple(planes)

    def _rewritten(self, frame: VideoFrame, shape: FrameFormat) -> tuple[Plane, ...]:
        rule = _REWRITES[frame.format.name]
        planes = self._new(shape)
        for index, plane in enumerate(planes):
            width = shape.width * rule.pixel if rule.pixel else plane.shape[1] * plane.itemsize
            rows = self._rows(frame, index, plane.shape[0], width)
            samples = np.ascontiguousarray(rows).view(plane.dtype)
            if rule.take:
                pixels = samples.reshape(plane.shape[0], shape.width, rule.pixel // plane.itemsize)
                samples = pixels[:, :, list(rule.take)].reshape(plane.shape)
            np.copyto(plane, samples.byteswap() if rule.swapped else samples)
        return tuple(planes)

    def _from_palette(self, frame: VideoFrame, shape: FrameFormat) -> tuple[Plane, ...]:
        """Look every index up in the palette: 256 entries of B, G, R, A bytes on a little-endian machine."""
        indices = self._rows(frame, 0, shape.height, shape.width)
        palette = np.frombuffer(cast(Any, frame.planes[1]), np.uint8, 1024).reshape(256, 4)[:, 2::-1]
        (plane,) = self._new(shape)
        np.copyto(plane, palette[indices].reshape(plane.shape))
        return (plane,)

    def _interleaved(self, frame: VideoFrame, shape: FrameFormat) -> tuple[Plane, ...]:
        """Planes G', B', R' of 16 bits side by side as R'G'B'."""
        (plane,) = self._new(shape)
        pixels = plane.reshape(shape.height, shape.width, 3)
        for index, component in enumerate((1, 2, 0)):
            rows = self._rows(frame, index, shape.height, 2 * shape.width)
            np.copyto(pixels[:, :, component], np.ascontiguousarray(rows).view(plane.dtype))
        return (plane,)

    def _rows(self, frame: VideoFrame, index: int, rows: int, width: int) -> _Rows:
        """The first ``width`` bytes of each line of a plane, as a view of the decoder's memory."""
        source = frame.planes[index]
        stride = source.line_size
        data: _Rows = np.frombuffer(cast(Any, source), np.uint8)
        if stride < width or data.size < stride * rows:
            raise FeedCorrupt(f"plane {index} is too short for its picture", self._where, "check the source")
        return data[: stride * rows].reshape(rows, stride)[:, :width]
