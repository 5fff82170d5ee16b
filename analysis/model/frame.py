"""A picture as the feed delivered it, before anything was measured."""

from __future__ import annotations

from typing import Literal, TypeAlias

import msgspec
import numpy as np
import numpy.typing as npt

from analysis.model.instant import Instant

Plane: TypeAlias = npt.NDArray[np.uint8] | npt.NDArray[np.uint16]
Range = Literal["narrow", "full"]
Matrix = Literal["bt709", "bt601", "bt2020", "rgb"]
Origin = Literal["tag", "asked", "line-up", "assumed"]


class Encoding(msgspec.Struct, frozen=True, kw_only=True):
    """How a feed writes light into codes, and where each statement comes from.

    ``bits`` is the depth of one component; ``matrix`` is ``"rgb"`` where the feed
    carries R'G'B' and needs no matrix; ``curve`` is the name of a transfer curve or
    None when nobody said which. Each ``…_from`` says whether the feed's own tags, the
    operator (``asked``), a line-up that was kept, or an assumption decided it.
    """

    bits: int
    range: Range
    matrix: Matrix
    curve: str | None = None
    range_from: Origin = "assumed"
    matrix_from: Origin = "assumed"
    curve_from: Origin = "assumed"


class FrameFormat(msgspec.Struct, frozen=True, kw_only=True):
    """The shape of a frame: two frames are comparable only when these are equal.

    ``layout`` is FFmpeg's pixel format name (``yuyv422``, ``yuv420p10le``, ``nv12``,
    ``gray``, ``bgr24`` …), whichever feed the frame came from: one vocabulary, and the
    documented one. ``width`` and ``height`` are luma pixels. ``rate`` is the nominal
    frame rate in frames a second, None when the feed does not say.
    """

    layout: str
    width: int
    height: int
    encoding: Encoding
    rate: float | None = None

    def same_codes(self, other: FrameFormat) -> bool:
        """Whether codes mean the same in both; the nominal rate says nothing about them, and streams guess it anew."""
        return self is other or msgspec.structs.replace(self, rate=other.rate) == other

    def difference(self, after: FrameFormat) -> str:
        """What changed from this form to a later one, in words."""
        pairs = [
            (f"{self.width}x{self.height}", f"{after.width}x{after.height}"),
            (self.layout, after.layout),
            (f"{self.encoding.bits} bit", f"{after.encoding.bits} bit"),
            (f"range {self.encoding.range}", f"range {after.encoding.range}"),
            (f"matrix {self.encoding.matrix}", f"matrix {after.encoding.matrix}"),
            (f"curve {self.encoding.curve}", f"curve {after.encoding.curve}"),
        ]
        told = ", ".join(f"{old} -> {new}" for old, new in pairs if old != new)
        return f"picture changed: {told or 'who says what its codes mean'}"


class Picture(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """What a source hands over: planes and what the source itself knows about them.

    ``planes`` are C-ordered arrays, uint8 or uint16 (native byte order), one per FFmpeg
    plane, without line padding: shape (rows, samples per row). Packed layouts have one
    plane whose row holds the interleaved components (YUYV: ``2 * width`` samples).
    ``source_sequence`` and ``source_seconds`` are the source's own count and clock,
    None when it has none. ``corrupt`` is the source's own error mark.
    """

    planes: tuple[Plane, ...]
    format: FrameFormat
    source_sequence: int | None = None
    source_seconds: float | None = None
    corrupt: bool = False


class Frame(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """A picture with its place in the watch: when it arrived and which life of the feed it is of.

    ``sequence`` counts arrivals in this watch from 0; ``generation`` grows by one with
    every (re)opening of the feed, so that a late frame of an old reader is recognised.
    ``planes`` are read-only from here on.
    """

    planes: tuple[Plane, ...]
    format: FrameFormat
    instant: Instant
    generation: int
    sequence: int
    source_sequence: int | None = None
    source_seconds: float | None = None
    corrupt: bool = False
