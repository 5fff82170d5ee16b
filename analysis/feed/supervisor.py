"""One feed kept alive: deadlines from outside, states from evidence, attempts with pauses, for ever."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable

import msgspec

from analysis.feed.clock import Clock
from analysis.feed.evidence import (
    Arrived,
    Damaged,
    Ended,
    Evidence,
    Failed,
    Opening,
    Stopped,
    Tick,
    Unconnected,
    Waiting,
)
from analysis.feed.limits import FeedLimits, limits_for
from analysis.feed.pool import FramePool
from analysis.feed.reader import Reader, launch_closer, launch_thread
from analysis.feed.slate import SlateBook
from analysis.feed.slot import LatestSlot
from analysis.feed.source import FeedOptions, Source
from analysis.feed.states import FeedMachine, age, lost_after, step, validity_now
from analysis.model.errors import FeedEnded, FeedError, FeedSilent, StopkeeperError
from analysis.model.feed import FeedEvent, FeedStatus, SourceKind
from analysis.model.frame import Frame, Picture
from analysis.model.instant import Instant
from analysis.model.reading import Validity

_KEPT_EVENTS = 1000
_STEADY_SECONDS = 10.0
"""A feed that lived this long counts as recovered: its next outage begins with quick attempts again."""
_ONLY_DAMAGE_SECONDS = 20.0
"""How long nothing but damaged frames is borne before opening again: a coded stream may wait for a key frame."""


class Supervisor:
    """Drives one source after another behind one feed, and never waits for any of them.

    ``make`` makes a new source for each attempt; ``address`` is the masked one. ``limits`` of
    None follow the kind of source, as the opened source names it, and the deadlines asked for in
    ``options``. ``tick`` is called about
    20 times a second by the watch and must not be called by two threads at once. Frames come
    out of ``slot``; everything else is a frozen value.

    A reader whose call does not return is abandoned: what it brings later is discarded and
    counted. At most one abandoned reader is alive at a time; while it is, the next reader that
    hangs is waited for.
    """

    def __init__(
        self,
        make: Callable[[], Source],
        pool: FramePool,
        clock: Clock,
        *,
        address: str,
        kind: SourceKind,
        limits: FeedLimits | None = None,
        options: FeedOptions | None = None,
        slates: SlateBook | None = None,
        launch: Callable[[Reader], None] = launch_thread,
        launch_close: Callable[[Reader], None] = launch_closer,
    ) -> None:
        self.slot = LatestSlot(pool)
        self.slates = slates if slates is not None else SlateBook()
        self._make, self._pool, self._clock = make, pool, clock
        self._launch, self._launch_close = launch, launch_close
        self._address, self._kind, self._asked_limits = address, kind, limits
        self._options = options
        self._lock = threading.RLock()
        self._machine = FeedMachine(limits=limits or limits_for(kind, options), since=clock.now())
        self._events: deque[FeedEvent] = deque(maxlen=_KEPT_EVENTS)
        self._arrivals: deque[float] = deque(maxlen=240)
        self._reader: Reader | None = None
        self._left: Reader | None = None
        self._due: Instant | None = None
        self._stopped, self._gave_up, self._had_picture = False, False, False
        self._failure: StopkeeperError | None = None
        self._generation = self._sequence = self._attempts = self._tries = 0
        self._arrived = self._damaged = self._unshown = self._missing = self._discarded = 0
        self._approximate = False
        self._last_number: int | None = None

    def start(self) -> None:
        """Begin the first attempt now."""
        with self._lock:
            self._stopped = False
            self._due = self._clock.now()
            self._begin_when_due(self._due)

    def tick(self) -> None:
        """Hold every deadline against the clock and begin the next attempt when it is due."""
        with self._lock:
            if self._stopped:
                return
            now = self._clock.now()
            self._feed(Tick(), now)
            self._hold_deadlines(now)
            self._begin_when_due(now)

    def restart(self) -> None:
        """Let go of the source and begin anew, as if just started."""
        with self._lock:
            now = self._clock.now()
            self._let_go()
            self._gave_up, self._failure, self._tries = False, None, 0
            self._machine = msgspec.structs.replace(self._machine, format=None, stale=None)
            self._feed(Stopped(), now)
            self._stopped, self._due = False, now
            self._begin_when_due(now)

    def stop(self, timeout: float = 2.0) -> bool:
        """Close the feed. Returns after ``timeout`` seconds at most; True when nothing was left hanging."""
        with self._lock:
            self._stopped, self._due = True, None
            readers = [reader for reader in (self._reader, self._left) if reader is not None]
            for reader in readers:
                reader.abandon()
            self._reader = None
            self._feed(Stopped(), self._clock.now())
            self.slot.clear()
        for reader in readers:
            self._launch_close(reader)
        clean = True
        for reader in readers:
            clean &= self._clock.wait(reader.finished, timeout / len(readers))
        return clean

    @property
    def failure(self) -> StopkeeperError | None:
        """What the running outage is due to; None while pictures come or after a regular end."""
        with self._lock:
            return self._failure

    @property
    def gave_up(self) -> bool:
        """Whether no further attempt will be made by itself."""
        with self._lock:
            return self._gave_up

    def events(self) -> tuple[FeedEvent, ...]:
        """The changes of state since the last call, oldest first; the oldest are lost beyond 1,000."""
        with self._lock:
            drained = tuple(self._events)
            self._events.clear()
            return drained

    def validity(self) -> Validity | None:
        """How far a reading of the newest frame may be used now; None when nothing may be shown."""
        with self._lock:
            return validity_now(self._machine)

    def status(self) -> FeedStatus:
        """How the feed is doing now."""
        with self._lock:
            now, machine = self._clock.now(), self._machine
            return FeedStatus(
                address=self._address,
                kind=self._kind,
                state=machine.state,
                evidence=machine.evidence,
                since=machine.since,
                generation=machine.generation,
                format=machine.format,
                age=age(machine, now),
                fps=self._fps(now),
                arrived=self._arrived,
                skipped=self._damaged + self._unshown + self.slot.replaced,
                missing=self._missing,
                discarded=self._discarded,
                attempts=self._attempts,
                approximate=self._approximate,
                trouble=machine.trouble,
                trouble_since=machine.trouble_since,
            )

    # Called by readers, each from its own thread.

    def opened(self, reader: Reader, source: Source) -> None:
        """A reader opened its source."""
        with self._lock:
            if reader is not self._reader:
                return
            self._approximate = source.approximate
            self._kind = source.kind
            if self._asked_limits is None:
                self._machine = msgspec.structs.replace(self._machine, limits=limits_for(source.kind, self._options))

    def arrived(self, reader: Reader, picture: Picture, seen: Arrived) -> None:
        """A reader brought a sound picture."""
        with self._lock:
            if reader is not self._reader:
                self._discard(picture)
                return
            now = self._clock.now()
            self._feed(seen, now)
            self._failure, self._had_picture = None, True
            self._arrived += 1
            self._arrivals.append(now.monotonic)
            self._count_missing(picture.source_sequence)
            if validity_now(self._machine) is None:
                self._unshown += 1
                self._pool.give(picture.planes)
                return
            for plane in picture.planes:
                plane.flags.writeable = False
            self.slot.put(
                Frame(
                    planes=picture.planes,
                    format=picture.format,
                    instant=now,
                    generation=reader.generation,
                    sequence=self._sequence,
                    source_sequence=picture.source_sequence,
                    source_seconds=picture.source_seconds,
                )
            )
            self._sequence += 1

    def damaged(self, reader: Reader, reason: str, picture: Picture | None, malformed: bool) -> None:
        """A reader brought a picture that must not be measured."""
        with self._lock:
            if reader is not self._reader or malformed:
                self._discard(picture)
            else:
                self._damaged += 1
                self._pool.give(picture.planes if picture else ())
            if reader is self._reader:
                self._feed(Damaged(reason=reason), self._clock.now())

    def unconnected(self, reader: Reader, reason: str) -> None:
        """A reader heard from its device that nothing is connected."""
        with self._lock:
            if reader is self._reader:
                self._feed(Unconnected(reason=reason), self._clock.now())

    def failed(self, reader: Reader, error: StopkeeperError) -> None:
        """A reader's source is over."""
        with self._lock:
            if reader is self._reader:
                self._reader = None
                self._over(error, self._clock.now())

    # Everything below runs under the lock.

    def _feed(self, evidence: Evidence, now: Instant) -> None:
        self._machine, events = step(self._machine, evidence, now)
        self._events.extend(events)
        if events and validity_now(self._machine) is None and self._machine.state != "ended":
            self.slot.clear()

    def _hold_deadlines(self, now: Instant) -> None:
        reader, machine = self._reader, self._machine
        if reader is None:
            return
        phase, since = reader.phase
        limits = machine.limits
        if phase == "opening":
            if now.since(since) > limits.open_seconds:
                self._abandon(f"did not open within {limits.open_seconds:g} s", now)
            return
        silent = now.since(machine.contact if machine.contact is not None else since)
        if machine.history is None:
            wordless = max(limits.first_seconds, lost_after(machine))
            if silent > wordless:
                self._abandon(f"no picture within {wordless:g} s", now)
            return
        old = age(machine, now) or 0.0
        dead = silent > lost_after(machine) or old > lost_after(machine) + _ONLY_DAMAGE_SECONDS
        if dead or (machine.state == "frozen" and now.since(machine.since) > limits.frozen_reopen):
            self._abandon(machine.evidence, now)

    def _abandon(self, reason: str, now: Instant) -> None:
        if not self._machine.limits.reopen and self._machine.history is not None:
            return  # A pipe or file that stalls may go on; it has no second beginning.
        if not self._let_go():
            return
        self._over(FeedSilent(reason, self._address, "it is tried again"), now)

    def _let_go(self) -> bool:
        """Leave the present reader behind; False when an earlier one still hangs."""
        reader = self._reader
        if reader is None:
            return True
        if self._left is not None and not self._left.finished.is_set():
            return False
        reader.abandon()
        self._reader, self._left = None, reader
        self._launch_close(reader)
        return True

    def _over(self, error: StopkeeperError, now: Instant) -> None:
        limits = self._machine.limits
        if isinstance(error, FeedEnded):
            self._gave_up, self._due = True, None
            self._feed(Ended(), now)
            return
        self._failure = error
        lived = self._machine.history
        if lived is not None and now.since(lived.began) >= _STEADY_SECONDS:
            self._tries = 0
        self._feed(Failed(reason=error.what), now)
        if not isinstance(error, FeedError) or not limits.reopen or (self._kind == "scene" and not self._had_picture):
            self._gave_up, self._due = True, None
            return
        self._tries += 1
        pause = limits.retry_seconds if self._tries <= limits.quick_retries else limits.slow_retry_seconds
        self._due = Instant(now.monotonic + pause, now.utc + pause)
        self._feed(Waiting(reason=error.what, seconds=pause), now)

    def _begin_when_due(self, now: Instant) -> None:
        if self._reader is not None or self._due is None or now.monotonic < self._due.monotonic:
            return
        self._due = None
        self._generation += 1
        self._attempts += 1
        self._last_number = None
        self._arrivals.clear()
        self._feed(Opening(generation=self._generation), now)
        limit = self._machine.limits.damaged_in_a_row
        self._reader = Reader(self._make, self._generation, self, self._clock, self.slates, limit)
        self._launch(self._reader)

    def _discard(self, picture: Picture | None) -> None:
        self._discarded += 1
        if picture is not None:
            self._pool.give(picture.planes)

    def _count_missing(self, number: int | None) -> None:
        if number is not None and self._last_number is not None and number > self._last_number + 1:
            self._missing += number - self._last_number - 1
        self._last_number = number

    def _fps(self, now: Instant) -> float | None:
        recent = [at for at in self._arrivals if now.monotonic - at <= 2.0]
        if len(recent) < 2 or recent[-1] <= recent[0]:
            return None
        return (len(recent) - 1) / (recent[-1] - recent[0])
