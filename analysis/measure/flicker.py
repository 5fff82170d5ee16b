"""Watches for mains beat in the picture: lamps on alternating current against the frame rate.

The mean light of each strip of rows is kept for some seconds. Where all of a frame is exposed at once the
strips rise and fall together; where rows are exposed one after another (a rolling shutter) bands move through
the picture, and every strip still beats with the same frequency. Only the beats that mains of 50 and 60 Hz can
leave at the measured frame rate are looked for: whatever else comes and goes in a scene is not flicker of lamps.

The depth told is that of the fundamental wave, peak to peak, in the mean light of strips: less than the lamp's own
where other light falls on the scene too. Beats slower than about 1 Hz cannot be told from changing light, nor any at
more than about 290 frames a second, where the history kept is too short; a beat at exactly half the frame rate
is told as deep as its light and dark frames happen to differ, or not at all.
"""

from __future__ import annotations

from collections import deque
from typing import Literal

import cv2
import msgspec
import numpy as np
import numpy.typing as npt

from analysis.measure import beat
from analysis.measure.mains import alias_hz
from analysis.measure.pace import even_times
from analysis.measure.sample import Sample
from analysis.model.errors import SettingsError
from analysis.model.frame import FrameFormat
from analysis.model.reading import NO_FLICKER, Flicker
from analysis.signal.curves import Curve
from analysis.signal.layouts import layout
from analysis.signal.levels import black_code, codes_per_range, top_code

STRIPS = 32
"""Strips of rows: enough that bands a sixth of the picture high lose less than 3 % of their depth."""
MOST_FRAMES = 1024
"""Frames kept at most, however fast the feed."""
DARKEST_STRIP = 0.002
"""Linear light below which a strip tells nothing (-6.5 stops)."""
LEAST_STRIPS = 8
CUT_STOPS = 0.15
"""After a lasting step of the whole picture larger than this only what follows is looked at."""
TOGETHER = 0.7
"""From this coherence on the whole picture rises and falls as one."""
AGREEING = 2
"""Looks in a row that must agree before flicker is told, and disagree before it is over."""


class FlickerSettings(msgspec.Struct, frozen=True, kw_only=True):
    """What counts as flicker.

    ``mains`` in Hz, ``seconds`` of history looked at, ``least_seconds`` needed for a verdict, ``every``
    seconds between two looks, ``least_stops`` peak to peak that is worth telling, ``wander`` how far in Hz the
    beat may lie from where it is expected: mains drift by 0.2 Hz, which twice is 0.4 Hz of light, and clocks of cameras
    run up to 100 parts in a million off.
    """

    mains: tuple[float, ...] = (50.0, 60.0)
    seconds: float = 6.0
    least_seconds: float = 4.0
    every: float = 0.5
    least_stops: float = 0.01
    wander: float = 0.45

    def __post_init__(self) -> None:
        if not 2.0 <= self.least_seconds <= self.seconds <= 60.0:
            raise SettingsError("flicker: least_seconds must be at least 2, seconds at most 60 and not the smaller one")
        if not self.mains or min(self.mains) <= 0.0:
            raise SettingsError("flicker: mains must name at least one frequency above 0 Hz")
        if self.every <= 0.0 or self.least_stops <= 0.0 or self.wander <= 0.0:
            raise SettingsError("flicker: every, least_stops and wander must be above 0")


class FlickerWatch:
    """Remembers the light of the last seconds of one feed; give it every frame."""

    def __init__(self, shape: FrameFormat, curve: Curve, settings: FlickerSettings | None = None) -> None:
        self.settings = settings or FlickerSettings()
        how = layout(shape.layout)
        self._deep = how.depth > 8
        # A table has an entry for every index; there are no codes beyond the top one.
        codes = np.minimum(np.arange(65536 if self._deep else 256), top_code(how.depth))
        signal = (codes - black_code(how.depth, shape.encoding.range)) / codes_per_range(
            how.depth, shape.encoding.range
        )
        self._light = np.asarray(curve.decode(signal), np.float32).reshape(1, -1)
        self._linear: npt.NDArray[np.float32] | None = None
        self._history: deque[tuple[float, int, npt.NDArray[np.float64]]] = deque(maxlen=MOST_FRAMES)
        self._mark: object = None
        self._looked: float | None = None
        self._seen: deque[Flicker | None] = deque(maxlen=AGREEING)
        self.found: Flicker | None = None

    def forget(self) -> None:
        """Begin anew, as after a change of the feed or of the light."""
        self._history.clear()
        self._seen.clear()
        self._looked, self.found = None, None

    def see(self, sample: Sample, seconds: float, number: int, mark: object = None) -> Flicker | None:
        """Take a frame and say what flickers: a beat, :data:`NO_FLICKER` where none is, None where it is not known.

        It is not known for the first seconds, after a cut, in the dark, and at a pace too uneven to tell.

        ``seconds`` is the frame's time by the source's clock, or else when it arrived; ``number`` counts
        the frames of the source, those that were not looked at too. Time that runs backwards, or
        another ``mark`` (generation, active picture), begins anew.
        """
        if self._history and (mark != self._mark or seconds <= self._history[-1][0]):
            self.forget()
        self._mark = mark
        self._history.append((seconds, number, self._strips(sample)))
        while seconds - self._history[0][0] > self.settings.seconds:
            self._history.popleft()
        if self._looked is None:
            self._looked = seconds
        if seconds - self._looked >= self.settings.every:
            self._looked = seconds
            self._settle(self._look())
        return self.found

    def _settle(self, seen: Flicker | None) -> None:
        """Tell only what several looks agree on."""
        self._seen.append(seen)
        if len(self._seen) == AGREEING and all(_agree(one, seen) for one in self._seen):
            self.found = seen

    def _strips(self, sample: Sample) -> npt.NDArray[np.float64]:
        """Mean linear light of each strip of rows, shape (strips,); fewer where the sample has fewer rows."""
        luma = sample.luma
        if self._linear is None or self._linear.shape != luma.shape:
            self._linear = np.empty(luma.shape, np.float32)
        cv2.LUT(luma, self._light, dst=self._linear)
        rows = cv2.reduce(self._linear, 1, cv2.REDUCE_AVG).ravel()
        edges = np.arange(min(STRIPS, rows.size)) * rows.size // min(STRIPS, rows.size)
        sums = np.add.reduceat(rows, edges, dtype=np.float64)
        return np.asarray(sums / np.diff(edges, append=rows.size))

    def _look(self) -> Flicker | None:
        light = np.stack([one[2] for one in self._history])
        seconds = np.array([one[0] for one in self._history])
        numbers = np.array([one[1] for one in self._history])
        found = self._beats(seconds, numbers, light)
        if found is not None and found.seen:
            return found
        since = _last_cut(light)
        return self._beats(seconds[since:], numbers[since:], light[since:]) if since else found

    def _beats(
        self, seconds: npt.NDArray[np.float64], numbers: npt.NDArray[np.int64], light: npt.NDArray[np.float64]
    ) -> Flicker | None:
        """The strongest beat that mains can leave in this stretch of frames; None where it cannot be told."""
        settings = self.settings
        if len(seconds) < 3 or seconds[-1] - seconds[0] < settings.least_seconds - 0.5:
            return None
        times, fps = even_times(seconds, numbers)
        lit = light.min(axis=0) > DARKEST_STRIP
        if fps is None or np.count_nonzero(lit) < min(LEAST_STRIPS, light.shape[1]):
            return None
        stops = np.log2(light[:, lit])
        best: beat.Beat | None = None
        for mains in settings.mains:
            seen = beat.find(times, stops, alias_hz(fps, mains), settings.wander, fps / 2.0)
            if seen is not None and (best is None or seen.stops > best.stops):
                best = seen
        if best is None or best.stops < settings.least_stops:
            return NO_FLICKER
        kind: Literal["whole", "bands"] = "whole" if best.together >= TOGETHER else "bands"
        return Flicker(hz=best.hz, stops=best.stops, kind=kind)


def _agree(one: Flicker | None, other: Flicker | None) -> bool:
    """Whether two looks say the same: a beat of the same pace, none, or that nobody can tell."""
    if one is None or other is None or one.hz is None or other.hz is None:
        return one == other
    return abs(one.hz - other.hz) < 0.3


def _last_cut(light: npt.NDArray[np.float64]) -> int:
    """The frame after the last lasting step of the whole picture, 0 without one: a cut, a lamp switched.

    Lasting means that the medians of the eight frames before and the eight after differ; a beat has
    both high and low frames on either side.
    """
    if len(light) < 17:
        return 0
    whole = np.log2(np.maximum(light.mean(axis=1), 1e-6))
    medians = np.median(np.lib.stride_tricks.sliding_window_view(whole, 8), axis=1)
    steps = np.abs(medians[8:] - medians[:-8])
    large = np.flatnonzero(steps > CUT_STOPS)
    return int(large[-1]) + 12 if large.size else 0
