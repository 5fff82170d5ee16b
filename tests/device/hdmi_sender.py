"""Sends given buffers into a video output node for as long as it is open: what a camera's HDMI socket does."""

from __future__ import annotations

import ctypes
import mmap
import os
import select
import threading

from analysis.feed.v4l2 import ioctls
from analysis.feed.v4l2.structures import Buffer, Format, RequestBuffers

OUTPUT_TYPE = 2  # V4L2_BUF_TYPE_VIDEO_OUTPUT
FIELD_NONE = 1


class HdmiSender:
    """Sends ``picture`` again and again from a thread of its own; set ``picture`` to send another one."""

    def __init__(self, node: str, picture: bytes) -> None:
        self.picture = picture
        self._fd = os.open(node, os.O_RDWR | os.O_NONBLOCK)
        layout = Format(type=OUTPUT_TYPE)
        ioctls.call(self._fd, ioctls.G_FMT, layout)
        self.size = layout.fmt.pix.sizeimage
        wanted = RequestBuffers(count=3, type=OUTPUT_TYPE, memory=ioctls.MEMORY_MMAP)
        ioctls.call(self._fd, ioctls.REQBUFS, wanted)
        self._maps = []
        for index in range(wanted.count):
            raw = self._blank(index)
            ioctls.call(self._fd, ioctls.QUERYBUF, raw)
            self._maps.append(mmap.mmap(self._fd, raw.length, offset=raw.m.offset))
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._send, daemon=True)

    def __enter__(self) -> HdmiSender:
        for index in range(len(self._maps)):
            self._queue(index)
        ioctls.call(self._fd, ioctls.STREAMON, ctypes.c_int32(OUTPUT_TYPE))
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        self._thread.join(timeout=20)
        ioctls.call(self._fd, ioctls.STREAMOFF, ctypes.c_int32(OUTPUT_TYPE))
        for shared in self._maps:
            shared.close()
        os.close(self._fd)

    def _send(self) -> None:
        waiting = select.poll()
        waiting.register(self._fd, select.POLLOUT)
        while not self._stop.is_set():
            if waiting.poll(200):
                raw = self._blank(0)
                ioctls.call(self._fd, ioctls.DQBUF, raw)
                self._queue(raw.index)

    def _queue(self, index: int) -> None:
        assert len(self.picture) == self.size
        self._maps[index][: self.size] = self.picture
        raw = self._blank(index)
        raw.bytesused, raw.field = self.size, FIELD_NONE
        ioctls.call(self._fd, ioctls.QBUF, raw)

    @staticmethod
    def _blank(index: int) -> Buffer:
        return Buffer(index=index, type=OUTPUT_TYPE, memory=ioctls.MEMORY_MMAP)
