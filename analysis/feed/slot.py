"""The place between the reader and the watch: one frame, and the newest wins."""

from __future__ import annotations

import threading

from analysis.feed.pool import FramePool
from analysis.model.frame import Frame


class LatestSlot:
    """Holds at most one frame. A frame nobody took in time is replaced, counted, and its planes used again.

    Never a queue: whoever measures late measures the newest picture, not an old one.
    """

    def __init__(self, pool: FramePool) -> None:
        self._pool = pool
        self._frame: Frame | None = None
        self._filled = threading.Condition()
        self._replaced = 0

    @property
    def replaced(self) -> int:
        """How many frames were replaced before anyone took them."""
        with self._filled:
            return self._replaced

    def put(self, frame: Frame) -> None:
        """Leave a frame, in place of one that may still lie here. Never waits."""
        with self._filled:
            old, self._frame = self._frame, frame
            self._replaced += old is not None
            self._filled.notify()
        if old is not None:
            self._pool.give(old.planes)

    def take(self, timeout: float = 0.0) -> Frame | None:
        """The newest frame, waiting at most ``timeout`` seconds of real time; None when there is none.

        Whoever takes a frame calls :meth:`done` with it when nobody reads its planes any more.
        """
        with self._filled:
            if self._frame is None and timeout > 0:
                self._filled.wait_for(lambda: self._frame is not None, timeout)
            frame, self._frame = self._frame, None
            return frame

    def done(self, frame: Frame) -> None:
        """Give the planes of a frame that was taken back for use again."""
        self._pool.give(frame.planes)

    def clear(self) -> None:
        """Throw away what lies here, uncounted: it is of a life of the feed that is over."""
        with self._filled:
            old, self._frame = self._frame, None
        if old is not None:
            self._pool.give(old.planes)
