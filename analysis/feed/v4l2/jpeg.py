"""JPEG pictures of a device (MJPEG), decoded to their own planes: no conversion to R G B and back."""

from __future__ import annotations

import av
import numpy as np
import numpy.typing as npt
from av.video.frame import VideoFrame

from analysis.feed.pool import FramePool
from analysis.model.errors import FeedCorrupt
from analysis.model.frame import Plane
from analysis.signal.layouts import layout, plane_shapes


class JpegDecoder:
    """Decodes one JPEG picture at a time and copies its planes into pooled arrays.

    One thread and no reordering, so that the picture comes out of the call that its bytes went into.
    """

    def __init__(self, pool: FramePool) -> None:
        self._pool = pool
        self._context = self._fresh()

    @staticmethod
    def _fresh() -> av.VideoCodecContext:
        context = av.CodecContext.create("mjpeg", "r")
        assert isinstance(context, av.VideoCodecContext)
        context.thread_count = 1
        # a damaged picture must be told, not patched up
        context.options = {"err_detect": "explode+careful"}
        return context

    def decode(self, data: bytes, address: str = "") -> tuple[str, int, int, tuple[Plane, ...]]:
        """Layout name, width, height and planes of one picture. Raises FeedCorrupt when it is damaged."""
        if not data.startswith(b"\xff\xd8"):
            raise FeedCorrupt("the device sent something that is not a JPEG picture", address)
        if data.rstrip(b"\0")[-2:] != b"\xff\xd9":
            raise FeedCorrupt("a JPEG picture ends early", address)
        try:
            frames = self._context.decode(av.Packet(data))
        except av.FFmpegError as error:
            self._context = self._fresh()
            raise FeedCorrupt(f"a damaged JPEG picture ({error.strerror})", address) from error
        if len(frames) != 1 or frames[0].is_corrupt:
            raise FeedCorrupt("a damaged JPEG picture", address)
        frame = frames[0]
        return frame.format.name, frame.width, frame.height, self._planes(frame)

    def _planes(self, frame: VideoFrame) -> tuple[Plane, ...]:
        how = layout(frame.format.name)
        copies: list[Plane] = []
        for plane, (rows, samples) in zip(frame.planes, plane_shapes(how, frame.width, frame.height), strict=True):
            lines: npt.NDArray[np.uint8] = np.frombuffer(memoryview(plane), np.uint8).reshape(-1, plane.line_size)
            copy = self._pool.take((rows, samples), np.uint8)
            np.copyto(copy, lines[:rows, :samples])
            copies.append(copy)
        return tuple(copies)
