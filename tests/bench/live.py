"""The whole watch running live: processor share, frames left unmeasured, light to alarm, memory, start.

The pictures are painted beforehand and copied into a pool buffer for each frame, which is what
reading a capture device costs; everything after that is the product: supervisor, meter,
alarms, snapshot.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path

import msgspec
import numpy as np

from analysis.alarm.defaults import DEFAULT_RULES
from analysis.feed.clock import SystemClock
from analysis.feed.pool import FramePool
from analysis.feed.supervisor import Supervisor
from analysis.measure.examiner import Examiner
from analysis.model.alarm import AlarmChange
from analysis.model.feed import FeedEvent, SourceKind
from analysis.model.frame import Encoding, FrameFormat, Picture
from analysis.output.outlet import open_outlet
from analysis.watch import Watch
from tests.bench.row import Row

SECONDS = 8.0
_PROGRAM = [sys.executable, "-m", "tui.cli.main"]


class PaintedCamera:
    """A camera of painted frames, paced like a device; ``clip`` makes the next frames clip."""

    kind: SourceKind = "camera"
    address = "painted"
    approximate = False

    def __init__(self, pool: FramePool, width: int, height: int, rate: float) -> None:
        dice = np.random.default_rng(1)
        base = np.linspace(20, 210, width * 2)[None, :] + dice.normal(0, 3, (height, width * 2))
        base[:, 1::2] = 128 + dice.normal(0, 4, (height, width))
        self._frames = [np.roll(base.astype(np.uint8), 2 * n, axis=0) for n in range(4)]
        self._white = np.full((height, width * 2), 250, np.uint8)
        self._white[:, 1::2] = 128
        self._pool, self._interval, self._count = pool, 1.0 / rate, 0
        encoding = Encoding(bits=8, range="narrow", matrix="bt709")
        self._format = FrameFormat(layout="yuyv422", width=width, height=height, rate=rate, encoding=encoding)
        self._due = 0.0
        self.clip = threading.Event()

    def open(self) -> None:
        self._due = time.monotonic()

    def read(self) -> Picture:
        self._due += self._interval
        time.sleep(max(0.0, self._due - time.monotonic()))
        source = self._white if self.clip.is_set() else self._frames[self._count % 4]
        plane = self._pool.take(source.shape, np.uint8)
        np.copyto(plane, source)
        self._count += 1
        return Picture(
            planes=(plane,), format=self._format, source_sequence=self._count, source_seconds=time.monotonic()
        )

    def close(self) -> None:
        pass


class Changes:
    """Notes when each alarm changed."""

    def __init__(self) -> None:
        self.seen: list[tuple[float, str]] = []

    def alarm_changed(self, change: AlarmChange) -> None:
        self.seen.append((time.monotonic(), change.after))

    def feed_changed(self, event: FeedEvent) -> None:
        pass


def _watch(width: int, height: int, rate: float, *, hasty: bool = False) -> tuple[Watch, PaintedCamera, Changes]:
    pool, clock, changes = FramePool(), SystemClock(), Changes()
    camera = PaintedCamera(pool, width, height, rate)
    supervisor = Supervisor(lambda: camera, pool, clock, address="painted", kind="camera")
    rules = DEFAULT_RULES
    if hasty:
        rules = tuple(
            msgspec.structs.replace(rule, on_delay=0.0, off_delay=0.0, often=0)
            for rule in rules
            if rule.kind == "highlights"
        )
    watch = Watch(supervisor, Examiner(), rules, open_outlet("off", {}), clock, (changes,))
    return watch, camera, changes


def _live(width: int, height: int, rate: float, share: float) -> list[Row]:
    name = f"{width}x{height} at {rate:g}"
    watch, _, _ = _watch(width, height, rate)
    watch.start()
    time.sleep(1.0)
    began, cpu, measured = time.monotonic(), time.process_time(), watch.measured
    arrived = watch.snapshot().feed.arrived
    while time.monotonic() - began < SECONDS:
        time.sleep(0.125)
        watch.snapshot()
    wall = time.monotonic() - began
    used = (time.process_time() - cpu) / wall
    snapshot = watch.snapshot()
    done, came = watch.measured - measured, snapshot.feed.arrived - arrived
    watch.close()
    return [
        Row(section="live", name=f"{name}, 8 bit 4:2:2: share of one core", value=used, unit="cores", most=share),
        Row(section="live", name=f"{name}: frames a second measured", value=done / wall, unit="fps"),
        Row(
            section="live", name=f"{name}: frames left unmeasured", value=max(0, came - done - 1), unit="frames", most=0
        ),
    ]


def _until(condition: Callable[[], bool], seconds: float = 5.0) -> bool:
    deadline = time.monotonic() + seconds
    while not condition() and time.monotonic() < deadline:
        time.sleep(0.001)
    return condition()


def _light_to_alarm(times: int = 20, rate: float = 50.0) -> Row:
    watch, camera, changes = _watch(1280, 720, rate, hasty=True)
    watch.start()
    time.sleep(1.0)
    delays = []
    for turn in range(times):
        time.sleep(0.25 + 0.003 * turn)
        began, known = time.monotonic(), len(changes.seen)
        camera.clip.set()
        if not _until(lambda known=known: len(changes.seen) > known):
            raise RuntimeError("the alarm did not rise")
        delays.append((changes.seen[known][0] - began) * rate)
        camera.clip.clear()
        if not _until(lambda known=known: len(changes.seen) > known + 1):
            raise RuntimeError("the alarm did not end")
    watch.close()
    name = "light to alarm beyond its delay, 95th percentile of 20"
    return Row(section="live", name=name, value=float(np.percentile(delays, 95)), unit="frames", most=2.0)


def _start_seconds() -> float:
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as home:
        subprocess.run(
            [*_PROGRAM, "read", "scene:boathouse", "--frames", "1"],
            stdout=subprocess.DEVNULL, env={**os.environ, "HOME": home}, check=True,
        )  # fmt: skip
    return time.monotonic() - began


def _resident(pid: int) -> float:
    pages = int(Path(f"/proc/{pid}/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def _memory() -> list[Row]:
    """Resident megabytes of a running watch, and how they grew between the 40th and the 70th second."""
    with tempfile.TemporaryDirectory() as home:
        child = subprocess.Popen(
            [*_PROGRAM, "watch", "scene:boathouse", "--plain", "--sound", "off"],
            stdout=subprocess.DEVNULL, env={**os.environ, "HOME": home},
        )  # fmt: skip
        time.sleep(40)
        early = _resident(child.pid)
        time.sleep(30)
        late = _resident(child.pid)
        child.terminate()
        child.wait(10)
    return [
        Row(section="live", name="memory of a watch on the 720p scene", value=late, unit="MB", most=250),
        Row(section="live", name="growth of it within 30 s", value=late - early, unit="MB"),
    ]


def run() -> list[Row]:
    """The rows of this section."""
    rows = _live(1920, 1080, 60.0, 0.5) + _live(3840, 2160, 30.0, 1.0)
    rows.append(_light_to_alarm())
    start = min(_start_seconds() for _ in range(3))
    rows.append(Row(section="live", name="command to first reading, rendered scene", value=start, unit="s", most=1.5))
    return rows + _memory()
