"""Wires a feed, the engine and the outputs into a running watch, with or without a screen."""

from __future__ import annotations

import contextlib
import queue
import threading
from collections.abc import Callable, Iterable
from typing import TypeAlias

import msgspec

from analysis.alarm.rule import AlarmRule
from analysis.alarm.values import beyond_aim, spots_beyond_aim
from analysis.engine.listeners import Diary, OutletLike, Recorder
from analysis.engine.step import NO_PICTURE, Acknowledge, Input, Measured, Outcome, Tick, begin, step
from analysis.exposure.aims import aim_for, distance
from analysis.feed.address import parse_address
from analysis.feed.clock import Clock
from analysis.feed.factory import kind_of, make_source
from analysis.feed.pool import FramePool
from analysis.feed.source import FeedOptions
from analysis.feed.supervisor import Supervisor
from analysis.lookout.desk import SitterDesk, open_desk
from analysis.measure.examiner import Examiner, known_curve
from analysis.measure.meter import one_thread
from analysis.model.alarm import SavedAlarms
from analysis.model.errors import SettingsError, StopkeeperError
from analysis.model.feed import FeedStatus
from analysis.model.frame import Frame
from analysis.model.instant import Instant
from analysis.model.reading import FeedHealth, Measurement, Reading, View
from analysis.model.sitter import Aim, Spot
from analysis.model.snapshot import Snapshot
from analysis.settings.aim_settings import Aims, aims_of
from analysis.settings.face_model import face_model
from analysis.settings.measuring import examiner_settings
from analysis.settings.rules import alarm_rules
from analysis.settings.schema import Settings, SitterSettings

__all__ = ["Diary", "OutletLike", "Recorder", "Watch", "open_sitters", "open_watch"]

TICK_SECONDS = 0.05
LINEUP_SECONDS = 0.5
ROOM_SECONDS = 10.0
_COMMANDS = 64


Action: TypeAlias = Callable[[Instant], None]
"""What a command does, carried out in the watch's own thread."""


class Watch:
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
        sitters: SitterDesk | None = None,
        note: str | None = None,
        diary: Diary | None = None,
        saved: SavedAlarms | None = None,
        room: Callable[[], float | None] | None = None,
    ) -> None:
        self._room = room
        self._room_seen: Instant | None = None
        self._room_left: float | None = None
        self._sitters, self._note, self._diary = sitters, note, diary
        self._supervisor, self._meter, self._outlet, self._clock = supervisor, meter, outlet, clock
        self._recorders = recorders
        self._commands: queue.Queue[Action] = queue.Queue(_COMMANDS)
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="watch", daemon=True)
        now = clock.now()
        self._state, begun = begin(rules, now, saved)
        self._view: View | None = None
        self._first: Instant | None = None
        self._measured = 0
        self._fault: str | None = None
        self._aims: Aims = {}
        self._aimed: tuple[str | None, tuple[Aim, ...]] | None = None
        self._lining_up = False
        self._lined_up: Instant | None = None
        self._lineup: object | None = None
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

    def acknowledge(self, alarm: str | None = None, occurrence: int | None = None) -> None:
        """The operator has seen one alarm, or all of them."""

        def acknowledge(now: Instant) -> None:
            self._apply(Acknowledge(alarm=alarm, occurrence=occurrence), now)
            self._outlet.hush()

        self._send(acknowledge)

    def mute(self, seconds: float) -> None:
        """Be silent for a while; what would have been heard is still shown."""
        self._send(lambda now: self._outlet.mute(seconds, now=now))

    def unmute(self) -> None:
        """End a mute."""
        self._send(lambda _: self._outlet.unmute())

    def set_spots(self, spots: tuple[Spot, ...]) -> None:
        """Read these named areas from now on."""
        self._send(lambda _: self._meter.place_spots(spots))

    def choose_sitter(self, name: str | None) -> None:
        """Make this sitter the main one; None lets size and steadiness decide."""
        if self._sitters is not None:
            self._sitters.choose(name)

    def set_aims(self, aims: Aims) -> None:
        """Where sitters and spots should lie from now on."""

        def aim(_: Instant) -> None:
            self._aims, self._aimed = dict(aims), None

        self._send(aim)

    def line_up(self, on: bool) -> None:
        """Begin or end looking for a line-up picture (colour bars, grey steps)."""

        def line_up(_: Instant) -> None:
            self._lining_up, self._lineup, self._lined_up = on, None, None

        self._send(line_up)

    def restart_feed(self) -> None:
        """Let go of the feed and open it anew."""
        self._supervisor.restart()

    def close(self) -> None:
        """Stop everything."""
        self._stop.set()
        if self._thread.is_alive() and self._thread is not threading.current_thread():
            self._thread.join(0.5)
        self._supervisor.stop(1.0)
        if self._sitters is not None:
            self._sitters.close()
        self._outlet.close()

    def _send(self, action: Action) -> None:
        # A full queue means the watch thread is stuck; the screen shows that by itself.
        with contextlib.suppress(queue.Full):
            self._commands.put_nowait(action)

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
        self._obey()
        now = self._clock.now()
        self._outlet.tick(now)
        for event in self._supervisor.events():
            for recorder in self._recorders:
                recorder.feed_changed(event)
        status = self._supervisor.status()
        measurement = self._measure(frame, status, now) if frame is not None else None
        now = self._clock.now()
        if measurement is not None:
            self._view = measurement.view or self._view
            more = {**self._disk_values(now), **self._aim_values(measurement.reading, status)}
            self._apply(Measured(reading=measurement.reading, feed=status, more=more), now)
            if self._diary is not None:
                self._diary.reading_taken(measurement.reading, now)
            self._fault = None
        else:
            self._apply(Tick(feed=status, more=self._disk_values(now)), now)
        if status.state in NO_PICTURE:
            self._view = None
        self._snapshot = self._make_snapshot(now)

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
        self._look_at_lineup(frame, now)
        self._measured += 1
        return measurement

    def _obey(self) -> None:
        with contextlib.suppress(queue.Empty):
            while True:
                self._commands.get_nowait()(self._clock.now())

    def _with_sitters(self, frame: Frame, measurement: Measurement) -> Measurement:
        if self._sitters is None:
            return measurement
        sitters = self._sitters.read(frame, measurement.reading)
        reading = msgspec.structs.replace(measurement.reading, sitters=sitters)
        return msgspec.structs.replace(measurement, reading=reading)

    def _look_at_lineup(self, frame: Frame, now: Instant) -> None:
        if not self._lining_up or (self._lined_up is not None and now.since(self._lined_up) < LINEUP_SECONDS):
            return
        from analysis.measure.lineup.look import look

        self._lined_up, self._lineup = now, look(frame)

    def _aim_values(self, reading: Reading, status: FeedStatus) -> dict[str, float]:
        """How far main sitter and spots lie off aims that the operator set; nothing is held to one nobody set."""
        if not self._aims or reading.validity != "good":
            return {}
        aims, curve = self._aims_now(status), known_curve(reading.encoding.curve)

        def above(name: str, level: float | None, stops: float | None, clipped: float | None) -> float | None:
            aim = aim_for(name, aims)
            found = None if aim is None or level is None else distance(aim, level, curve, stops, clipped or 0.0)
            return found.stops if found is not None else None

        main = next((sitter for sitter in reading.sitters or () if sitter.main), None)
        skin = None if main is None else above(main.name, main.level, main.stops, main.clipped)
        spots = [above(name, spot.level, spot.stops, spot.clipped) for name, spot in (reading.spots or {}).items()]
        return {**beyond_aim(skin), **spots_beyond_aim(stops for stops in spots if stops is not None)}

    def _disk_values(self, now: Instant) -> dict[str, float]:
        """Room left where the journal lies, in GiB, looked at now and then."""
        if self._room is None:
            return {}
        if self._room_seen is None or now.since(self._room_seen) >= ROOM_SECONDS:
            self._room_seen, self._room_left = now, self._room()
        return {} if self._room_left is None else {"disk": self._room_left}

    def _aims_now(self, status: FeedStatus) -> tuple[Aim, ...]:
        """The aims in the curve of the feed; worked out anew only when one of the two changed."""
        curve = status.format.encoding.curve if status.format is not None else None
        if self._aimed is None or self._aimed[0] != curve:
            self._aimed = (curve, aims_of(self._aims, known_curve(curve)))
        return self._aimed[1]

    def _apply(self, item: Input, now: Instant) -> None:
        self._state, outcome = step(self._state, item, now)
        self._tell(outcome, now)

    def _tell(self, outcome: Outcome, now: Instant) -> None:
        for announcement in outcome.announcements:
            self._outlet.announce(announcement, now)
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
            aims=self._aims_now(status),
            lineup=self._lineup,
            note=self._sitters.trouble if self._sitters is not None else self._note,
        )

    def _shown(self) -> Reading | None:
        """The newest reading with what is now known of its feed, so that its validity is today's."""
        reading = self._state.reading
        validity = self._supervisor.validity()
        if reading is None or validity is None or reading.validity == validity:
            return reading if validity is not None else None
        return msgspec.structs.replace(reading, validity=validity)


def open_watch(
    address: str,
    options: FeedOptions,
    settings: Settings,
    outlet: OutletLike,
    clock: Clock,
    recorders: tuple[Recorder, ...] = (),
    diary: Diary | None = None,
    saved: SavedAlarms | None = None,
    room: Callable[[], float | None] | None = None,
) -> Watch:
    """A watch on a feed address, wired but not started.

    Raises UsageError for an address or scene parameter that makes no sense, and SettingsError
    for limits that contradict each other; whatever else is wrong with the feed shows when it runs.
    """
    one_thread()
    parsed = parse_address(address)
    pool = FramePool()
    make_source(parsed, options, pool, clock).close()  # a parameter that makes no sense is told before anything runs
    supervisor = Supervisor(
        lambda: make_source(parsed, options, pool, clock),
        pool,
        clock,
        address=parsed.masked,
        kind=kind_of(parsed),
        options=options,
    )
    meter = Examiner(examiner_settings(settings.meter))
    sitters, note = open_sitters(settings.sitter)
    rules = alarm_rules(settings.alarms)
    return Watch(supervisor, meter, rules, outlet, clock, recorders, sitters, note, diary, saved, room)


def open_sitters(choices: SitterSettings, patience: float = 0.0) -> tuple[SitterDesk | None, str | None]:
    """A desk that reads sitters, or why there is none: not asked for (None) or in one line."""
    if not choices.find:
        return None, None
    try:
        return open_desk(face_model(choices.model), patience), None
    except SettingsError as error:
        if choices.model is not None:
            raise
        return None, error.line()
