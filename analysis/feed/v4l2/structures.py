"""The structures of the kernel's V4L2 interface.

Names, order and sizes are those of ``linux/videodev2.h`` (kernel documentation, Linux Media Infrastructure userspace
API, part I "Video for Linux API", function reference). Sizes follow the machine: they are the compiler's own.
"""

from __future__ import annotations

import ctypes
from ctypes import c_char, c_int32, c_long, c_uint8, c_uint16, c_uint32, c_uint64


class Capability(ctypes.Structure):
    """struct v4l2_capability."""

    _fields_ = [
        ("driver", c_char * 16),
        ("card", c_char * 32),
        ("bus_info", c_char * 32),
        ("version", c_uint32),
        ("capabilities", c_uint32),
        ("device_caps", c_uint32),
        ("reserved", c_uint32 * 3),
    ]


class FormatDescription(ctypes.Structure):
    """struct v4l2_fmtdesc."""

    _fields_ = [
        ("index", c_uint32),
        ("type", c_uint32),
        ("flags", c_uint32),
        ("description", c_char * 32),
        ("pixelformat", c_uint32),
        ("mbus_code", c_uint32),
        ("reserved", c_uint32 * 3),
    ]


class PixelFormat(ctypes.Structure):
    """struct v4l2_pix_format."""

    _fields_ = [
        ("width", c_uint32),
        ("height", c_uint32),
        ("pixelformat", c_uint32),
        ("field", c_uint32),
        ("bytesperline", c_uint32),
        ("sizeimage", c_uint32),
        ("colorspace", c_uint32),
        ("priv", c_uint32),
        ("flags", c_uint32),
        ("ycbcr_enc", c_uint32),
        ("quantization", c_uint32),
        ("xfer_func", c_uint32),
    ]


class _PlaneLines(ctypes.Structure):
    # struct v4l2_plane_pix_format
    _pack_ = 1
    _fields_ = [("sizeimage", c_uint32), ("bytesperline", c_uint32), ("reserved", c_uint16 * 6)]


class MultiplanarFormat(ctypes.Structure):
    """struct v4l2_pix_format_mplane, packed."""

    _pack_ = 1
    _fields_ = [
        ("width", c_uint32),
        ("height", c_uint32),
        ("pixelformat", c_uint32),
        ("field", c_uint32),
        ("colorspace", c_uint32),
        ("plane_fmt", _PlaneLines * 8),
        ("num_planes", c_uint8),
        ("flags", c_uint8),
        ("ycbcr_enc", c_uint8),
        ("quantization", c_uint8),
        ("xfer_func", c_uint8),
        ("reserved", c_uint8 * 7),
    ]


class _FormatUnion(ctypes.Union):
    # struct v4l2_window, the widest alignment in the union, holds pointers
    _fields_ = [("pix", PixelFormat), ("pix_mp", MultiplanarFormat), ("raw", c_uint8 * 200), ("align", ctypes.c_void_p)]


class Format(ctypes.Structure):
    """struct v4l2_format."""

    _fields_ = [("type", c_uint32), ("fmt", _FormatUnion)]


class Fraction(ctypes.Structure):
    """struct v4l2_fract."""

    _fields_ = [("numerator", c_uint32), ("denominator", c_uint32)]


class _SizeUnion(ctypes.Union):
    # discrete: width, height; stepwise: min, max, step of the width, then of the height
    _fields_ = [("discrete", c_uint32 * 2), ("stepwise", c_uint32 * 6)]


class FrameSize(ctypes.Structure):
    """struct v4l2_frmsizeenum."""

    _fields_ = [
        ("index", c_uint32),
        ("pixel_format", c_uint32),
        ("type", c_uint32),
        ("size", _SizeUnion),
        ("reserved", c_uint32 * 2),
    ]


class _IntervalUnion(ctypes.Union):
    # stepwise: shortest, longest, step
    _fields_ = [("discrete", Fraction), ("stepwise", Fraction * 3)]


class FrameInterval(ctypes.Structure):
    """struct v4l2_frmivalenum."""

    _fields_ = [
        ("index", c_uint32),
        ("pixel_format", c_uint32),
        ("width", c_uint32),
        ("height", c_uint32),
        ("type", c_uint32),
        ("interval", _IntervalUnion),
        ("reserved", c_uint32 * 2),
    ]


class CaptureParameters(ctypes.Structure):
    """struct v4l2_captureparm."""

    _fields_ = [
        ("capability", c_uint32),
        ("capturemode", c_uint32),
        ("timeperframe", Fraction),
        ("extendedmode", c_uint32),
        ("readbuffers", c_uint32),
        ("reserved", c_uint32 * 4),
    ]


class _ParameterUnion(ctypes.Union):
    _fields_ = [("capture", CaptureParameters), ("raw", c_uint8 * 200)]


class StreamParameters(ctypes.Structure):
    """struct v4l2_streamparm."""

    _fields_ = [("type", c_uint32), ("parm", _ParameterUnion)]


class RequestBuffers(ctypes.Structure):
    """struct v4l2_requestbuffers."""

    _fields_ = [
        ("count", c_uint32),
        ("type", c_uint32),
        ("memory", c_uint32),
        ("capabilities", c_uint32),
        ("flags", c_uint8),
        ("reserved", c_uint8 * 3),
    ]


class TimeValue(ctypes.Structure):
    """struct timeval."""

    _fields_ = [("tv_sec", c_long), ("tv_usec", c_long)]


class TimeCode(ctypes.Structure):
    """struct v4l2_timecode."""

    _fields_ = [
        ("type", c_uint32),
        ("flags", c_uint32),
        ("frames", c_uint8),
        ("seconds", c_uint8),
        ("minutes", c_uint8),
        ("hours", c_uint8),
        ("userbits", c_uint8 * 4),
    ]


class _Memory(ctypes.Union):
    _fields_ = [("offset", c_uint32), ("userptr", ctypes.c_ulong), ("planes", ctypes.c_void_p), ("fd", c_int32)]


class MemoryPlane(ctypes.Structure):
    """struct v4l2_plane."""

    _fields_ = [
        ("bytesused", c_uint32),
        ("length", c_uint32),
        ("m", _Memory),
        ("data_offset", c_uint32),
        ("reserved", c_uint32 * 11),
    ]


class Buffer(ctypes.Structure):
    """struct v4l2_buffer."""

    _fields_ = [
        ("index", c_uint32),
        ("type", c_uint32),
        ("bytesused", c_uint32),
        ("flags", c_uint32),
        ("field", c_uint32),
        ("timestamp", TimeValue),
        ("timecode", TimeCode),
        ("sequence", c_uint32),
        ("memory", c_uint32),
        ("m", _Memory),
        ("length", c_uint32),
        ("reserved2", c_uint32),
        ("request_fd", c_int32),
    ]


class Input(ctypes.Structure):
    """struct v4l2_input."""

    _fields_ = [
        ("index", c_uint32),
        ("name", c_char * 32),
        ("type", c_uint32),
        ("audioset", c_uint32),
        ("tuner", c_uint32),
        ("std", c_uint64),
        ("status", c_uint32),
        ("capabilities", c_uint32),
        ("reserved", c_uint32 * 3),
    ]


class BtTimings(ctypes.Structure):
    """struct v4l2_bt_timings, packed: 64-bit pixel clock at offset 16."""

    _pack_ = 1
    _fields_ = [
        ("width", c_uint32),
        ("height", c_uint32),
        ("interlaced", c_uint32),
        ("polarities", c_uint32),
        ("pixelclock", c_uint64),
        ("hfrontporch", c_uint32),
        ("hsync", c_uint32),
        ("hbackporch", c_uint32),
        ("vfrontporch", c_uint32),
        ("vsync", c_uint32),
        ("vbackporch", c_uint32),
        ("il_vfrontporch", c_uint32),
        ("il_vsync", c_uint32),
        ("il_vbackporch", c_uint32),
        ("standards", c_uint32),
        ("flags", c_uint32),
        ("picture_aspect", Fraction),
        ("cea861_vic", c_uint8),
        ("hdmi_vic", c_uint8),
        ("reserved", c_uint8 * 46),
    ]


class _TimingsUnion(ctypes.Union):
    _pack_ = 1
    _fields_ = [("bt", BtTimings), ("raw", c_uint8 * 128)]


class DvTimings(ctypes.Structure):
    """struct v4l2_dv_timings, packed."""

    _pack_ = 1
    _fields_ = [("type", c_uint32), ("u", _TimingsUnion)]


class _TimeSpec(ctypes.Structure):
    _fields_ = [("tv_sec", c_long), ("tv_nsec", c_long)]


class _EventUnion(ctypes.Union):
    # struct v4l2_event_ctrl brings the 64-bit alignment
    _fields_ = [("changes", c_uint32), ("data", c_uint8 * 64), ("align", c_uint64)]


class Event(ctypes.Structure):
    """struct v4l2_event."""

    _fields_ = [
        ("type", c_uint32),
        ("u", _EventUnion),
        ("pending", c_uint32),
        ("sequence", c_uint32),
        ("timestamp", _TimeSpec),
        ("id", c_uint32),
        ("reserved", c_uint32 * 8),
    ]


class EventSubscription(ctypes.Structure):
    """struct v4l2_event_subscription."""

    _fields_ = [("type", c_uint32), ("id", c_uint32), ("flags", c_uint32), ("reserved", c_uint32 * 5)]
