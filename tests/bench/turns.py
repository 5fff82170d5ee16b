"""What recognising turns costs: the map of light of a 1080p frame, and a step of the recogniser, ten times a second."""

from __future__ import annotations

import time
from collections.abc import Callable
from statistics import mean, median

import cv2
import numpy as np

from analysis.exposure.turn import begin, step
from analysis.measure.light_map import LightMapper
from analysis.measure.sample import Sampler
from analysis.model.instant import Instant
from analysis.model.light import SeenSitter
from analysis.signal.curves import curve
from tests.bench import pictures
from tests.bench.row import Row
from tests.exposure.turn_maps import room, seen

AREA = 0, 0, 1920, 1080
TURNS = 60
A_SECOND, FRAMES_A_SECOND = 10.0, 60.0
SECTION = "turns"


def run() -> list[Row]:
    """All rows of this section."""
    cv2.setNumThreads(1)
    picture = pictures.room(1920, 1080)
    frame, luma = pictures.frame(picture, "yuyv422"), pictures.luma(picture)
    mapper = LightMapper(frame.format, curve("bt709"))
    sample = Sampler(frame.format).take(frame, AREA)
    a_map, unit = _cost(lambda: mapper.look(sample, 100.0, 0.0, Instant(0.0, 0.0), 1, AREA), luma)
    still, moving = _steps(0.0, luma), _steps(0.02, luma)
    share = A_SECOND / FRAMES_A_SECOND
    return [
        Row(section=SECTION, name="map of light of a sample", value=a_map / unit, unit="units", most=0.6),
        Row(section=SECTION, name="step of the recogniser, light at rest", value=still, unit="units", most=1.2),
        Row(section=SECTION, name="step of the recogniser, light moving", value=moving, unit="units", most=1.2),
        Row(
            section=SECTION,
            name="map and step per frame at 60 a second",
            value=(a_map / unit + still) * share,
            unit="units",
        ),
    ]


def _cost(work: Callable[[], object], luma: np.ndarray) -> tuple[float, float]:
    """Median processor time of some work, and of the unit; they take turns."""
    work()
    costs, units = [], []
    for _ in range(TURNS):
        units.append(_processor_time(lambda: cv2.calcHist([luma], [0], None, [256], [0, 256])))
        costs.append(_processor_time(work))
    return median(costs), median(units)


def _steps(a_step: float, luma: np.ndarray) -> float:
    """Mean cost of a step over ten seconds, in units."""
    state, light, costs, units = begin(), room(), [], []
    sitters = (SeenSitter(box=(0.5, 0.25, 0.12, 0.25)),)
    maps = [seen(light + a_step * number, number / A_SECOND) for number in range(100)]
    for each in maps:
        units.append(_processor_time(lambda: cv2.calcHist([luma], [0], None, [256], [0, 256])))
        start = time.thread_time()
        state, _ = step(state, each, sitters, each.at)
        costs.append(time.thread_time() - start)
    return mean(costs) / median(units)


def _processor_time(work: Callable[[], object]) -> float:
    start = time.thread_time()
    work()
    return time.thread_time() - start
