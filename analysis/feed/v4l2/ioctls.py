"""The kernel's V4L2 requests: their numbers, a few constants, and one way to call them.

Request numbers follow ``asm-generic/ioctl.h``: two bits of direction, fourteen of size, eight of type (``'V'``), eight
of number; the numbers themselves and the constants are those of ``linux/videodev2.h``.
"""

from __future__ import annotations

import ctypes
import fcntl

from analysis.feed.v4l2 import structures

WRITE, READ = 1, 2


def request(direction: int, number: int, size: int) -> int:
    """The request number of one V4L2 ioctl (``_IOC`` of ``asm-generic/ioctl.h``).

    >>> hex(request(READ, 0, 104))  # VIDIOC_QUERYCAP
    '0x80685600'
    """
    return direction << 30 | size << 16 | ord("V") << 8 | number


def _number(direction: int, number: int, kind: type[ctypes.Structure | ctypes.c_int32]) -> int:
    return request(direction, number, ctypes.sizeof(kind))


QUERYCAP = _number(READ, 0, structures.Capability)
ENUM_FMT = _number(READ | WRITE, 2, structures.FormatDescription)
G_FMT = _number(READ | WRITE, 4, structures.Format)
S_FMT = _number(READ | WRITE, 5, structures.Format)
REQBUFS = _number(READ | WRITE, 8, structures.RequestBuffers)
QUERYBUF = _number(READ | WRITE, 9, structures.Buffer)
QBUF = _number(READ | WRITE, 15, structures.Buffer)
DQBUF = _number(READ | WRITE, 17, structures.Buffer)
STREAMON = _number(WRITE, 18, ctypes.c_int32)
STREAMOFF = _number(WRITE, 19, ctypes.c_int32)
G_PARM = _number(READ | WRITE, 21, structures.StreamParameters)
S_PARM = _number(READ | WRITE, 22, structures.StreamParameters)
ENUMINPUT = _number(READ | WRITE, 26, structures.Input)
G_INPUT = _number(READ, 38, ctypes.c_int32)
ENUM_FRAMESIZES = _number(READ | WRITE, 74, structures.FrameSize)
ENUM_FRAMEINTERVALS = _number(READ | WRITE, 75, structures.FrameInterval)
S_DV_TIMINGS = _number(READ | WRITE, 87, structures.DvTimings)
G_DV_TIMINGS = _number(READ | WRITE, 88, structures.DvTimings)
DQEVENT = _number(READ, 89, structures.Event)
SUBSCRIBE_EVENT = _number(WRITE, 90, structures.EventSubscription)
QUERY_DV_TIMINGS = _number(READ, 99, structures.DvTimings)

BUF_TYPE_VIDEO_CAPTURE = 1
BUF_TYPE_VIDEO_CAPTURE_MPLANE = 9
MEMORY_MMAP = 1
CAP_VIDEO_CAPTURE = 0x1
CAP_VIDEO_CAPTURE_MPLANE = 0x1000
CAP_STREAMING = 0x04000000
CAP_DEVICE_CAPS = 0x80000000
CAP_TIMEPERFRAME = 0x1000
BUF_FLAG_ERROR = 0x40
FRMSIZE_DISCRETE = 1
FRMIVAL_DISCRETE = 1
IN_CAP_DV_TIMINGS = 0x2
EVENT_SOURCE_CHANGE = 5


def call(fd: int, number: int, argument: ctypes.Structure | ctypes.c_int32) -> None:
    """One ioctl that fills ``argument`` in place; begun again when a signal interrupts it. Raises OSError."""
    while True:
        try:
            fcntl.ioctl(fd, number, argument)
        except InterruptedError:
            continue
        return
