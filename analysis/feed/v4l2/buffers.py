"""The device's buffers, shared with the kernel: requested, mapped, queued, taken and given back."""

from __future__ import annotations

import ctypes
import mmap

import msgspec
import numpy as np
import numpy.typing as npt

from analysis.feed.v4l2 import ioctls
from analysis.feed.v4l2.structures import Buffer, RequestBuffers

COUNT = 4


class Filled(msgspec.Struct, frozen=True):
    """One filled buffer: its number, the bytes used, the driver's error mark, count and clock (seconds)."""

    index: int
    used: int
    corrupt: bool
    sequence: int
    seconds: float


class Buffers:
    """A set of mapped buffers of one descriptor. Every method may raise OSError."""

    def __init__(self, fd: int, count: int = COUNT) -> None:
        self._fd = fd
        self._maps: list[mmap.mmap] = []
        self._memory: list[npt.NDArray[np.uint8]] = []
        self._streaming = False
        wanted = RequestBuffers(count=count, type=ioctls.BUF_TYPE_VIDEO_CAPTURE, memory=ioctls.MEMORY_MMAP)
        ioctls.call(fd, ioctls.REQBUFS, wanted)
        try:
            for index in range(wanted.count):
                raw = self._blank(index)
                ioctls.call(fd, ioctls.QUERYBUF, raw)
                shared = mmap.mmap(fd, raw.length, mmap.MAP_SHARED, mmap.PROT_READ, offset=raw.m.offset)
                self._maps.append(shared)
                self._memory.append(np.frombuffer(shared, np.uint8))
        except (OSError, ValueError):
            self.release()
            raise

    def start(self) -> None:
        """Queue all buffers and start the stream."""
        for index in range(len(self._maps)):
            self.give_back(index)
        ioctls.call(self._fd, ioctls.STREAMON, ctypes.c_int32(ioctls.BUF_TYPE_VIDEO_CAPTURE))
        self._streaming = True

    def take(self) -> Filled:
        """The oldest filled buffer; it belongs to the caller until given back. BlockingIOError: there is none."""
        raw = self._blank(0)
        ioctls.call(self._fd, ioctls.DQBUF, raw)
        return Filled(
            index=raw.index,
            used=raw.bytesused,
            corrupt=bool(raw.flags & ioctls.BUF_FLAG_ERROR),
            sequence=raw.sequence,
            seconds=raw.timestamp.tv_sec + raw.timestamp.tv_usec * 1e-6,
        )

    def memory(self, index: int) -> npt.NDArray[np.uint8]:
        """All bytes of one buffer; valid until :meth:`release`."""
        return self._memory[index]

    def give_back(self, index: int) -> None:
        """Let the driver fill this buffer again."""
        ioctls.call(self._fd, ioctls.QBUF, self._blank(index))

    def release(self) -> None:
        """Stop the stream and give the memory back; never raises, for it runs when the device may be gone."""
        quiet = [(ioctls.STREAMOFF, ctypes.c_int32(ioctls.BUF_TYPE_VIDEO_CAPTURE))] if self._streaming else []
        self._streaming = False
        for number, argument in quiet:
            _try(self._fd, number, argument)
        self._memory.clear()
        while self._maps:
            self._maps.pop().close()
        none = RequestBuffers(count=0, type=ioctls.BUF_TYPE_VIDEO_CAPTURE, memory=ioctls.MEMORY_MMAP)
        _try(self._fd, ioctls.REQBUFS, none)

    @staticmethod
    def _blank(index: int) -> Buffer:
        return Buffer(index=index, type=ioctls.BUF_TYPE_VIDEO_CAPTURE, memory=ioctls.MEMORY_MMAP)


def _try(fd: int, number: int, argument: ctypes.Structure | ctypes.c_int32) -> None:
    try:
        ioctls.call(fd, number, argument)
    except OSError:
        return  # an unplugged device has nothing left to stop or free
