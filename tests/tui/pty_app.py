"""The real application on a made-up watch, to be run in a terminal: ``python -m tests.tui.pty_app MODE``.

MODE is ``moving`` (noise, drifting light, a timeline that goes on: everything changes), ``pan``
(the camera turns as well, so that no column stays) or ``still``. Unless it is still, the mean is
replaced by the monotonic time, so that whoever reads the screen can tell how old it is.
"""

from __future__ import annotations

import os
import sys
import time

import msgspec
import numpy as np

from analysis.model.snapshot import Snapshot
from tests.tui.synthetic import START, FakeWatch, measure, picture, snapshot, timeline
from tui.look import Look
from tui.start import run_screen


def stamp(now: float) -> float:
    """The time as a level with one decimal: hundredths of a second modulo ten thousand, over ten."""
    return (int(now * 100) % 10000) / 10


class Moving(FakeWatch):
    """Twelve noisy pictures in turn under slowly drifting light."""

    def __init__(self, mode: str) -> None:
        super().__init__(snapshot())
        self.still = mode == "still"
        count = {"still": 1, "moving": 12, "pan": 60}[mode]
        turn = 4 if mode == "pan" else 0
        light = 1 + 0.04 * np.sin(np.arange(count) / count * 2 * np.pi)
        self._measured = [
            measure(np.roll(picture(seed, float(light[seed])), seed * turn, axis=2), seed) for seed in range(count)
        ]
        self._past = timeline(1200)
        self._begin = time.monotonic()

    def snapshot(self) -> Snapshot:
        """The picture of this moment."""
        now = time.monotonic()
        reading, view = self._measured[int(now * 25) % len(self._measured)]
        second = int(now - self._begin)
        at = msgspec.structs.replace(START, monotonic=now)
        if self.still:
            return msgspec.structs.replace(self.now, at=at, reading=reading, view=view)
        luma = msgspec.structs.replace(reading.luma, mean=stamp(now), p50=reading.luma.p50 + np.sin(now * 3))
        feed = msgspec.structs.replace(self.now.feed, age=0.02 + 0.02 * (now * 7 % 1), fps=25 + np.sin(now))
        reading = msgspec.structs.replace(reading, luma=luma)
        past = self._past[second : second + 600]
        return msgspec.structs.replace(self.now, at=at, reading=reading, view=view, feed=feed, timeline=past)


if __name__ == "__main__":
    options = {"glyphs": os.environ.get("GLYPHS", "auto"), "colours": os.environ.get("COLOURS", "auto")}
    run_screen(Moving(sys.argv[1]), Look(**options))
