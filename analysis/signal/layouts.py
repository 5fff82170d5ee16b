"""Where the components of a picture lie in its planes, for each FFmpeg pixel format the watch can read."""

from __future__ import annotations

from typing import Literal

import msgspec
import numpy as np

from analysis.model.errors import FeedCorrupt, FeedUnreadable
from analysis.model.frame import Frame, Picture, Plane

Kind = Literal["ycbcr", "rgb", "grey"]

LARGEST = 16384
"""Longest side of a picture in pixels that is taken for a picture (8K is 7680)."""


class PlaneShape(msgspec.Struct, frozen=True):
    """One plane: samples per group of ``1 << log2_width`` pixels, and its subsampling in both directions."""

    samples: int
    log2_width: int = 0
    log2_height: int = 0


class Component(msgspec.Struct, frozen=True):
    """One component: its plane, the distance between two of its samples, where the first one is."""

    plane: int
    step: int = 1
    offset: int = 0


class Layout(msgspec.Struct, frozen=True, kw_only=True):
    """How one pixel format is laid out.

    ``components`` are Y' Cb Cr, or R' G' B', or Y' alone, in this order whatever the order in memory;
    alpha is never listed. ``depth`` is the number of bits of a code, ``shift`` how far to the right a
    sample must be moved to become a code (P010 keeps its ten bits at the top of sixteen). Samples are
    uint8 up to a depth of 8 and uint16 in native order above.
    """

    name: str
    kind: Kind
    depth: int
    components: tuple[Component, ...]
    planes: tuple[PlaneShape, ...]
    log2_width: int = 0
    log2_height: int = 0
    shift: int = 0
    full_by_name: bool = False

    @property
    def is_rgb(self) -> bool:
        """Whether the feed carries R'G'B' and needs no matrix."""
        return self.kind == "rgb"

    @property
    def is_grey(self) -> bool:
        """Whether there is no colour at all."""
        return self.kind == "grey"

    @property
    def dtype(self) -> np.dtype[np.uint8] | np.dtype[np.uint16]:
        """Type of one sample."""
        return np.dtype(np.uint8) if self.depth <= 8 else np.dtype(np.uint16)


def _planar(name: str, log2_width: int, log2_height: int, depth: int = 8, full: bool = False) -> Layout:
    chroma = PlaneShape(1, log2_width, log2_height)
    return Layout(
        name=name,
        kind="ycbcr",
        depth=depth,
        components=(Component(0), Component(1), Component(2)),
        planes=(PlaneShape(1), chroma, chroma),
        log2_width=log2_width,
        log2_height=log2_height,
        full_by_name=full,
    )


def _two_planes(name: str, log2_height: int, depth: int = 8, shift: int = 0, crcb: bool = False) -> Layout:
    first, second = (1, 0) if crcb else (0, 1)
    return Layout(
        name=name,
        kind="ycbcr",
        depth=depth,
        components=(Component(0), Component(1, 2, first), Component(1, 2, second)),
        planes=(PlaneShape(1), PlaneShape(2, 1, log2_height)),
        log2_width=1,
        log2_height=log2_height,
        shift=shift,
    )


def _packed_422(name: str, y: int, cb: int, cr: int, depth: int = 8, shift: int = 0) -> Layout:
    return Layout(
        name=name,
        kind="ycbcr",
        depth=depth,
        components=(Component(0, 2, y), Component(0, 4, cb), Component(0, 4, cr)),
        planes=(PlaneShape(4, 1),),
        log2_width=1,
        shift=shift,
    )


def _packed_rgb(name: str, order: str, depth: int = 8) -> Layout:
    step = len(order)
    components = tuple(Component(0, step, order.index(letter)) for letter in "rgb")
    return Layout(name=name, kind="rgb", depth=depth, components=components, planes=(PlaneShape(step),))


def _planar_rgb(name: str, depth: int = 8) -> Layout:
    one = PlaneShape(1)
    return Layout(
        name=name,
        kind="rgb",
        depth=depth,
        components=(Component(2), Component(0), Component(1)),
        planes=(one, one, one),
    )


def _grey(name: str, depth: int = 8, samples: int = 1) -> Layout:
    return Layout(
        name=name, kind="grey", depth=depth, components=(Component(0, samples),), planes=(PlaneShape(samples),)
    )


_SUBSAMPLING = {"410": (2, 2), "411": (2, 0), "420": (1, 1), "422": (1, 0), "440": (0, 1), "444": (0, 0)}


def _table() -> dict[str, Layout]:
    layouts = [_planar(f"yuv{name}p", *log2) for name, log2 in _SUBSAMPLING.items()]
    for name in ("420", "422", "440", "444"):
        layouts.append(_planar(f"yuvj{name}p", *_SUBSAMPLING[name], full=True))
        layouts += [_planar(f"yuv{name}p{bits}le", *_SUBSAMPLING[name], depth=bits) for bits in (10, 12)]
    layouts += [
        _packed_422("yuyv422", 0, 1, 3),
        _packed_422("uyvy422", 1, 0, 2),
        _packed_422("yvyu422", 0, 3, 1),
        _packed_422("y210le", 0, 1, 3, depth=10, shift=6),
        _packed_422("y212le", 0, 1, 3, depth=12, shift=4),
        _two_planes("nv12", 1),
        _two_planes("nv21", 1, crcb=True),
        _two_planes("nv16", 0),
        _two_planes("p010le", 1, depth=10, shift=6),
        _two_planes("p012le", 1, depth=12, shift=4),
        _two_planes("p210le", 0, depth=10, shift=6),
        _two_planes("p212le", 0, depth=12, shift=4),
        _grey("gray"),
        _grey("ya8", samples=2),
        _grey("gray10le", 10),
        _grey("gray12le", 12),
        _grey("gray16le", 16),
        _packed_rgb("rgb48le", "rgb", 16),
        _planar_rgb("gbrp"),
        _planar_rgb("gbrp10le", 10),
        _planar_rgb("gbrp12le", 12),
    ]
    layouts += [_packed_rgb(name, order) for name, order in {"rgb24": "rgb", "bgr24": "bgr"}.items()]
    layouts += [_packed_rgb(name, name) for name in ("rgba", "bgra", "rgb0", "bgr0")]
    return {layout.name: layout for layout in layouts}


LAYOUTS: dict[str, Layout] = _table()
"""Every layout that can be read, by FFmpeg's name."""


def layout(name: str) -> Layout:
    """The layout of an FFmpeg pixel format name; raises FeedUnreadable when the watch cannot read it.

    >>> layout("p010le").depth, layout("p010le").shift
    (10, 6)
    >>> layout("pal8")
    Traceback (most recent call last):
    analysis.model.errors.FeedUnreadable: pictures in the pixel format pal8 cannot be read; ...
    """
    found = LAYOUTS.get(name)
    if found is None:
        raise FeedUnreadable(
            f"pictures in the pixel format {name or '(none)'} cannot be read",
            todo="ask the feed for another one, for example yuyv422, nv12, yuv420p or yuv422p10le",
        )
    return found


def plane_shapes(how: Layout, width: int, height: int) -> tuple[tuple[int, int], ...]:
    """Rows and samples per row of each plane; subsampled sizes are rounded up, as FFmpeg does.

    >>> plane_shapes(layout("nv12"), 5, 3)
    ((3, 5), (2, 6))
    """
    return tuple(
        (-(-height >> plane.log2_height), plane.samples * -(-width >> plane.log2_width)) for plane in how.planes
    )


def component(how: Layout, planes: tuple[Plane, ...], index: int, width: int) -> Plane:
    """Component ``index`` of the layout as a view of its samples (not yet moved by ``shift``).

    ``width`` is the width of the picture: packed pairs may hold one luma sample more.
    """
    where = how.components[index]
    view = planes[where.plane][:, where.offset :: where.step]
    subsampled = how.kind == "ycbcr" and index > 0
    return view[:, : -(-width >> how.log2_width) if subsampled else width]


def check_planes(picture: Picture | Frame) -> Layout:
    """Refuse a picture whose planes are not what its format says; returns its layout.

    Raises FeedUnreadable for a layout or size that can never be read, FeedCorrupt for a buffer of
    the wrong number, type or size, with what was found and what was expected.
    """
    shape = picture.format
    how = layout(shape.layout)
    if shape.width < 1 or shape.height < 1:
        raise FeedUnreadable(f"a picture of {shape.width}x{shape.height} has no pixels")
    if shape.width > LARGEST or shape.height > LARGEST:
        raise FeedUnreadable(f"a picture of {shape.width}x{shape.height} is larger than {LARGEST} on a side")
    expected = plane_shapes(how, shape.width, shape.height)
    if len(picture.planes) != len(expected):
        raise FeedCorrupt(f"{how.name} has {len(expected)} planes, this picture {len(picture.planes)}")
    for number, (plane, wanted) in enumerate(zip(picture.planes, expected, strict=True)):
        if plane.dtype != how.dtype:
            raise FeedCorrupt(f"plane {number} of {how.name} holds {plane.dtype}, not {how.dtype}")
        if plane.shape != wanted:
            raise FeedCorrupt(f"plane {number} of {how.name} {_difference(plane.shape, wanted)}")
    return how


def _difference(found: tuple[int, ...], wanted: tuple[int, int]) -> str:
    size = f"{'x'.join(map(str, found)) or 'nothing'} samples where {wanted[0]}x{wanted[1]} are due"
    count, due = int(np.prod(found, dtype=np.int64)), wanted[0] * wanted[1]
    if count == 0:
        return f"is empty ({size})"
    if count == due:
        return f"has the wrong shape ({size})"
    return f"is too {'short' if count < due else 'long'} ({size})"
