"""Small pictures and a source of them, for tests that care about time and not about content."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from analysis.feed.clock import Clock
from analysis.model.errors import FeedEnded
from analysis.model.feed import SourceKind
from analysis.model.frame import Encoding, FrameFormat, Picture
from analysis.signal.layouts import layout, plane_shapes

Paint = Callable[[int], "np.ndarray | int | None"]


def form(width: int = 64, height: int = 48, name: str = "yuv420p", range_: str = "narrow", rate: float | None = 30.0):
    """A frame format of one of the known layouts."""
    bits = layout(name).depth
    return FrameFormat(
        layout=name, width=width, height=height, rate=rate, encoding=Encoding(bits=bits, range=range_, matrix="bt709")
    )


def picture(
    shape: FrameFormat | None = None,
    *,
    seed: int | None = 0,
    level: int = 90,
    noise: float = 2.0,
    number: int | None = None,
    seconds: float | None = None,
) -> Picture:
    """An even picture with noise. ``seed`` None leaves the noise out."""
    shape = shape or form()
    how = layout(shape.layout)
    dice = np.random.default_rng(seed)
    planes = []
    for size in plane_shapes(how, shape.width, shape.height):
        plane = np.full(size, float(level << (how.depth - 8)))
        if seed is not None:
            plane += dice.normal(0.0, noise, size)
        planes.append(np.clip(plane, 0, (1 << how.depth) - 1).astype(how.dtype) << how.shift)
    return Picture(planes=tuple(planes), format=shape, source_sequence=number, source_seconds=seconds)


class TinySource:
    """Noisy small pictures, one a read, numbered and stamped with the clock. Never waits."""

    def __init__(
        self,
        clock: Clock,
        *,
        kind: SourceKind = "camera",
        shape: FrameFormat | None = None,
        paint: Callable[[int, FrameFormat], Picture] | None = None,
        stamped: bool = True,
        length: int | None = None,
    ) -> None:
        self.kind, self.address, self.approximate = kind, "tiny:noise", False
        self.opened = self.closed = False
        self.count = 0
        self._clock, self._shape, self._paint = clock, shape or form(), paint
        self._stamped, self._length = stamped, length
        # Noise is costly: eight different pictures in turn are different enough to each other.
        self._ready = [picture(self._shape, seed=seed) for seed in range(8)]

    def open(self) -> None:
        self.opened = True

    def read(self) -> Picture:
        if self._length is not None and self.count >= self._length:
            raise FeedEnded("finished", self.address)
        number = self.count
        self.count += 1
        made = self._paint(number, self._shape) if self._paint else self._ready[number % 8]
        return Picture(
            planes=tuple(plane.copy() for plane in made.planes),
            format=made.format,
            corrupt=made.corrupt,
            source_sequence=number if self._stamped else None,
            source_seconds=self._clock.now().monotonic if self._stamped else None,
        )

    def close(self) -> None:
        self.closed = True
