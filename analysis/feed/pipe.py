"""Uncompressed frames on standard input, described by the address or by a YUV4MPEG2 header."""

from __future__ import annotations

import os
import select
import stat
import sys
import threading
from typing import Any, cast

import numpy as np

from analysis.feed.address import Address
from analysis.feed.failures import as_feed_error
from analysis.feed.pipe_form import EXAMPLE, pipe_form, y4m_format
from analysis.feed.pool import FramePool
from analysis.feed.source import FeedOptions
from analysis.model.errors import FeedEnded, FeedGone, FeedUnreadable, UsageError
from analysis.model.feed import SourceKind
from analysis.model.frame import FrameFormat, Picture, Plane
from analysis.signal.layouts import layout, plane_shapes

_LONGEST_HEADER = 1024
_LOOK_UP_MS = 250
"""Milliseconds after which a wait for more looks whether the pipe is still wanted."""


class PipeSource:
    """Frames one after another without anything between them, planes in FFmpeg's order.

    ``raw:1920x1080@25/yuv422p10le?range=narrow&matrix=bt709&curve=hlg`` describes them; samples
    of more than 8 bits are 16-bit little-endian. ``raw:y4m`` reads a YUV4MPEG2 stream, which
    describes itself. A pipe is played as it comes; it has a number and, with a rate, a time for
    every frame.
    """

    kind: SourceKind = "pipe"
    approximate = False

    def __init__(self, address: Address, options: FeedOptions, pool: FramePool, descriptor: int | None = None) -> None:
        self.address = address.masked
        query = dict(address.query)
        for key in ("range", "matrix", "curve"):
            value = getattr(options, key)
            if value is not None:
                query[key] = value
        self._form = pipe_form(address.target, query, self.address)
        self._pool, self._given = pool, descriptor
        self._format: FrameFormat | None = self._form.format
        self._self_described = self._form.format is None
        self._descriptor = -1
        self._number = 0
        self._closing = threading.Event()
        self._busy = threading.Lock()

    def open(self) -> None:
        """Take standard input; reads the header of a YUV4MPEG2 stream.

        Raises UsageError when a terminal is there instead of a pipe.
        """
        with self._busy:
            self._open()

    def _open(self) -> None:
        try:
            number = self._given if self._given is not None else sys.stdin.fileno()
            if os.isatty(number):
                raise UsageError("standard input is a terminal", self.address, f"pipe frames in, for example {EXAMPLE}")
            if stat.S_ISDIR(os.fstat(number).st_mode):
                raise FeedUnreadable("standard input is a folder", self.address, "pipe frames in")
            # A descriptor of our own: closing it does not take standard input from anybody else, and
            # no lock of Python's own reader is held while this one waits.
            self._descriptor = os.dup(number)
        except (OSError, ValueError, AttributeError):
            raise FeedGone("there is no standard input", self.address, "pipe frames in") from None
        if self._self_described:
            self._format = y4m_format(self._line(), self._form, self.address)

    def read(self) -> Picture:
        """The next frame. Raises FeedEnded between two frames, FeedUnreadable within one."""
        with self._busy:
            return self._read()

    def _read(self) -> Picture:
        shape = self._format
        assert shape is not None
        if self._self_described and not self._line().startswith(b"FRAME"):
            raise FeedUnreadable("a frame of the YUV4MPEG2 stream has no header", self.address, "check the sender")
        how = layout(shape.layout)
        sizes = plane_shapes(how, shape.width, shape.height)
        planes = tuple(self._pool.take(size, how.dtype) for size in sizes)
        total = sum(plane.nbytes for plane in planes)
        came = 0
        for plane in planes:
            got = self._fill(plane)
            came += got
            if got < plane.nbytes:
                self._pool.give(planes)
                if came == 0 and not self._self_described:
                    raise FeedEnded("finished", self.address)
                raise FeedUnreadable(
                    f"the pipe ended inside a frame, after {came} of {total} bytes", self.address, "check the sender"
                )
            if sys.byteorder == "big" and plane.itemsize == 2:
                plane.byteswap(inplace=True)
        number = self._number
        self._number += 1
        return Picture(
            planes=planes,
            format=shape,
            source_sequence=number,
            source_seconds=number / shape.rate if shape.rate else None,
        )

    def close(self) -> None:
        """Let go of the pipe; a read that waits for a frame ends within a quarter of a second."""
        self._closing.set()
        # Only with no read running: the number of a closed descriptor may at once belong to another file.
        if self._busy.acquire(timeout=0.5):
            try:
                descriptor, self._descriptor = self._descriptor, -1
                if descriptor >= 0:
                    os.close(descriptor)
            finally:
                self._busy.release()

    def _fill(self, plane: Plane) -> int:
        view = memoryview(cast(Any, plane.reshape(-1).view(np.uint8)))
        done = 0
        while done < len(view):
            got = self._some(view[done:])
            if got == 0:
                break
            done += got
        return done

    def _some(self, view: memoryview) -> int:
        descriptor = self._descriptor
        if descriptor < 0:
            raise FeedGone("the pipe was closed", self.address, "start again")
        waiting = select.poll()
        waiting.register(descriptor, select.POLLIN)
        try:
            while not self._closing.is_set():
                if waiting.poll(_LOOK_UP_MS):
                    return os.readv(descriptor, [view])
        except OSError as error:
            raise as_feed_error(error, self.address) from None
        raise FeedGone("the pipe was closed", self.address, "start again")

    def _line(self) -> bytes:
        """One header line, read byte by byte so that nothing of the frame behind it is taken."""
        line = bytearray()
        one = bytearray(1)
        while self._some(memoryview(one)):
            if one == b"\n":
                return bytes(line)
            line += one
            if len(line) > _LONGEST_HEADER:
                break
        if not line and self._number > 0:
            raise FeedEnded("finished", self.address)
        if not line:
            raise FeedUnreadable("the pipe is empty", self.address, "check the sender")
        raise FeedUnreadable("this is not YUV4MPEG2", self.address, f"describe the pipe, for example {EXAMPLE}")
