"""A capture device that answers the kernel's requests from a script: for faults no real driver can be made to show.

The requests go through the program's real structures and shared memory (a memory file in the place of the driver's
buffers); only ``ioctls.call`` is replaced. What a driver really does is tested on real ones, in tests/device.
"""

from __future__ import annotations

import ctypes
import errno
import os
from collections.abc import Callable
from typing import Any

import pytest

from analysis.feed.v4l2 import ioctls
from analysis.feed.v4l2.fourcc import code_of

PAGE = 1 << 20

Answer = OSError | tuple[bytes, int] | bytes
"""What one dequeued buffer brings: an error, data with flags, or data alone."""


class CaptureDevice:
    """One device with one size; ``pictures`` is what its buffers bring, in order, then silence."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, fourcc: str = "YUYV", size: tuple[int, int] = (8, 4)) -> None:
        self.fourccs, self.size, self.rates = [fourcc], size, [25]
        self.fourcc, self.bytesperline, self.sizeimage = fourcc, 2 * size[0], 2 * size[0] * size[1]
        self.taken: dict[str, Any] = {}  # fields the driver insists on, whatever is asked
        self.capabilities = ioctls.CAP_VIDEO_CAPTURE | ioctls.CAP_STREAMING
        self.pictures: list[Answer] = []
        self.status: int | None = None
        self.signal: OSError | tuple[int, int] | None = None
        self.adopted = (0, 0)
        self.fail: dict[int, OSError] = {}
        self.queued: list[int] = []
        self.sequence = 0
        self.streaming = False
        self.asked: list[int] = []
        self._memory = os.memfd_create("capture")
        os.ftruncate(self._memory, 4 * PAGE)
        self.path = f"/proc/self/fd/{self._memory}"
        self.answers: dict[int, Callable[[Any], None]] = {
            ioctls.QUERYCAP: self._capability, ioctls.ENUM_FMT: self._format_entry, ioctls.G_FMT: self._get_format,
            ioctls.S_FMT: self._set_format, ioctls.ENUM_FRAMESIZES: self._size_entry,
            ioctls.ENUM_FRAMEINTERVALS: self._rate_entry, ioctls.G_PARM: self._rate, ioctls.S_PARM: self._rate,
            ioctls.G_INPUT: self._current_input, ioctls.ENUMINPUT: self._input_entry, ioctls.REQBUFS: self._request,
            ioctls.QUERYBUF: self._query, ioctls.QBUF: self._queue, ioctls.DQBUF: self._dequeue,
            ioctls.STREAMON: self._on, ioctls.STREAMOFF: self._off, ioctls.QUERY_DV_TIMINGS: self._detect,
            ioctls.G_DV_TIMINGS: self._timings, ioctls.S_DV_TIMINGS: self._adopt,
        }  # fmt: skip
        monkeypatch.setattr(ioctls, "call", self._call)

    def close(self) -> None:
        os.close(self._memory)

    def _call(self, fd: int, number: int, argument: Any) -> None:
        self.asked.append(number)
        if number in self.fail:
            raise self.fail[number]
        if number not in self.answers:
            raise OSError(errno.ENOTTY, "not here")
        self.answers[number](argument)

    def _capability(self, raw: Any) -> None:
        raw.card, raw.bus_info = b"Stand-in", b"test"
        raw.capabilities = self.capabilities

    def _format_entry(self, raw: Any) -> None:
        self._within(raw.index, self.fourccs)
        raw.pixelformat = code_of(self.fourccs[raw.index])

    def _size_entry(self, raw: Any) -> None:
        self._within(raw.index, [self.size])
        raw.type = ioctls.FRMSIZE_DISCRETE
        raw.size.discrete[0], raw.size.discrete[1] = self.size

    def _rate_entry(self, raw: Any) -> None:
        self._within(raw.index, self.rates)
        raw.type = ioctls.FRMIVAL_DISCRETE
        raw.interval.discrete.numerator, raw.interval.discrete.denominator = 1, self.rates[raw.index]

    def _set_format(self, raw: Any) -> None:
        self.fourcc = next(name for name in self.fourccs if code_of(name) == raw.fmt.pix.pixelformat)
        self._get_format(raw)

    def _get_format(self, raw: Any) -> None:
        pix = raw.fmt.pix
        pix.width, pix.height = self.size
        pix.pixelformat, pix.bytesperline, pix.sizeimage = code_of(self.fourcc), self.bytesperline, self.sizeimage
        for name, value in self.taken.items():
            setattr(pix, name, value)

    def _rate(self, raw: Any) -> None:
        raw.parm.capture.capability = ioctls.CAP_TIMEPERFRAME
        raw.parm.capture.timeperframe.numerator, raw.parm.capture.timeperframe.denominator = 1, self.rates[0]

    def _current_input(self, raw: Any) -> None:
        if self.status is None:
            raise OSError(errno.ENOTTY, "no inputs")
        raw.value = 0

    def _input_entry(self, raw: Any) -> None:
        self._within(raw.index, [self.status])
        raw.name, raw.status = b"Socket", self.status
        raw.capabilities = 0 if self.signal is None else ioctls.IN_CAP_DV_TIMINGS

    def _detect(self, raw: Any) -> None:
        assert self.signal is not None
        if isinstance(self.signal, OSError):
            raise self.signal
        raw.u.bt.width, raw.u.bt.height = self.signal

    def _timings(self, raw: Any) -> None:
        raw.u.bt.width, raw.u.bt.height = self.adopted

    def _adopt(self, raw: Any) -> None:
        assert not self.streaming, "timings may not change under a running stream"
        self.adopted = self.size = (raw.u.bt.width, raw.u.bt.height)
        self.bytesperline, self.sizeimage = 2 * self.size[0], 2 * self.size[0] * self.size[1]

    def _request(self, raw: Any) -> None:
        raw.count = min(raw.count, 4)
        self.queued.clear()

    def _query(self, raw: Any) -> None:
        raw.length, raw.m.offset = PAGE, raw.index * PAGE

    def _queue(self, raw: Any) -> None:
        assert raw.index not in self.queued
        self.queued.append(raw.index)

    def _dequeue(self, raw: Any) -> None:
        if not self.pictures or not self.streaming:
            raise BlockingIOError(errno.EAGAIN, "none yet")
        answer = self.pictures.pop(0)
        if isinstance(answer, OSError):
            raise answer
        data, flags = answer if isinstance(answer, tuple) else (answer, 0)
        raw.index = self.queued.pop(0)
        raw.bytesused, raw.flags, raw.sequence = len(data), flags, self.sequence
        raw.timestamp.tv_sec, raw.timestamp.tv_usec = 100, 250_000
        self.sequence += 1
        os.pwrite(self._memory, data, raw.index * PAGE)

    def _on(self, raw: ctypes.c_int32) -> None:
        self.streaming, self.sequence = True, 0

    def _off(self, raw: ctypes.c_int32) -> None:
        self.streaming = False

    @staticmethod
    def _within(index: int, entries: list[Any]) -> None:
        if index >= len(entries) or entries[0] is None:
            raise OSError(errno.EINVAL, "no more")
