"""A feed, measured frame by frame in a thread of its own; what comes of it is published as one frozen value."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Iterable, Mapping

import msgspec

from analysis.alarm.rule import AlarmRule
from analysis.engine.listeners import Diary, OutletLike, Recorder
from analysis.engine.say import words_now
from analysis.engine.step import NO_PICTURE, Input, Measured, Outcome, Tick, Unheard, begin, step
from analysis.feed.clock import Clock
from analysis.feed.supervisor import Supervisor
from analysis.measure.examiner import Examiner
from analysis.model.alarm import Announcement, SavedAlarms
from analysis.model.errors import StopkeeperError
from analysis.model.feed import FeedStatus
from analysis.model.frame import Frame
from analysis.model.instant import Instant
from analysis.model.reading import FeedHealth, Measurement, Reading, View
from analysis.model.snapshot import Snapshot
from analysis.watch.desks import Desks
from analysis.watch.orders import Orders
from analysis.watch.room import RoomGauge, RoomLeft

TICK_SECONDS = 0.05
ANNOUNCED = 8
TURNS_SHOWN = 8
REFUSAL_SECONDS = 8.0


class Watch(Orders):
    """One feed, measured frame by frame in a thread of its own; the newest state is a frozen snapshot.

    ``snapshot`` never blocks. ``close`` returns within three seconds whatever the feed or the
    sound device does. A failure inside the watch thread is shown as ``Snapshot.fault`` and the
    watch goes on with the next frame.
    """

    def __init__(
        self,
        supervisor: Supervisor,
        meter: Examiner,
        rules: Iterable[AlarmRule],
        outlet: OutletLike,
        clock: Clock,
        recorders: tuple[Recorder, ...] = (),
        desks: Desks | None = None,
        note: str | None = None,
        diary: Diary | None = None,
        saved: SavedAlarms | None = None,
        room: Callable[[], RoomLeft | None] | None = None,
    ) -> None:
        super().__init__()
        self._desks, self._note, self._diary = desks or Desks(), note, diary
        self._supervisor, self._meter, self._outlet, self._clock = supervisor, meter, outlet, clock
        self._recorders, self._room = recorders, RoomGauge(room)
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="watch", daemon=True)
        now = clock.now()
        self._state, begun = begin(rules, now, saved)
        self._view: View | None = None
        self._first: Instant | None = None
        self._measured = 0
        self._fault: str | None = None
        self._refused: tuple[str, Instant] | None = None
        self._muted_since: Instant | None = None
        self._announced: deque[Announcement] = deque(maxlen=ANNOUNCED)
        self._announcements = 0
        self._tell(begun, now)
        self._snapshot = self._make_snapshot(now)

    def start(self) -> None:
        """Begin reading the feed and measuring."""
        self._supervisor.start()
        self._thread.start()

    def snapshot(self) -> Snapshot:
        """The watch as it stands. Cheap, from any thread."""
        return self._snapshot

    @property
    def failure(self) -> StopkeeperError | None:
        """Why the feed cannot be used and will not be tried again, else None."""
        return self._supervisor.failure if self._supervisor.gave_up else None

    @property
    def measured(self) -> int:
        """How many frames were measured."""
        return self._measured

    def close(self) -> None:
        """Stop everything."""
        self._stop.set()
        if self._thread.is_alive() and self._thread is not threading.current_thread():
            self._thread.join(0.5)
        self._supervisor.stop(1.0)
        if self._desks.sitters is not None:
            self._desks.sitters.close()
        self._outlet.close()

    def turn(self, seconds: float = 0.0) -> None:
        """One turn: wait at most ``seconds`` for a frame, measure it, hold the deadlines, publish.

        The watch's own thread does nothing else. Never raises: what goes wrong is shown as
        ``Snapshot.fault`` and the next turn begins afresh.
        """
        frame = self._supervisor.slot.take(seconds)
        try:
            self._turn(frame)
        except Exception as error:  # noqa: BLE001 - one bad frame or output must not end the watch; it is shown
            self._fault = f"{type(error).__name__}: {error}"
            self._snapshot = msgspec.structs.replace(
                self._snapshot, at=self._clock.now(), fault=self._fault, reading=None, view=None
            )
        finally:
            if frame is not None:
                self._supervisor.slot.done(frame)

    def _run(self) -> None:
        while not self._stop.is_set():
            self.turn(TICK_SECONDS)
            if self._fault is not None:
                self._stop.wait(TICK_SECONDS)

    def _turn(self, frame: Frame | None) -> None:
        self._supervisor.tick()
        self._obey(self._clock.now)
        now = self._clock.now()
        self._outlet.tick(now)
        self._after_mute(now)
        for event in self._supervisor.events():
            for recorder in self._recorders:
                recorder.feed_changed(event)
        status = self._supervisor.status()
        measurement = self._measure(frame, status, now) if frame is not None else None
        now = self._clock.now()
        if measurement is not None:
            self._view = measurement.view or self._view
            more = {**self._room.values(now), **self._see(measurement, status, now)}
            nearing = self._desks.clip.newest(now)
            reading = self._desks.plans.to_sensor_end(measurement).reading
            self._apply(Measured(reading=reading, feed=status, more=more, nearing=nearing), now)
            if self._desks.anew.heeding(now):
                for reset in self._desks.anew.ended(self._state.alarms(now), now):
                    self._apply(reset, now)
            if self._diary is not None:
                self._diary.reading_taken(reading, now)
            self._fault = None
        else:
            self._apply(Tick(feed=status, more=self._room.values(now)), now)
        if status.state in NO_PICTURE:
            self._view = None
            self._desks.forget()
        self._snapshot = self._make_snapshot(now)

    def _after_mute(self, now: Instant) -> None:
        """When a mute is over, what rose meanwhile and still holds unseen is heard: nobody may be looking."""
        if self._outlet.status(now).muted_seconds > 0.0:
            self._muted_since = self._muted_since or now
        elif self._muted_since is not None:
            since, self._muted_since = self._muted_since, None
            self._apply(Unheard(since=since), now)

    def _measure(self, frame: Frame, status: FeedStatus, now: Instant) -> Measurement | None:
        validity = self._supervisor.validity()
        if validity is None or frame.generation != status.generation:
            return None
        self._first = self._first or frame.instant
        health = FeedHealth(
            fps=status.fps,
            age_ms=round(max(0.0, now.since(frame.instant)) * 1000, 1),
            skipped=status.skipped,
            generation=frame.generation,
        )
        measurement = self._meter.measure(frame, health, self._first, validity)
        measurement = self._with_sitters(frame, measurement)
        self._desks.lineup.look(frame, now)
        self._measured += 1
        return measurement

    def _see(self, measurement: Measurement, status: FeedStatus, now: Instant) -> Mapping[str, float]:
        desks = self._desks
        values = desks.see(measurement, self._meter.spots, status, now)
        self._meter.want_peaks = desks.plans.asked
        return values

    def _with_sitters(self, frame: Frame, measurement: Measurement) -> Measurement:
        if self._desks.sitters is None:
            return measurement
        sitters = self._desks.sitters.read(frame, measurement.reading)
        reading = msgspec.structs.replace(measurement.reading, sitters=sitters)
        return msgspec.structs.replace(measurement, reading=reading)

    def _apply(self, item: Input, now: Instant) -> bool:
        self._state, outcome = step(self._state, item, now)
        self._tell(outcome, now)
        return outcome.refusal is None

    def _keep_hold(self, name: str | None, now: Instant) -> None:
        self._desks.keep_hold(name, self._shown(), self._view, self._supervisor.status().address, now)

    def _say_now(self, now: Instant) -> None:
        status, reading = self._supervisor.status(), self._shown()
        aims = self._desks.aims.in_force(reading.encoding.curve) if reading is not None else ()
        words = words_now(status, reading, self._state.alarms(now), aims)
        spoken = self._outlet.say(words)
        self._refuse(f"now: {words}" if spoken else f"nothing can speak here; now: {words}", now)

    def _refuse(self, why: str, now: Instant) -> None:
        self._refused = (why, now)

    def _tell(self, outcome: Outcome, now: Instant) -> None:
        if outcome.refusal is not None:
            self._refuse(outcome.refusal, now)
        for announcement in outcome.announcements:
            self._outlet.announce(announcement, now)
            self._announced.append(announcement)
            self._announcements += 1
        for change in outcome.changes:
            for recorder in self._recorders:
                recorder.alarm_changed(change)

    def _make_snapshot(self, now: Instant) -> Snapshot:
        status = self._supervisor.status()
        return Snapshot(
            at=now,
            feed=status,
            reading=self._shown(),
            view=self._view if self._state.reading is not None else None,
            alarms=self._state.alarms(now),
            timeline=self._state.timeline.points,
            outlet=self._outlet.status(now),
            bells=self._outlet.bells,
            fault=self._fault,
            spots=self._meter.spots,
            aims=self._desks.aims.in_force(status.format.encoding.curve if status.format is not None else None),
            lineup=self._desks.lineup.found,
            note=self._trouble(),
            planning=self._desks.plans.planning,
            matching=self._desks.holds.matching,
            turns=self._desks.turns.recent[-TURNS_SHOWN:],
            refusal=self._refusal(now),
            announced=tuple(self._announced),
            announcements=self._announcements,
        )

    def _trouble(self) -> str | None:
        desks = self._desks
        sitters = desks.sitters.trouble if desks.sitters is not None else self._note
        return sitters or (desks.archive.trouble() if desks.archive is not None else None)

    def _refusal(self, now: Instant) -> str | None:
        recent = self._refused is not None and now.since(self._refused[1]) < REFUSAL_SECONDS
        return self._refused[0] if self._refused is not None and recent else None

    def _shown(self) -> Reading | None:
        """The newest reading with what is now known of its feed, so that its validity is today's."""
        reading = self._state.reading
        validity = self._supervisor.validity()
        if reading is None or validity is None or reading.validity == validity:
            return reading if validity is not None else None
        return msgspec.structs.replace(reading, validity=validity)
