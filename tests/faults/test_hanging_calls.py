"""Calls that never return: real threads fall asleep in them, on a clock that the test moves."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator

import pytest

from analysis.feed.faulty import Fault, FaultySource
from analysis.feed.pool import FramePool
from analysis.feed.supervisor import Supervisor
from analysis.model.feed import SourceKind
from tests.support.fake_clock import FakeClock
from tests.support.pictures import TinySource

ALERT = 10.0
"""Seconds of real time a test is willing to wait for another thread."""


class _Paced(TinySource):
    """Waits a real millisecond a frame, so that an unbounded source does not fill a core."""

    def read(self):
        time.sleep(0.001)
        return super().read()


class _Deaf(FaultySource):
    """Goes on hanging when it is closed, as a driver may."""

    def close(self) -> None:
        self._inner.close()


class _Rig:
    def __init__(self, *faults: Fault, kind: SourceKind = "camera", deaf: bool = False) -> None:
        self.clock, self.pool = FakeClock(), FramePool()
        self.faults, self.kind, self.deaf = faults, kind, deaf
        self.sources: list[FaultySource] = []
        self.events = []
        self.feed = Supervisor(self._make, self.pool, self.clock, address="tiny:noise", kind=kind)

    def _make(self) -> FaultySource:
        inner = _Paced(self.clock, kind=self.kind)
        made = (_Deaf if self.deaf else FaultySource)(inner, self.faults, "tiny:noise", self.clock)
        self.sources.append(made)
        return made

    def wait_hanging(self, number: int) -> FaultySource:
        until(lambda: len(self.sources) > number)
        assert self.sources[number].hanging.wait(ALERT)
        return self.sources[number]

    def pass_time(self, seconds: float, stop: Callable[[], bool] = lambda: False) -> float:
        passed = 0.0
        while passed < seconds and not stop():
            self.clock.advance(0.05)
            passed += 0.05
            self.feed.tick()
            self.events += self.feed.events()
        return passed

    def state(self) -> str:
        return self.feed.status().state

    def readers(self) -> int:
        return sum(thread.name.startswith("feed-reader") for thread in threading.enumerate())


def until(true: Callable[[], bool]) -> None:
    end = time.monotonic() + ALERT
    while not true():
        assert time.monotonic() < end, "it never came to pass"
        time.sleep(0.002)


@pytest.fixture
def rigs() -> Iterator[list[_Rig]]:
    made: list[_Rig] = []
    yield made
    for rig in made:
        for source in rig.sources:
            source.release.set()
        rig.feed.stop()
        for source in rig.sources:
            source.release.set()
    until(lambda: not any(thread.name.startswith("feed-") for thread in threading.enumerate()))


@pytest.mark.parametrize(("kind", "limit"), [("camera", 1.0), ("hdmi", 1.0), ("network", 3.0)])
def test_a_read_that_never_returns_is_lost_in_time(rigs: list[_Rig], kind: SourceKind, limit: float) -> None:
    rig = _Rig(Fault(name="hang", at=30), kind=kind)
    rigs.append(rig)
    rig.feed.start()
    rig.wait_hanging(0)
    passed = rig.pass_time(60.0, lambda: rig.state() == "lost")
    assert passed <= limit + 0.15  # the limit, and three ticks of the watch
    assert rig.feed.validity() is None


def test_at_most_one_reader_is_left_behind(rigs: list[_Rig]) -> None:
    rig = _Rig(Fault(name="hang", at=5), deaf=True)
    rigs.append(rig)
    rig.feed.start()
    rig.wait_hanging(0)
    rig.pass_time(3.0)
    rig.wait_hanging(1)
    rig.pass_time(600.0)
    assert rig.readers() == 2  # the one left behind and the one that is waited for
    assert len(rig.sources) == 2
    assert rig.state() == "lost" and rig.feed.status().trouble
    rig.sources[0].release.set()
    until(lambda: rig.readers() == 1)
    rig.pass_time(6.0)
    rig.wait_hanging(2)
    assert rig.readers() <= 2


@pytest.mark.parametrize("fault", ["hang", "hang-open"])
def test_stopping_takes_under_three_seconds_whatever_hangs(rigs: list[_Rig], fault: str) -> None:
    rig = _Rig(Fault(name=fault, at=0), deaf=True)  # type: ignore[arg-type]
    rigs.append(rig)
    rig.clock.wait = lambda event, seconds: event.wait(seconds)  # type: ignore[method-assign]
    rig.feed.start()
    rig.wait_hanging(0)
    began = time.monotonic()
    assert rig.feed.stop(timeout=0.2) is False
    assert time.monotonic() - began < 3.0
    assert rig.state() == "closed"


def test_an_open_that_never_returns_shows_opening_and_is_tried_again(rigs: list[_Rig]) -> None:
    rig = _Rig(Fault(name="hang-open"))
    rigs.append(rig)
    rig.feed.start()
    rig.wait_hanging(0)
    assert rig.state() == "opening"
    # Everything the screen calls returns while the source hangs.
    for call in (rig.feed.tick, rig.feed.events, rig.feed.status, rig.feed.validity, rig.feed.slot.take):
        began = time.monotonic()
        call()
        assert time.monotonic() - began < 2.0
    rig.pass_time(5.2)
    assert [event.after for event in rig.events].count("lost") == 1
    assert "did not open within 5 s" in (rig.feed.status().trouble or "")
    rig.pass_time(1.0)
    rig.wait_hanging(1)
    assert rig.feed.status().attempts == 2


def test_a_source_that_opens_and_stays_silent_is_lost_too(rigs: list[_Rig]) -> None:
    rig = _Rig(Fault(name="hang", at=0))
    rigs.append(rig)
    rig.feed.start()
    rig.wait_hanging(0)
    rig.pass_time(4.9)
    assert rig.state() == "opening"
    rig.pass_time(0.3)
    assert rig.state() == "lost" and "no picture within 5 s" in rig.feed.status().evidence


def test_an_old_reader_that_delivers_after_the_reconnection_is_not_believed(rigs: list[_Rig]) -> None:
    rig = _Rig(Fault(name="hang", at=20, count=1), deaf=True)
    rigs.append(rig)
    rig.feed.start()
    old = rig.wait_hanging(0)
    rig.pass_time(2.0)
    rig.wait_hanging(1)  # the second life works up to the same frame
    before = rig.feed.status()
    assert before.generation == 2 and before.discarded == 0
    frame = rig.feed.slot.take()
    assert frame is not None and frame.generation == 2
    old.release.set()
    until(lambda: rig.feed.status().discarded == 1)
    assert rig.feed.slot.take() is None
    assert rig.feed.status().arrived == before.arrived


def test_a_pipe_that_stalls_is_lost_but_waited_for(rigs: list[_Rig]) -> None:
    rig = _Rig(Fault(name="hang", at=10, count=1), kind="pipe", deaf=True)
    rigs.append(rig)
    rig.feed.start()
    source = rig.wait_hanging(0)
    rig.pass_time(60.0)
    assert rig.state() == "lost" and len(rig.sources) == 1
    source.release.set()
    until(lambda: rig.state() == "live")
    assert rig.feed.status().generation == 1 and rig.feed.status().trouble is None


def test_restart_begins_a_new_life(rigs: list[_Rig]) -> None:
    rig = _Rig(Fault(name="hang", at=10))
    rigs.append(rig)
    rig.feed.start()
    rig.wait_hanging(0)
    rig.feed.restart()
    rig.wait_hanging(1)
    assert rig.feed.status().generation == 2
