"""The source vanishes, comes back, and does so a thousand times."""

from __future__ import annotations

import itertools
import os
import threading
from pathlib import Path

from analysis.feed.faulty import Fault, FaultySource
from analysis.feed.pool import FramePool
from analysis.feed.reader import Reader
from analysis.feed.supervisor import Supervisor
from analysis.model.errors import FeedEnded, FeedGone, FeedRefused, UsageError
from tests.support.fake_clock import FakeClock
from tests.support.feed_rig import FeedRig
from tests.support.pictures import TinySource


def test_a_vanished_device_is_lost_at_once_blank_at_once_and_told_once() -> None:
    rig = FeedRig(Fault(name="vanish", at=300))
    rig.run(10.4)
    vanished = rig.at("opening") + 301 * rig.interval
    assert rig.at("lost") - vanished <= 0.2
    assert rig.feed.validity() is None
    last = rig.taken[-1][0]
    assert last.instant.monotonic - vanished <= 0.5
    assert rig.states().count("lost") == 1
    assert len(rig.troubles) == 1 and rig.troubles[0][1] == "the device is gone"
    assert rig.feed.slot.take() is None


def test_it_comes_back_by_itself_with_a_new_generation_and_primes_again() -> None:
    rig = FeedRig(Fault(name="vanish", at=300))
    rig.run(15)
    assert rig.states() == ["opening", "priming", "live", "lost", "opening", "priming", "live"]
    assert rig.feed.status().generation == 2
    assert rig.feed.status().trouble is None and rig.feed.failure is None
    sequences = [frame.sequence for frame, _ in rig.taken]
    assert sequences == sorted(set(sequences))
    back = [validity for frame, validity in rig.taken if frame.generation == 2]
    assert back[:4] == ["priming"] * 4 and set(back[4:]) == {"good"}


def test_a_device_that_stays_away_is_one_trouble_however_often_it_is_tried() -> None:
    class Absent(TinySource):
        def open(self) -> None:
            if clock_ref[0].now().monotonic > 1010:
                raise FeedGone("the device is gone", self.address, "plug it in")

    clock_ref: list[FakeClock] = []

    def make(clock: FakeClock) -> TinySource:
        clock_ref[:] = [clock]
        return Absent(clock, length=200) if clock.now().monotonic > 1010 else _dying(clock)

    rig = FeedRig(make=make)
    rig.run(200)
    assert rig.states().count("lost") == 1
    assert len(rig.troubles) == 1
    status = rig.feed.status()
    assert status.state in {"waiting", "opening"} and status.trouble
    assert status.attempts > 30
    assert isinstance(rig.feed.failure, FeedGone)


def _dying(clock: FakeClock) -> FaultySource:
    return FaultySource(TinySource(clock), (Fault(name="vanish", at=330),), "tiny:noise", clock)


def test_attempts_are_paced_half_a_second_then_five() -> None:
    class Absent(TinySource):
        def open(self) -> None:
            opened.append(rig_clock[0].now().monotonic)
            raise FeedGone("the device is gone", self.address, "plug it in")

    opened: list[float] = []
    rig_clock: list[FakeClock] = []

    def make(clock: FakeClock) -> TinySource:
        rig_clock[:] = [clock]
        return Absent(clock)

    rig = FeedRig(make=make)
    rig.run(120)
    gaps = [after - before for before, after in itertools.pairwise(opened)]
    assert min(gaps) >= 0.5
    assert all(gap < 0.7 for gap in gaps[:9])
    assert all(5.0 <= gap < 5.2 for gap in gaps[11:])
    assert rig.states().count("lost") == 1


def test_a_file_or_a_wrong_call_is_not_tried_again() -> None:
    class Never(TinySource):
        def open(self) -> None:
            raise error

    for error, kind in (
        (FeedGone("there is no such file", "x"), "file"),
        (FeedRefused("permission denied", "x"), "file"),
        (UsageError("unknown scene", "x"), "scene"),
    ):
        rig = FeedRig(make=lambda clock, kind=kind: Never(clock, kind=kind), kind=kind)
        rig.run(20)
        assert rig.feed.gave_up and rig.feed.failure is error
        assert rig.feed.status().attempts == 1
        assert rig.feed.status().state == "lost"


def test_a_refused_camera_is_tried_again_because_rights_can_be_given() -> None:
    class Refused(TinySource):
        def open(self) -> None:
            raise FeedRefused("permission denied", self.address, "join the group video")

    rig = FeedRig(make=Refused)
    rig.run(20)
    assert not rig.feed.gave_up and isinstance(rig.feed.failure, FeedRefused)
    assert rig.feed.status().attempts > 5


def test_a_regular_end_is_no_trouble() -> None:
    rig = FeedRig(make=lambda clock: TinySource(clock, kind="file", length=50), kind="file")
    rig.run(30)
    status = rig.feed.status()
    assert status.state == "ended" and status.trouble is None
    assert rig.feed.gave_up and rig.feed.failure is None
    assert len(rig.taken) == 50 and not rig.troubles


class _ThreadedCycles:
    """A feed that drops after a few frames, with a real thread for every life."""

    def __init__(self) -> None:
        self.clock = FakeClock()
        self.threads: list[threading.Thread] = []
        self.starts: list[float] = []
        self.changes = 0
        self.feed = Supervisor(
            self._make, FramePool(), self.clock, address="tiny:noise", kind="camera", launch=self._launch
        )
        self.feed.start()

    def _make(self) -> FaultySource:
        return FaultySource(TinySource(self.clock), (Fault(name="vanish", at=3),), "tiny:noise", self.clock)

    def _launch(self, reader: Reader) -> None:
        self.starts.append(self.clock.now().monotonic)
        self.threads.append(threading.Thread(target=reader.run, daemon=True))
        self.threads[-1].start()

    def run(self, cycles: int) -> None:
        goal = len(self.starts) + cycles
        while len(self.starts) < goal:
            while self.threads:
                self.threads.pop().join(10)
            self.clock.advance(0.25)
            self.feed.tick()
            self.changes += len(self.feed.events())
            frame = self.feed.slot.take()
            if frame is not None:
                self.feed.slot.done(frame)


def _resident() -> float:
    return int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6


def _files() -> int:
    return sum(1 for _ in Path("/proc/self/fd").iterdir())


def test_a_thousand_drops_leave_nothing_behind() -> None:
    cycles = _ThreadedCycles()
    cycles.run(100)
    memory, files, threads = _resident(), _files(), threading.active_count()
    cycles.run(1000)
    assert _resident() - memory <= 10.0
    assert _files() - files <= 2
    assert threading.active_count() - threads <= 2
    gaps = [after - before for before, after in itertools.pairwise(cycles.starts)]
    assert min(gaps) >= 0.5 and all(gap >= 5.0 for gap in gaps[11:])
    # opening, priming, lost: one entry for each change and not one more.
    assert cycles.changes <= 3 * len(cycles.starts)
    assert cycles.feed.stop()


def test_the_end_of_a_pipe_is_not_opened_again() -> None:
    class Ending(TinySource):
        def open(self) -> None:
            raise FeedEnded("finished", self.address)

    rig = FeedRig(make=lambda clock: Ending(clock, kind="pipe"), kind="pipe")
    rig.run(10)
    assert rig.feed.status().state == "ended" and rig.feed.status().attempts == 1
