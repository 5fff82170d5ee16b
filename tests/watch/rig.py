"""A whole watch stepped by hand on a fake clock: real supervisor, real meter, real alarms, real outlet."""

from __future__ import annotations

from collections.abc import Callable

from analysis.alarm.defaults import DEFAULT_RULES
from analysis.feed.faulty import Fault
from analysis.feed.source import Source
from analysis.measure.examiner import Examiner
from analysis.model.alarm import AlarmChange, Announcement, SavedAlarms
from analysis.model.feed import FeedEvent
from analysis.model.frame import FrameFormat, Picture
from analysis.model.instant import Instant
from analysis.model.snapshot import Snapshot
from analysis.output.outlet import Outlet, open_outlet
from analysis.watch import Desks, Watch
from tests.support.fake_clock import FakeClock
from tests.support.feed_rig import FeedRig
from tests.support.pictures import TinySource

Paint = Callable[[int, FrameFormat], Picture]


class Heard:
    """An outlet that is the real one set to the bell, and remembers what it was told."""

    def __init__(self) -> None:
        self.outlet: Outlet = open_outlet("bell", {})
        self.told: list[tuple[float, str, int]] = []

    @property
    def bells(self) -> int:
        return self.outlet.bells

    def announce(self, announcement: Announcement, now: Instant) -> None:
        self.told.append((now.monotonic, announcement.alarm, announcement.occurrence))
        self.outlet.announce(announcement, now)

    def __getattr__(self, name: str) -> object:
        return getattr(self.outlet, name)


class Notes:
    """A recorder that keeps everything."""

    def __init__(self) -> None:
        self.alarms: list[AlarmChange] = []
        self.feed: list[FeedEvent] = []

    def alarm_changed(self, change: AlarmChange) -> None:
        self.alarms.append(change)

    def feed_changed(self, event: FeedEvent) -> None:
        self.feed.append(event)


class WatchRig:
    """Plays a feed into a watch, frame interval by frame interval."""

    def __init__(
        self,
        *faults: Fault,
        paint: Paint | None = None,
        rate: float = 25.0,
        desks: Desks | None = None,
        room: Callable[[], float | None] | None = None,
        saved: SavedAlarms | None = None,
        make: Callable[[FakeClock], Source] | None = None,
        **more: object,
    ) -> None:
        def painted(clock: FakeClock) -> TinySource:
            return TinySource(clock, paint=paint)

        self.feed = FeedRig(*faults, rate=rate, make=make or painted, **more)  # type: ignore[arg-type]
        self.clock = self.feed.clock
        self.heard, self.notes = Heard(), Notes()
        self.watch = Watch(
            self.feed.feed,
            Examiner(),
            DEFAULT_RULES,
            self.heard,  # type: ignore[arg-type]
            self.clock,
            (self.notes,),
            desks,
            room=room,
            saved=saved,
        )
        self.began = self.clock.now().monotonic

    def play(self, seconds: float, read: bool = True) -> Snapshot:
        for _ in range(round(seconds / self.feed.interval)):
            self.clock.advance(self.feed.interval)
            if read:
                self.feed.read()
            self.watch.turn()
        return self.watch.snapshot()

    def past(self) -> float:
        return self.clock.now().monotonic - self.began
