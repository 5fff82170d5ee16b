"""The format a device is set to, in either of the kernel's two interfaces: single-planar and multi-planar.

The multi-planar one (kernel documentation, "Single- and multi-planar APIs") is used by many built-in receivers. Its
formats with one memory plane lie in memory just as the single-planar ones do; only those are read here.
"""

from __future__ import annotations

import msgspec

from analysis.feed.v4l2 import ioctls
from analysis.feed.v4l2.fourcc import code_of, text_of
from analysis.feed.v4l2.structures import Format


class Setting(msgspec.Struct, frozen=True, kw_only=True):
    """What a device reports itself; ``bytesperline`` and ``sizeimage`` in bytes, ``memory_planes`` usually 1."""

    fourcc: str
    width: int
    height: int
    bytesperline: int
    sizeimage: int
    colorspace: int
    ycbcr_enc: int
    quantization: int
    memory_planes: int = 1


def setting_of(raw: Format) -> Setting:
    """The setting a driver described."""
    several = raw.type == ioctls.BUF_TYPE_VIDEO_CAPTURE_MPLANE
    pix = raw.fmt.pix_mp if several else raw.fmt.pix
    lines = pix.plane_fmt[0] if several else pix
    return Setting(
        fourcc=text_of(pix.pixelformat),
        width=pix.width,
        height=pix.height,
        bytesperline=lines.bytesperline,
        sizeimage=lines.sizeimage,
        colorspace=pix.colorspace,
        ycbcr_enc=pix.ycbcr_enc,
        quantization=pix.quantization,
        memory_planes=pix.num_planes if several else 1,
    )


def wish(buffer_type: int, fourcc: str, width: int, height: int) -> Format:
    """A format to ask of a driver; everything else is left to it."""
    raw = Format(type=buffer_type)
    pix = raw.fmt.pix_mp if buffer_type == ioctls.BUF_TYPE_VIDEO_CAPTURE_MPLANE else raw.fmt.pix
    pix.width, pix.height, pix.pixelformat = width, height, code_of(fourcc)
    return raw
