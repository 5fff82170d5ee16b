"""The device's buffers, shared with the kernel: requested, mapped, queued, taken and given back."""

from __future__ import annotations

import ctypes
import mmap

import msgspec
import numpy as np
import numpy.typing as npt

from analysis.feed.v4l2 import ioctls
from analysis.feed.v4l2.structures import Buffer, MemoryPlane, RequestBuffers

COUNT = 4


class Filled(msgspec.Struct, frozen=True):
    """One filled buffer: its number, its bytes from ``begin``, the driver's error mark, count and clock (seconds)."""

    index: int
    begin: int
    used: int
    corrupt: bool
    sequence: int
    seconds: float


class _Entry:
    """One buffer's description as the kernel wants it: with a memory plane beside it in the multi-planar interface."""

    def __init__(self, index: int, buffer_type: int) -> None:
        self.raw = Buffer(index=index, type=buffer_type, memory=ioctls.MEMORY_MMAP)
        self._plane: MemoryPlane | None = None
        if buffer_type == ioctls.BUF_TYPE_VIDEO_CAPTURE_MPLANE:
            self._plane = MemoryPlane()
            self.raw.m.planes = ctypes.addressof(self._plane)
            self.raw.length = 1

    @property
    def length(self) -> int:
        return int(self.raw.length if self._plane is None else self._plane.length)

    @property
    def offset(self) -> int:
        return int(self.raw.m.offset if self._plane is None else self._plane.m.offset)

    @property
    def used(self) -> int:
        # in the multi-planar interface what lies before data_offset is counted too
        return int(self.raw.bytesused if self._plane is None else self._plane.bytesused - self.begin)

    @property
    def begin(self) -> int:
        return int(0 if self._plane is None else self._plane.data_offset)


class Buffers:
    """A set of mapped buffers of one descriptor. Every method may raise OSError."""

    def __init__(self, fd: int, buffer_type: int, count: int = COUNT) -> None:
        self._fd, self._type = fd, buffer_type
        self._maps: list[mmap.mmap] = []
        self._memory: list[npt.NDArray[np.uint8]] = []
        self._streaming = False
        wanted = RequestBuffers(count=count, type=buffer_type, memory=ioctls.MEMORY_MMAP)
        ioctls.call(fd, ioctls.REQBUFS, wanted)
        try:
            for index in range(wanted.count):
                entry = _Entry(index, buffer_type)
                ioctls.call(fd, ioctls.QUERYBUF, entry.raw)
                shared = mmap.mmap(fd, entry.length, mmap.MAP_SHARED, mmap.PROT_READ, offset=entry.offset)
                self._maps.append(shared)
                self._memory.append(np.frombuffer(shared, np.uint8))
        except (OSError, ValueError):
            self.release()
            raise

    def start(self) -> None:
        """Queue all buffers and start the stream."""
        for index in range(len(self._maps)):
            self.give_back(index)
        ioctls.call(self._fd, ioctls.STREAMON, ctypes.c_int32(self._type))
        self._streaming = True

    def take(self) -> Filled:
        """The oldest filled buffer; it belongs to the caller until given back. BlockingIOError: there is none."""
        entry = _Entry(0, self._type)
        raw = entry.raw
        ioctls.call(self._fd, ioctls.DQBUF, raw)
        return Filled(
            index=raw.index,
            begin=entry.begin,
            used=entry.used,
            corrupt=bool(raw.flags & ioctls.BUF_FLAG_ERROR),
            sequence=raw.sequence,
            seconds=raw.timestamp.tv_sec + raw.timestamp.tv_usec * 1e-6,
        )

    def memory(self, filled: Filled) -> npt.NDArray[np.uint8]:
        """The bytes of one buffer; valid until :meth:`release`."""
        return self._memory[filled.index][filled.begin :]

    def give_back(self, index: int) -> None:
        """Let the driver fill this buffer again."""
        entry = _Entry(index, self._type)  # held here: the kernel reads the plane beside it through a pointer
        ioctls.call(self._fd, ioctls.QBUF, entry.raw)

    def release(self) -> None:
        """Stop the stream and give the memory back; never raises, for it runs when the device may be gone."""
        if self._streaming:
            self._streaming = False
            _try(self._fd, ioctls.STREAMOFF, ctypes.c_int32(self._type))
        self._memory.clear()
        while self._maps:
            self._maps.pop().close()
        _try(self._fd, ioctls.REQBUFS, RequestBuffers(count=0, type=self._type, memory=ioctls.MEMORY_MMAP))


def _try(fd: int, number: int, argument: ctypes.Structure | ctypes.c_int32) -> None:
    try:
        ioctls.call(fd, number, argument)
    except OSError:
        return  # an unplugged device has nothing left to stop or free
