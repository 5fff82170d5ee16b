"""What finding and reading sitters costs on a 1080p frame, as multiples of one count of its luma.

One unit is ``cv2.calcHist`` of the same luma plane on one thread; unit and work take turns. Searches run five times
a second on a thread of their own, small pictures and skin readings in the thread that measures.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from statistics import median

import cv2
import msgspec
import numpy as np

from analysis.measure.face import WIDE, WIDTH, FaceFinder
from analysis.measure.follow import Company, follow
from analysis.measure.shrunken import Shrinker
from analysis.measure.skin import SkinReader
from analysis.model.frame import Frame
from analysis.model.instant import Instant
from analysis.settings.face_model import face_model
from analysis.signal.curves import curve
from tests.bench.row import Row
from tests.measure import drawn_faces

TURNS = 40
AREA = 0, 0, 1920, 1080
SECTION = "sitter"
NOW = Instant(10.0, 0.0)


def run() -> list[Row]:
    """All rows of this section."""
    cv2.setNumThreads(1)
    finder = FaceFinder(face_model())
    rows = []
    for layout in ("yuyv422", "yuv422p10le"):
        frame = _frame(layout, 300)
        shrinker = Shrinker(frame.format)
        for width in (WIDTH, WIDE):
            name = f"{layout}: small picture, {width} wide"
            rows += _rows(name, lambda s=shrinker, f=frame, w=width: s.take(f, AREA, w), frame)
    frame = _frame("yuyv422", 300)
    shrinker = Shrinker(frame.format)
    for width, most in ((WIDTH, 8.0), (WIDE, None)):
        small = shrinker.take(frame, AREA, width)
        assert finder.find(small), "the drawn face is not found"
        rows += _rows(f"one search, {width} wide", lambda s=small: finder.find(s), frame, most)
    small = shrinker.take(frame, AREA, WIDTH)
    faces = finder.find(small)
    company = follow(Company(), faces, small, NOW)
    rows += _rows("following one search", lambda: follow(company, faces, small, NOW), frame)
    for layout in ("yuyv422", "yuv422p10le"):
        for height in (144, 300, 600):
            rows += _reading(layout, height)
    return rows


def _reading(layout: str, height: int) -> list[Row]:
    """One skin reading per frame; the budget is half a count of the luma plane for a face of usual size."""
    frame = _frame(layout, height)
    box = (960 - 0.37 * height, 540 - 0.48 * height, 0.74 * height, float(height))
    found = follow(Company(), FaceFinder(face_model()).find(Shrinker(frame.format).take(frame, AREA, WIDTH)),
                   Shrinker(frame.format).take(frame, AREA, WIDTH), NOW)  # fmt: skip
    company = Company(sitters=(msgspec.structs.replace(found.sitters[0], box=box),))
    reader = SkinReader(frame.format, curve("bt709"))
    name = f"{layout}: skin of one sitter, face {height} pixels high"
    return _rows(name, lambda: reader.read(frame, company, NOW), frame, 1.0 if height == 300 else None)


def _frame(layout: str, height: int) -> Frame:
    linear = drawn_faces.draw(drawn_faces.reflectance("tan"), height=height, centre=(960, 540))
    return drawn_faces.frame(linear, layout=layout, noise=1.0)


def _rows(name: str, work: Callable[[], object], frame: Frame, most: float | None = None) -> list[Row]:
    """The work in units, and in milliseconds of this machine."""
    luma = np.ascontiguousarray(frame.planes[0][:, ::2]) if len(frame.planes) == 1 else frame.planes[0]
    bins = 256 if luma.dtype == np.uint8 else 1024
    work()
    costs, units = [], []
    for _ in range(TURNS):
        units.append(_processor_time(lambda: cv2.calcHist([luma], [0], None, [bins], [0, bins])))
        costs.append(_processor_time(work))
    cost = median(costs)
    return [
        Row(section=SECTION, name=name, value=cost / median(units), unit="units", most=most),
        Row(section=SECTION, name=f"{name}, on this machine", value=1e3 * cost, unit="ms"),
    ]


def _processor_time(work: Callable[[], object]) -> float:
    start = time.thread_time()
    work()
    return time.thread_time() - start
