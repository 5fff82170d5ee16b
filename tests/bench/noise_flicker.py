"""What stops, noise, flicker and signal tolerance cost on a 1080p 8-bit frame, as multiples of one count of its luma.

One unit is ``cv2.calcHist`` of the same luma plane on one thread; unit and work take turns. Parts that do not run on
every frame are given both as one run and, under "per frame", as their share at 60 frames a second.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from statistics import mean, median

import cv2
import msgspec
import numpy as np

from analysis.measure.extras import Extras, ExtrasSettings
from analysis.measure.flicker import FlickerWatch
from analysis.measure.noise import NoiseMeter
from analysis.measure.sample import Sampler
from analysis.measure.stops import StopsMeter
from analysis.measure.tolerance import ToleranceMeter, estimate
from analysis.model.frame import Frame
from analysis.model.instant import Instant
from analysis.signal.curves import curve
from tests.bench import pictures
from tests.bench.row import Row

TURNS = 60
AREA = 0, 0, 1920, 1080


def run() -> list[Row]:
    """All rows of this section."""
    cv2.setNumThreads(1)
    picture = pictures.room(1920, 1080)
    frame, other = pictures.frame(picture, "yuyv422"), pictures.frame(_again(picture), "yuyv422")
    luma = pictures.luma(picture)
    counts = np.asarray(cv2.calcHist([luma], [0], None, [256], [0, 256]), np.float64).ravel()
    sampler, bt709 = Sampler(frame.format), curve("bt709")
    stops, noise = StopsMeter(frame.format, bt709), NoiseMeter(frame.format, bt709)
    exact, filtered = ToleranceMeter(frame.format), ToleranceMeter(frame.format, "mean3")
    noise.hold(Sampler(frame.format).take(other, AREA, False, beside=True), None)
    sample = Sampler(frame.format).take(frame, AREA, beside=True)
    works: list[tuple[str, Callable[[], object], float | None]] = [
        ("sample, luma only", lambda: sampler.take(frame, AREA, colour=False), None),
        ("sample with R'G'B'", lambda: sampler.take(frame, AREA), 0.3),
        ("spread, headroom, footroom of a sample", lambda: stops.look(sample, counts, 100.0, 0.0), 0.4),
        ("noise of two samples (5 a second)", lambda: noise.compare(sample, None), None),
        ("tolerance of a sample (5 a second)", lambda: estimate(sample, frame.format), None),
        ("tolerance of every pixel (when asked for)", lambda: exact.measure(frame, AREA), None),
        ("the same after a mean of 3x3 (when asked for)", lambda: filtered.measure(frame, AREA), None),
    ]
    rows = [_row(name, work, luma, most) for name, work, most in works]
    rows += _flicker(frame, luma)
    rows.append(_together(frame, other, luma, counts))
    return rows


def _row(name: str, work: Callable[[], object], luma: np.ndarray, most: float | None) -> Row:
    work()
    costs, units = [], []
    for _ in range(TURNS):
        units.append(_processor_time(lambda: cv2.calcHist([luma], [0], None, [256], [0, 256])))
        costs.append(_processor_time(work))
    return Row(section="stops, noise, flicker", name=name, value=median(costs) / median(units), unit="units", most=most)


def _flicker(frame: Frame, luma: np.ndarray) -> list[Row]:
    """One frame taken in, and one look through six seconds at 60 frames a second."""
    watch = FlickerWatch(frame.format, curve("bt709"))
    sample = Sampler(frame.format).take(frame, AREA, colour=False)
    costs, units = [], []
    for number in range(480):
        units.append(_processor_time(lambda: cv2.calcHist([luma], [0], None, [256], [0, 256])))
        costs.append(_processor_time(lambda number=number: watch.see(sample, number / 60.0, number)))
    unit, late = median(units), costs[360:]
    section = "stops, noise, flicker"
    return [
        Row(section=section, name="flicker: one frame taken in", value=median(late) / unit, unit="units"),
        Row(section=section, name="flicker: one look (2 a second)", value=max(late) / unit, unit="units"),
        Row(section=section, name="flicker per frame at 60 a second", value=mean(late) / unit, unit="units"),
    ]


def _together(frame: Frame, other: Frame, luma: np.ndarray, counts: np.ndarray) -> Row:
    """Everything as it runs beside the meter, ten seconds at 60 frames a second, the first six not counted."""
    extras = Extras(frame.format, curve("bt709"), ExtrasSettings())
    costs, units = [], []
    for number in range(600):
        at = Instant(number / 60.0, 0.0)
        now = msgspec.structs.replace((frame, other)[number % 2], instant=at, sequence=number)
        units.append(_processor_time(lambda: cv2.calcHist([luma], [0], None, [256], [0, 256])))
        costs.append(_processor_time(lambda now=now, at=at: extras.look(now, AREA, counts, at)))
    name = "all of it per frame at 60 a second, tolerance from the sample"
    return Row(section="stops, noise, flicker", name=name, value=mean(costs[360:]) / median(units), unit="units")


def _again(picture: np.ndarray) -> np.ndarray:
    """The same picture with other noise."""
    dice = np.random.default_rng(9)
    return np.clip(picture + dice.normal(0.0, 1.5, picture.shape), 1, 254).astype(np.uint8)


def _processor_time(work: Callable[[], object]) -> float:
    start = time.thread_time()
    work()
    return time.thread_time() - start
