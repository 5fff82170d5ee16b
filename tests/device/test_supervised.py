"""A whole feed on a real camera: the supervisor brings it back to life by itself, and the program reads it."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from analysis.feed.clock import SystemClock
from analysis.feed.pool import FramePool
from analysis.feed.source import FeedOptions
from analysis.feed.supervisor import Supervisor
from analysis.feed.v4l2.device import Device
from analysis.feed.v4l2.identity import Memory, sightings
from analysis.feed.v4l2.source import V4L2Source
from analysis.model.frame import Frame
from tests.device import vivid

MOVING = "osd_text_mode=0,horizontal_movement=5"
STILL = "osd_text_mode=2,horizontal_movement=3"


class Watched:
    """A supervised feed with its last frame, driven as the watch drives it."""

    def __init__(self, **asked: int) -> None:
        self.pool, memory = FramePool(), Memory()
        self.supervisor = Supervisor(
            lambda: V4L2Source(vivid.CAMERA, FeedOptions(**asked), self.pool, memory),
            self.pool,
            SystemClock(),
            address=vivid.CAMERA,
            kind="camera",
        )
        self.frame: Frame | None = None
        self.supervisor.start()

    @property
    def state(self) -> str:
        return self.supervisor.status().state

    def until(self, reached: Callable[[], bool], seconds: float = 30.0) -> float:
        """Tick until something holds; returns how long that took."""
        begun = time.monotonic()
        while time.monotonic() - begun < seconds:
            self.supervisor.tick()
            frame = self.supervisor.slot.take()
            self.frame = frame if frame is not None else self.frame
            if reached():
                return time.monotonic() - begun
            time.sleep(0.02)
        raise AssertionError(f"not reached: {self.supervisor.status()}")


@pytest.fixture
def watched() -> Iterator[Watched]:
    vivid.control(MOVING)
    made = Watched(width=320, height=180)
    made.until(lambda: made.state == "live")
    yield made
    assert made.supervisor.stop(10.0), "a reader was left hanging"
    vivid.put_right()
    vivid.control(STILL)


def test_unplug_and_return_to_life(watched: Watched) -> None:
    before = watched.supervisor.status()
    assert before.kind == "camera" and before.format is not None and before.format.rate
    vivid.unplug()
    watched.until(lambda: watched.state in {"lost", "waiting", "opening"})
    assert watched.supervisor.validity() is None, "no number is shown for a camera that is gone"
    watched.until(lambda: "is gone" in watched.supervisor.status().evidence)
    vivid.plug()
    vivid.control(MOVING)
    watched.until(lambda: watched.state == "live")
    watched.until(lambda: watched.frame is not None and watched.frame.generation > before.generation)
    states = [event.after for event in watched.supervisor.events()]
    assert "lost" in states and states[-1] == "live"


def test_return_under_another_number(watched: Watched) -> None:
    holder = Device(vivid.CAMERA)
    try:
        vivid.unplug()
        watched.until(lambda: watched.state in {"lost", "waiting", "opening"})
        vivid.plug()
        here = sightings().get(vivid.CAMERA)
        assert here is None or here.name != "vivid-000-vid-cap", "the number is not the camera's any more"
        watched.until(lambda: watched.state in {"live", "still"})
    finally:
        holder.close()


def test_a_silent_camera_is_lost_and_comes_back(watched: Watched) -> None:
    vivid.control("percentage_of_dropped_buffers=100")
    watched.until(lambda: watched.state in {"lost", "waiting"})
    vivid.control("percentage_of_dropped_buffers=0")
    watched.until(lambda: watched.state == "live")


def test_lost_pictures_are_counted(watched: Watched) -> None:
    vivid.control("percentage_of_dropped_buffers=30")
    watched.until(lambda: watched.supervisor.status().missing >= 5)
    assert watched.state in {"live", "priming", "late"}


def test_a_lost_hdmi_signal_is_told_and_comes_back() -> None:
    vivid.choose_input(vivid.HDMI)
    vivid.control(f"dv_timings_signal_mode=0,{MOVING}")
    made = Watched()
    try:
        made.until(lambda: made.state == "live")
        assert made.supervisor.status().kind == "hdmi"
        vivid.control("dv_timings_signal_mode=1")
        made.until(lambda: "no signal" in (made.supervisor.status().trouble or ""))
        assert made.supervisor.validity() is None
        vivid.control("dv_timings_signal_mode=0")
        made.until(lambda: made.state == "live")
        assert made.supervisor.status().trouble is None
        vivid.control("dv_timings_signal_mode=4,dv_timings=4")
        made.until(lambda: made.frame is not None and made.frame.format.width == 720)
        assert "reshaped" in [event.after for event in made.supervisor.events()]
    finally:
        assert made.supervisor.stop(10.0)
        vivid.control(f"dv_timings_signal_mode=0,{STILL}")


def program(*arguments: str) -> subprocess.CompletedProcess[str]:
    command = [str(Path(sys.executable).with_name("stopkeeper")), *arguments]
    return subprocess.run(command, capture_output=True, text=True, timeout=120)


def test_the_program_reads_a_camera() -> None:
    """White is 100 percent and nothing is crushed: from the driver's codes to the printed line."""
    vivid.control(f"test_pattern={vivid.WHITE},quantization=2")
    done = program("read", vivid.CAMERA, "--json", "--frames", "2")
    assert done.returncode == 0, done.stderr
    readings = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(readings) == 2
    for reading in readings:
        assert reading["luma"]["p50"] == pytest.approx(100.0, abs=1.0)  # two codes of 219 are 0.9 percent
        assert reading["encoding"]["range"] == "narrow" and reading["encoding"]["bits"] == 8
        assert reading["crushed"]["any"] == 0


def test_the_program_lists_cameras() -> None:
    done = program("feeds")
    assert done.returncode == 0, done.stderr
    assert "/dev/video0" in done.stdout and "yuyv422" in done.stdout and "320x180" in done.stdout


def test_the_program_says_that_a_camera_is_taken(feed) -> None:
    feed().read()
    done = program("read", vivid.CAMERA, "--frames", "1")
    assert done.returncode == 1 and done.stdout == ""
    assert done.stderr.count("\n") == 1 and "in use by another program" in done.stderr
