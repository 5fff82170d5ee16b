"""A supervisor whose readers are stepped by hand on a fake clock: ten minutes of feed in a second."""

from __future__ import annotations

from collections.abc import Callable

from analysis.feed.faulty import Fault, FaultySource
from analysis.feed.limits import FeedLimits
from analysis.feed.pool import FramePool
from analysis.feed.reader import Reader
from analysis.feed.slate import SlateBook
from analysis.feed.source import Source
from analysis.feed.supervisor import Supervisor
from analysis.model.feed import FeedEvent, SourceKind
from analysis.model.frame import Frame
from analysis.model.reading import Validity
from tests.support.fake_clock import FakeClock
from tests.support.pictures import TinySource


class FeedRig:
    """Steps one feed: each frame interval moves the clock, lets the readers read once, ticks, and takes.

    ``taken`` holds each frame the watch would have measured with the validity it had then,
    ``troubles`` when each trouble began and how it was told.
    """

    def __init__(
        self,
        *faults: Fault,
        kind: SourceKind = "camera",
        rate: float = 30.0,
        make: Callable[[FakeClock], Source] | None = None,
        limits: FeedLimits | None = None,
        slates: SlateBook | None = None,
    ) -> None:
        self.clock, self.pool = FakeClock(), FramePool()
        self.interval = 1.0 / rate
        self.readers: list[Reader] = []
        self.sources: list[Source] = []
        self.events: list[FeedEvent] = []
        self.taken: list[tuple[Frame, Validity | None]] = []
        self.troubles: list[tuple[float, str]] = []
        self._trouble_since: float | None = None
        self._faults, self._kind, self._inner = faults, kind, make
        self.feed = Supervisor(
            self._make,
            self.pool,
            self.clock,
            address="tiny:noise",
            kind=kind,
            limits=limits,
            slates=slates,
            launch=self.readers.append,
            launch_close=Reader.close_source,
        )
        self.feed.start()

    def _make(self) -> Source:
        inner = self._inner(self.clock) if self._inner else TinySource(self.clock, kind=self._kind)
        source = FaultySource(inner, self._faults, "tiny:noise", self.clock) if self._faults else inner
        self.sources.append(source)
        return source

    def run(self, seconds: float, read: bool = True) -> None:
        """Let time pass; with ``read`` False the source stays silent."""
        for _ in range(round(seconds / self.interval)):
            self.clock.advance(self.interval)
            if read:
                self.read()
            self.look()

    def read(self) -> None:
        """Every reader opens (and then reads) or reads once."""
        for reader in list(self.readers):
            opening = reader.phase[0] == "opening"
            if not reader.step() or (opening and not reader.step()):
                self.readers.remove(reader)

    def look(self) -> None:
        """What the watch does 20 times a second: tick, collect the events, take the newest frame."""
        self.feed.tick()
        self.events += self.feed.events()
        status = self.feed.status()
        since = status.trouble_since.monotonic if status.trouble_since else None
        if since is not None and since != self._trouble_since:
            self.troubles.append((since, status.trouble or ""))
        self._trouble_since = since
        frame = self.feed.slot.take()
        if frame is not None:
            self.taken.append((frame, self.feed.validity()))
            self.feed.slot.done(frame)

    def states(self) -> list[str]:
        return [event.after for event in self.events]

    def at(self, state: str, nth: int = 0) -> float:
        """Monotonic time of the nth change into a state."""
        return [event.at.monotonic for event in self.events if event.after == state][nth]
