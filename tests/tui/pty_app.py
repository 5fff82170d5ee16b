"""The real application on a made-up watch, to be run in a terminal: ``python -m tests.tui.pty_app MODE``.

MODE is ``moving`` (noise, drifting light, a sitter who leans, a timeline that goes on: everything changes), ``pan``
(the camera turns as well, so that no column stays), ``still`` or ``alarm`` (one rises after a second). While it moves,
the mean is replaced by the monotonic time, so that whoever reads the screen can tell how old it is.
"""

from __future__ import annotations

import os
import sys
import time

import msgspec
import numpy as np

from analysis.model.alarm import Announcement
from analysis.model.snapshot import OutletStatus, Snapshot
from tests.tui.measured import AIM, KNOWN, SITTER, SPOT_READINGS, SPOTS, complete
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
        reading = msgspec.structs.replace(reading, **_beside(now))
        luma = msgspec.structs.replace(reading.luma, mean=stamp(now), p50=reading.luma.p50 + np.sin(now * 3))
        feed = msgspec.structs.replace(self.now.feed, age=0.02 + 0.02 * (now * 7 % 1), fps=25 + np.sin(now))
        reading = msgspec.structs.replace(reading, luma=luma)
        past = self._past[second : second + 600]
        return msgspec.structs.replace(
            self.now, at=at, reading=reading, view=view, feed=feed, timeline=past, spots=SPOTS, aims=(AIM,)
        )


def _beside(now: float) -> dict[str, object]:
    """Sitter, spots, stops and noise of this moment: all of them move a little all the time."""
    drift = float(np.sin(now * 3))
    x, y, width, height = SITTER.box
    box = (round(x + 20 * drift), round(y + 8 * np.cos(now * 2)), width, height)
    usual = complete().reading
    spots = {name: msgspec.structs.replace(spot, level=spot.level + drift) for name, spot in SPOT_READINGS.items()}
    return {
        "encoding": KNOWN,
        "sitters": (msgspec.structs.replace(SITTER, box=box, level=52 + 3 * drift, stops=0.6 + 0.3 * drift),),
        "spots": spots,
        "headroom_stops": 2 + drift,
        "footroom_stops": usual.footroom_stops,
        "spread": usual.spread,
        "ceiling": usual.ceiling,
        "noise": usual.noise,
        "tolerance": usual.tolerance,
    }


class Alarmed(FakeWatch):
    """A still picture; after a second highlights clip, and the terminal's bell is what is heard."""

    def __init__(self) -> None:
        super().__init__(snapshot(outlet=OutletStatus(outlet="bell", reason="terminal bell, as asked")))
        self._begin = time.monotonic()

    def snapshot(self) -> Snapshot:
        """The picture of this moment."""
        now = time.monotonic()
        at = msgspec.structs.replace(START, monotonic=now)
        if now - self._begin < 1.0:
            return msgspec.structs.replace(self.now, at=at)
        told = Announcement(
            alarm="highlights", occurrence=1, kind="highlights", direction="up", priority=2,
            words="highlights clipping", at=msgspec.structs.replace(START, monotonic=self._begin + 1.0),
        )  # fmt: skip
        return msgspec.structs.replace(self.now, at=at, bells=1, announced=(told,), announcements=1)


if __name__ == "__main__":
    options = {"glyphs": os.environ.get("GLYPHS", "auto"), "colours": os.environ.get("COLOURS", "auto")}
    watch = Alarmed() if sys.argv[1] == "alarm" else Moving(sys.argv[1])
    run_screen(watch, Look(**options), notify=os.environ.get("NOTIFY", "auto"))  # type: ignore[arg-type]
