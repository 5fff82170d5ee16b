"""Capture through OpenCV, for systems where there is no reader of our own. Approximate: it hands out 8-bit B G R.

OpenCV converts what the camera sends and clips levels outside 0 to 100 percent on the way: blacker than black and
whiter than white are lost, and the range and matrix of the device are not told. On Linux ``/dev/video0`` is read
natively instead; ``device:0`` asks for this reader there.
"""

from __future__ import annotations

import os
import threading
from types import ModuleType
from typing import Any

import numpy as np

from analysis.feed.pool import FramePool
from analysis.feed.source import FeedOptions
from analysis.model.errors import FeedCorrupt, FeedGone, FeedRefused, FeedUnreadable
from analysis.model.feed import SourceKind
from analysis.model.frame import Encoding, FrameFormat, Picture

LAYOUT = "bgr24"


class OpenCvSource:
    """Pictures of ``device:N`` through OpenCV's VideoCapture; ``approximate`` is set.

    OpenCV offers no deadline that holds everywhere: the supervisor's own deadline ends a read that never returns.
    """

    kind: SourceKind = "camera"
    approximate = True

    def __init__(self, address: str, options: FeedOptions, pool: FramePool) -> None:
        self.address = address
        self._options = options
        self._pool = pool
        self._capture: Any = None
        self._lock = threading.Lock()
        self._closing = False
        self._format: FrameFormat | None = None

    def open(self) -> None:
        """Open the camera. Raises FeedGone when there is none, FeedUnreadable for a size it does not have."""
        index = _index(self.address)
        if self._options.layout not in (None, LAYOUT):
            what = f"the layout {self._options.layout} is not available here"
            raise FeedUnreadable(what, self.address, "only bgr24 is; on Linux open /dev/videoN for native layouts")
        cv2 = _quiet_cv2()
        with self._lock:
            capture = self._capture = cv2.VideoCapture(index)
            if not capture.isOpened():
                self._release()
                what = "no camera can be opened here (none, in use, or no permission: OpenCV does not say which)"
                raise FeedGone(what, self.address, "check the plug and close other programs")
            for name, value in (
                (cv2.CAP_PROP_FRAME_WIDTH, self._options.width),
                (cv2.CAP_PROP_FRAME_HEIGHT, self._options.height),
                (cv2.CAP_PROP_FPS, self._options.rate),
            ):
                if value is not None:
                    capture.set(name, value)
            rate = float(capture.get(cv2.CAP_PROP_FPS))
            width, height = int(capture.get(cv2.CAP_PROP_FRAME_WIDTH)), int(capture.get(cv2.CAP_PROP_FRAME_HEIGHT))
            if (self._options.width or width, self._options.height or height) != (width, height):
                self._release()
                asked = f"{self._options.width or 'any'}x{self._options.height or 'any'}"
                raise FeedUnreadable(f"the camera took {width}x{height} where {asked} was asked", self.address)
            self._format = self._format_of(width, height, rate if rate > 0 else None)

    def read(self) -> Picture:
        """The next picture. Raises FeedGone when OpenCV has none, FeedCorrupt for one of another kind than B G R."""
        with self._lock:
            try:
                capture, known = self._capture, self._format
                if capture is None or known is None or self._closing:
                    raise FeedGone("the feed is closed", self.address)
                good, found = capture.read()
            finally:
                if self._closing:
                    self._release()
        if not good or found is None:
            raise FeedGone("the camera gives no more pictures", self.address, "check the plug and the cable")
        if found.dtype != np.uint8 or found.ndim != 3 or found.shape[2] != 3 or found.size == 0:
            raise FeedCorrupt(f"a picture of {found.dtype} {found.shape} instead of B G R", self.address)
        height, width = found.shape[:2]
        if (width, height) != (known.width, known.height):
            known = self._format = self._format_of(width, height, known.rate)
        plane = self._pool.take((height, 3 * width), np.uint8)
        np.copyto(plane, found.reshape(height, 3 * width))
        return Picture(planes=(plane,), format=known)

    def close(self) -> None:
        """Let go of the camera; where a read does not return, its reader lets go later."""
        self._closing = True
        if self._lock.acquire(timeout=1.0):
            try:
                self._release()
            finally:
                self._lock.release()

    def _release(self) -> None:
        capture, self._capture = self._capture, None
        if capture is not None:
            capture.release()

    def _format_of(self, width: int, height: int, rate: float | None) -> FrameFormat:
        encoding = Encoding(
            bits=8,
            range=self._options.range or "full",
            matrix="rgb",
            curve=self._options.curve,
            range_from=self._options.said if self._options.range else "assumed",
            matrix_from="tag",
            curve_from=self._options.said if self._options.curve else "assumed",
        )
        return FrameFormat(layout=LAYOUT, width=width, height=height, encoding=encoding, rate=rate)


def _index(address: str) -> int:
    text = address.removeprefix("device:")
    if not text.isascii() or not text.isdigit():
        raise FeedUnreadable("a device is named by its number", address, "write device:0")
    return int(text)


def _quiet_cv2() -> ModuleType:
    """OpenCV with its own messages off: it writes to the terminal that the screen is drawn on."""
    os.environ.setdefault("OPENCV_LOG_LEVEL", "SILENT")
    try:
        import cv2
    except ImportError as error:
        what = f"OpenCV cannot be loaded ({error})"
        raise FeedRefused(what, "device", "install opencv-python-headless") from error
    cv2.utils.logging.setLogLevel(cv2.utils.logging.LOG_LEVEL_SILENT)  # where it was loaded before
    module: ModuleType = cv2
    return module
