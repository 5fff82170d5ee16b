"""What everything together costs on one frame: levels, shares, traces, ends, stops, noise, flicker, tolerance, spots.

Not every part looks at every frame, so the figure is the mean over two seconds of a moving feed. The unit is one
``cv2.calcHist`` of a luma plane of the same feed; unit and measurement take turns and both meet frames that
were not just used, as the frames of a live feed are not.
"""

from __future__ import annotations

import time

import cv2
import msgspec
import numpy as np

from analysis.measure.examiner import Examiner, ExaminerSettings
from analysis.measure.extras import ExtrasSettings
from analysis.model.frame import Frame
from analysis.model.instant import Instant
from analysis.model.sitter import Spot
from tests.bench import pictures
from tests.bench.row import Row

RATE, SECONDS = 60.0, 2.0
SPOTS = tuple(Spot(name=f"spot {n}", kind="watch", x=0.2 * n, y=0.4, width=0.1, height=0.1) for n in range(1, 5))


def run() -> list[Row]:
    """All rows of this section."""
    cv2.setNumThreads(1)
    rows = []
    for layout, most in (("yuyv422", 8.0), ("yuv422p10le", 10.0)):
        frames = _moving(layout)
        for name, settings in (
            ("everything on", ExaminerSettings()),
            ("everything on, tolerance exact", ExaminerSettings(extras=ExtrasSettings(tolerance="exact"))),
        ):
            cost, unit = _mean_cost(frames, settings)
            limit = most if settings.extras.tolerance != "exact" else None
            rows.append(
                Row(section="examining 1080p", name=f"{layout}, {name}", value=cost / unit, unit="units", most=limit)
            )
            rows.append(
                Row(section="examining 1080p", name=f"{layout}, {name}: one frame", value=cost * 1e3, unit="ms")
            )
            rows.append(Row(section="examining 1080p", name=f"{layout}, {name}: one unit", value=unit * 1e3, unit="ms"))
    return rows


def _moving(layout: str) -> list[Frame]:
    room = pictures.room(1920, 1080)
    dice = np.random.default_rng(5)
    made = []
    for _ in range(6):
        grain = dice.normal(0, 1.2, room.shape)
        frame = pictures.frame(np.clip(room + grain, 1, 254).astype(np.uint8), layout)
        encoding = msgspec.structs.replace(frame.format.encoding, curve="bt709")
        shape = msgspec.structs.replace(frame.format, encoding=encoding, rate=RATE)
        made.append(msgspec.structs.replace(frame, format=shape))
    return made


def _plane(frame: Frame) -> np.ndarray:
    plane = frame.planes[0]
    if frame.format.layout == "yuyv422":
        return pictures.luma(plane.reshape(plane.shape[0], -1, 4))
    return plane


def _mean_cost(frames: list[Frame], settings: ExaminerSettings) -> tuple[float, float]:
    """Mean seconds of one frame, and of one unit."""
    examiner, planes = Examiner(settings), [_plane(frame) for frame in frames]
    examiner.place_spots(SPOTS)
    codes = 1 << frames[0].format.encoding.bits
    count, unit, cost = round(RATE * SECONDS), 0.0, 0.0
    for number in range(count + 10):
        place = number % len(frames)
        seconds = number / RATE
        frame = msgspec.structs.replace(
            frames[place],
            instant=Instant(seconds, seconds), sequence=number, source_seconds=seconds,
        )  # fmt: skip
        began = time.thread_time()
        cv2.calcHist([planes[place - 3]], [0], None, [codes], [0, codes])
        between = time.thread_time()
        examiner.measure(frame, None, Instant(0.0, 0.0))
        if number >= 10:  # buffers are made and the picture is known
            unit += between - began
            cost += time.thread_time() - between
    return cost / count, unit / count
