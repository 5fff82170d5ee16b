"""What an operator may ask of a running watch. Every call returns at once; the watch's own thread does the work."""

from __future__ import annotations

import contextlib
import queue
from collections.abc import Callable
from typing import TypeAlias

from analysis.engine.listeners import OutletLike
from analysis.engine.step import Acknowledge, Input, Reset, Retire, ReturnToService, Shelve, Unshelve
from analysis.feed.supervisor import Supervisor
from analysis.measure.examiner import Examiner
from analysis.model.instant import Instant
from analysis.model.sitter import Spot
from analysis.settings.aim_settings import Aims
from analysis.watch.desks import Desks

_COMMANDS = 64

Action: TypeAlias = Callable[[Instant], None]
"""What a command does, carried out in the watch's own thread."""


class Orders:
    """The commands of a watch, queued for its thread. Safe from any thread."""

    _supervisor: Supervisor
    _meter: Examiner
    _outlet: OutletLike
    _desks: Desks

    def __init__(self) -> None:
        self._commands: queue.Queue[Action] = queue.Queue(_COMMANDS)

    def acknowledge(self, alarm: str | None = None, occurrence: int | None = None) -> None:
        """The operator has seen one alarm, or all of them."""

        def acknowledge(now: Instant) -> None:
            self._apply(Acknowledge(alarm=alarm, occurrence=occurrence), now)
            self._outlet.hush()

        self._send(acknowledge)

    def shelve(self, alarm: str, seconds: float) -> None:
        """Keep one alarm quiet for a time, an hour at most; it comes back by itself."""

        def shelve(now: Instant) -> None:
            self._apply(Shelve(alarm=alarm, seconds=seconds), now)
            self._outlet.hush()

        self._send(shelve)

    def unshelve(self, alarm: str) -> None:
        """End a shelf early."""
        self._send(lambda now: self._apply(Unshelve(alarm=alarm), now))

    def reset(self, alarm: str) -> None:
        """Let a latched alarm go."""
        self._send(lambda now: self._apply(Reset(alarm=alarm), now))

    def take_out_of_service(self, alarm: str, why: str) -> None:
        """Keep one alarm quiet until it is put back; ``why`` stands on the screen and in the record."""
        self._send(lambda now: self._apply(Retire(alarm=alarm, why=why), now))

    def return_to_service(self, alarm: str) -> None:
        """Put one alarm back in service."""
        self._send(lambda now: self._apply(ReturnToService(alarm=alarm), now))

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
        if self._desks.sitters is not None:
            self._desks.sitters.choose(name)

    def set_aims(self, aims: Aims) -> None:
        """Where sitters and spots should lie from now on."""
        self._send(lambda _: self._desks.aims.set(aims))

    def line_up(self, on: bool) -> None:
        """Begin or end looking for a line-up picture (colour bars, grey steps)."""
        self._send(lambda _: self._desks.lineup.ask(on))

    def restart_feed(self) -> None:
        """Let go of the feed and open it anew."""
        self._supervisor.restart()

    def _apply(self, item: Input, now: Instant) -> None:
        """Take one step of the engine, in the watch's thread."""
        raise NotImplementedError

    def _send(self, action: Action) -> None:
        # A full queue means the watch thread is stuck; the screen shows that by itself.
        with contextlib.suppress(queue.Full):
            self._commands.put_nowait(action)

    def _obey(self, now: Callable[[], Instant]) -> None:
        """Carry out what was asked since the last turn."""
        with contextlib.suppress(queue.Empty):
            while True:
                self._commands.get_nowait()(now())
