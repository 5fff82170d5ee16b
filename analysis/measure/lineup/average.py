"""The mean of several frames: noise goes, a line-up picture stays."""

from __future__ import annotations

from typing import Any

import msgspec
import numpy as np
import numpy.typing as npt

from analysis.model.frame import Frame
from analysis.signal.layouts import layout


class Average:
    """Adds frames of one format up; a frame of another format starts afresh, a corrupt one is left out.

    >>> Average().frame() is None
    True
    """

    def __init__(self) -> None:
        self._last: Frame | None = None
        self._sums: list[npt.NDArray[Any]] = []
        self.count = 0

    def add(self, frame: Frame) -> None:
        """Count a frame in; its planes are only read, and not kept."""
        if frame.corrupt:
            return
        if self._last is None or frame.format != self._last.format:
            self._sums = [plane.astype(np.uint32) for plane in frame.planes]
            self.count = 1
        else:
            for total, plane in zip(self._sums, frame.planes, strict=True):
                np.add(total, plane, out=total)
            self.count += 1
        self._last = msgspec.structs.replace(frame, planes=())

    def frame(self) -> Frame | None:
        """The mean picture, to the nearest sample, halves upwards; None before the first frame."""
        if self._last is None:
            return None
        kind = layout(self._last.format.layout).dtype
        planes = tuple(((total + self.count // 2) // self.count).astype(kind) for total in self._sums)
        return msgspec.structs.replace(self._last, planes=planes)
