"""What measuring one frame costs, as multiples of one count of its luma codes.

One unit is ``cv2.calcHist`` of the same luma plane on one thread. Unit and measurement take turns,
so that both meet the same machine; times are processor time of the thread, the median of all turns.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from fractions import Fraction
from statistics import median

import av
import av.filter
import cv2

from analysis.measure.meter import Meter
from analysis.model.frame import Frame
from tests.bench import pictures
from tests.bench.row import Row

TURNS = 40
LIVE_SECONDS = 3.0


def run() -> list[Row]:
    """All rows of this section."""
    cv2.setNumThreads(1)
    full, scene, worst = "measuring 1080p", pictures.room(1920, 1080), pictures.noise(1920, 1080)
    rows = []
    for layout, most in (("yuyv422", 8.0), ("nv12", 8.0), ("yuv422p10le", 10.0)):
        for what, picture in (("room", scene), ("random codes", worst)):
            for pause, how in ((0.0, "hot"), (0.012, "12 ms of sleep between")):
                cost, unit = _turns(pictures.frame(picture, layout), pause)
                name = f"{layout}, {what}, {how}"
                rows.append(Row(section=full, name=name, value=cost / unit, unit="units", most=most))
                rows.append(Row(section=full, name=f"{name}: one frame", value=cost * 1e3, unit="ms"))
                rows.append(Row(section=full, name=f"{name}: one unit", value=unit * 1e3, unit="ms"))
    for layout in ("yuv422p", "yuv422p10le"):
        rows.append(_against_ffmpeg(pictures.frame(scene, layout)))
    rows.append(_live("1080p60 yuyv422", pictures.frame(scene, "yuyv422"), 60.0, 50.0))
    rows.append(_live("1080p60 yuv422p10le", pictures.frame(scene, "yuv422p10le"), 60.0, 50.0))
    large = pictures.room(3840, 2160)
    rows.append(_live("2160p30 nv12", pictures.frame(large, "nv12"), 30.0, 100.0))
    rows.append(_live("2160p30 yuv422p10le", pictures.frame(large, "yuv422p10le"), 30.0, 100.0))
    return rows


def _turns(frame: Frame, pause: float) -> tuple[float, float]:
    """Seconds of one measurement and of one unit."""
    meter = Meter()
    deep = frame.format.encoding.bits == 10
    codes = 1024 if deep else 256
    plane = frame.planes[0]
    if frame.format.layout == "yuyv422":
        plane = pictures.luma(plane.reshape(plane.shape[0], -1, 4))

    def count() -> None:
        cv2.calcHist([plane], [0], None, [codes], [0, codes])

    def measure() -> None:
        meter.measure(frame, None, frame.instant)

    measure()
    costs, units = [], []
    for _ in range(TURNS):
        for into, work in ((units, count), (costs, measure)):
            time.sleep(pause)
            into.append(_processor_time(work))
    return median(costs), median(units)


def _processor_time(work: Callable[[], None]) -> float:
    start = time.thread_time()
    work()
    return time.thread_time() - start


def _against_ffmpeg(frame: Frame) -> Row:
    """How many times the processor time of one measurement FFmpeg's signalstats takes."""
    picture = av.VideoFrame(frame.format.width, frame.format.height, frame.format.layout)
    for plane, target in zip(frame.planes, picture.planes, strict=True):
        target.update(plane.tobytes())
    graph = av.filter.Graph()
    graph.threads = 1
    source = graph.add_buffer(
        width=picture.width, height=picture.height, format=picture.format, time_base=Fraction(1, 25)
    )
    stats, sink = graph.add("signalstats"), graph.add("buffersink")
    source.link_to(stats)
    stats.link_to(sink)
    graph.configure()
    meter = Meter()
    meter.measure(frame, None, frame.instant)
    ours, theirs = [], []
    for number in range(12):
        picture.pts = number
        start = time.process_time()
        graph.push(picture)
        graph.pull()
        theirs.append(time.process_time() - start)
        start = time.process_time()
        meter.measure(frame, None, frame.instant)
        ours.append(time.process_time() - start)
    name = f"{frame.format.layout}: FFmpeg signalstats ({median(theirs) * 1e3:.1f} ms) against one measurement"
    return Row(section="against FFmpeg", name=name, value=median(theirs) / median(ours), unit="times", least=5.0)


def _live(name: str, frame: Frame, rate: float, most: float) -> Row:
    """Share of one core that measuring takes at this frame rate, sleeping in between."""
    meter = Meter()
    meter.measure(frame, None, frame.instant)
    begin, spent = time.monotonic(), time.thread_time()
    frames, late = int(LIVE_SECONDS * rate), 0
    for number in range(1, frames + 1):
        meter.measure(frame, None, frame.instant)
        wait = begin + number / rate - time.monotonic()
        late += wait < 0
        time.sleep(max(0.0, wait))
    share = (time.thread_time() - spent) / (time.monotonic() - begin)
    label = f"{name}, {frames} frames, {late} late"
    return Row(section="live, measuring only", name=label, value=100.0 * share, unit="% of a core", most=most)
