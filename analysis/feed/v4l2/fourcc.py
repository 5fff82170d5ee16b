"""From the kernel's pixel format codes to FFmpeg's layout names, and where each plane lies in the buffer.

Memory layouts are those of the kernel documentation, "Image Formats" (Packed YUV, Planar YUV, RGB, Luma-only
formats). One contiguous buffer is assumed: the second plane begins where the first ends, at the padded width.
"""

from __future__ import annotations

import msgspec
import numpy as np
import numpy.typing as npt

from analysis.model.frame import Plane
from analysis.signal.layouts import layout, plane_shapes


class NativeFormat(msgspec.Struct, frozen=True, kw_only=True):
    """One pixel format a device may offer and this program reads.

    ``layout`` is FFmpeg's name, ``stride`` each plane's line length as a fraction
    (numerator, denominator) of the first plane's; ``order`` the buffer's planes in
    FFmpeg's order. ``rank`` says how much of the light the format keeps (higher is
    better): ten bits and 4:2:2 first, then more chroma, grey last.
    """

    fourcc: str
    layout: str
    rank: int
    stride: tuple[tuple[int, int], ...] = ((1, 1),)
    order: tuple[int, ...] = (0,)

    @property
    def compressed(self) -> bool:
        """True where each buffer holds a JPEG picture instead of samples."""
        return self.layout == MJPEG


MJPEG = "mjpeg"
_HALVES = ((1, 1), (1, 2), (1, 2))
_PAIR = ((1, 1), (1, 1))

NATIVE: dict[str, NativeFormat] = {
    native.fourcc: native
    for native in (
        NativeFormat(fourcc="Y210", layout="y210le", rank=9),
        NativeFormat(fourcc="P010", layout="p010le", rank=8, stride=_PAIR, order=(0, 1)),
        NativeFormat(fourcc="YUYV", layout="yuyv422", rank=7),
        NativeFormat(fourcc="UYVY", layout="uyvy422", rank=7),
        NativeFormat(fourcc="YVYU", layout="yvyu422", rank=7),
        NativeFormat(fourcc="422P", layout="yuv422p", rank=7, stride=_HALVES, order=(0, 1, 2)),
        NativeFormat(fourcc="NV16", layout="nv16", rank=7, stride=_PAIR, order=(0, 1)),
        NativeFormat(fourcc="RGB3", layout="rgb24", rank=5),
        NativeFormat(fourcc="BGR3", layout="bgr24", rank=5),
        NativeFormat(fourcc="XR24", layout="bgr0", rank=5),
        NativeFormat(fourcc="XB24", layout="rgb0", rank=5),
        NativeFormat(fourcc="NV12", layout="nv12", rank=4, stride=_PAIR, order=(0, 1)),
        NativeFormat(fourcc="NV21", layout="nv21", rank=4, stride=_PAIR, order=(0, 1)),
        NativeFormat(fourcc="YU12", layout="yuv420p", rank=4, stride=_HALVES, order=(0, 1, 2)),
        NativeFormat(fourcc="YV12", layout="yuv420p", rank=4, stride=_HALVES, order=(0, 2, 1)),
        NativeFormat(fourcc="MJPG", layout=MJPEG, rank=3),
        NativeFormat(fourcc="JPEG", layout=MJPEG, rank=3),
        NativeFormat(fourcc="Y16 ", layout="gray16le", rank=2),
        NativeFormat(fourcc="Y12 ", layout="gray12le", rank=2),
        NativeFormat(fourcc="Y10 ", layout="gray10le", rank=2),
        NativeFormat(fourcc="GREY", layout="gray", rank=1),
    )
}


def text_of(code: int) -> str:
    """The four letters of a pixel format code.

    >>> text_of(0x56595559)
    'YUYV'
    """
    letters = (code & 0x7FFFFFFF).to_bytes(4, "little").decode("latin-1")
    return letters + ("-BE" if code >> 31 else "")


def code_of(fourcc: str) -> int:
    """The pixel format code of four letters.

    >>> hex(code_of("YUYV"))
    '0x56595559'
    """
    return int.from_bytes(fourcc.encode("latin-1"), "little")


class Cut(msgspec.Struct, frozen=True):
    """One plane in the buffer: ``offset`` and ``stride`` in bytes, the shape of the plane without padding."""

    offset: int
    stride: int
    shape: tuple[int, int]


def cuts(native: NativeFormat, width: int, height: int, bytesperline: int) -> tuple[Cut, ...]:
    """Where the planes of one uncompressed buffer lie, in FFmpeg's plane order.

    >>> [(cut.offset, cut.stride, cut.shape) for cut in cuts(NATIVE["NV12"], 6, 4, 8)]
    [(0, 8, (4, 6)), (32, 8, (2, 6))]
    """
    how = layout(native.layout)
    shapes = plane_shapes(how, width, height)
    size = how.dtype.itemsize
    first = max(bytesperline, shapes[0][1] * size)
    found: dict[int, Cut] = {}
    offset = 0
    for plane, (numerator, denominator) in zip(native.order, native.stride, strict=True):
        stride = max(first * numerator // denominator, shapes[plane][1] * size)
        found[plane] = Cut(offset, stride, shapes[plane])
        offset += stride * shapes[plane][0]
    return tuple(found[plane] for plane in range(len(shapes)))


def needed(parts: tuple[Cut, ...], native: NativeFormat) -> int:
    """Bytes a complete buffer holds at least; the padding of the very last line may be missing."""
    size = layout(native.layout).dtype.itemsize
    return max(cut.offset + cut.stride * (cut.shape[0] - 1) + cut.shape[1] * size for cut in parts)


def view(memory: npt.NDArray[np.uint8], cut: Cut, native: NativeFormat) -> Plane:
    """One plane of ``memory`` as it lies there: padded lines skipped, nothing copied, little-endian samples."""
    kind = layout(native.layout).dtype.newbyteorder("<")
    row = cut.shape[1] * kind.itemsize
    lines = np.lib.stride_tricks.as_strided(memory[cut.offset :], (cut.shape[0], row), (cut.stride, 1), writeable=False)
    return lines.view(kind)
