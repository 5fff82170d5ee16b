"""What an operator may ask of a running watch. Every call returns at once; the watch's own thread does the work."""

from __future__ import annotations

import contextlib
import queue
from collections.abc import Callable, Sequence
from typing import TypeAlias

from analysis.engine.listeners import OutletLike
from analysis.engine.step import Acknowledge, Input, Reset, Retire, ReturnToService, Shelve, Unshelve
from analysis.feed.supervisor import Supervisor
from analysis.measure.examiner import Examiner
from analysis.model.controls import ControlLimits, Controls
from analysis.model.errors import StopkeeperError
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
            done = self._apply(Acknowledge(alarm=alarm, occurrence=occurrence), now)
            if done or alarm is None:  # an old rise that was meant must not silence a newer one
                self._outlet.hush()

        self._send(acknowledge)

    def acknowledge_seen(self, rises: Sequence[tuple[str, int]]) -> None:
        """The operator has seen these rises, each an alarm and its occurrence; what rose since is not among them."""

        def acknowledge(now: Instant) -> None:
            done = [self._apply(Acknowledge(alarm=alarm, occurrence=number), now) for alarm, number in rises]
            if all(done) and done:  # where one has risen again meanwhile, its sound is not silenced
                self._outlet.hush()
            elif not rises:
                self._refuse("nothing on the screen to acknowledge", now)

        self._send(acknowledge)

    def shelve(self, alarm: str, seconds: float) -> None:
        """Keep one alarm quiet for a time, an hour at most; it comes back by itself."""

        def shelve(now: Instant) -> None:
            if self._apply(Shelve(alarm=alarm, seconds=seconds), now):
                self._outlet.hush()

        self._send(shelve)

    def unshelve(self, alarm: str) -> None:
        """End a shelf early."""
        self._order(Unshelve(alarm=alarm))

    def reset(self, alarm: str) -> None:
        """Let a latched alarm go."""
        self._order(Reset(alarm=alarm))

    def take_out_of_service(self, alarm: str, why: str) -> None:
        """Keep one alarm quiet until it is put back; ``why`` stands on the screen and in the record."""
        self._order(Retire(alarm=alarm, why=why))

    def return_to_service(self, alarm: str) -> None:
        """Put one alarm back in service."""
        self._order(ReturnToService(alarm=alarm))

    def mute(self, seconds: float) -> None:
        """Be silent for a while; what would have been heard is still shown."""
        self._send(lambda now: self._outlet.mute(seconds, now=now))

    def unmute(self) -> None:
        """End a mute."""
        self._send(lambda _: self._outlet.unmute())

    def sound_from(self, mode: str | None = None) -> None:
        """Hear alarms from ``speakers``, from the terminal's ``bell``, or where it is chosen by itself (``auto``).

        None goes on to the next of these. ``off`` is silence until another is asked for: a mute ends by itself.
        """

        def turn(now: Instant) -> None:
            self._refuse(f"sound: {self._outlet.turn_to(mode, now)}", now)

        self._send(turn)

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

    def plan(self, on: bool) -> None:
        """Begin or end planning: what to move so that the sitter lies on the aim."""
        self._send(lambda _: self._desks.plans.ask(on))

    def set_controls(self, controls: Controls, limits: ControlLimits | None = None) -> None:
        """What is set on the camera and the key now, and how far it may move (None: as before)."""

        def set_them(_: Instant) -> None:
            self._desks.plans.set_controls(controls, limits)
            self._desks.keep_controls()

        self._send(set_them)

    def set_policy(self, name: str | None) -> None:
        """The policy that plans follow; None lets the picture suggest one."""

        def follow(_: Instant) -> None:
            self._desks.plans.set_policy(name)
            self._desks.keep_controls()

        self._send(follow)

    def plan_for(self, name: str | None) -> None:
        """Plan for a sitter, a spot or the picture's middle; None: the main sitter, else a spot with an aim."""
        self._send(lambda _: self._desks.plans.plan_for(name))

    def keep_hold(self, name: str | None = None) -> None:
        """Keep the newest reading as a hold (None: a name is made) and match against it from now on."""
        self._send(lambda now: self._keep_hold(name, now))

    def match_with(self, name: str | None) -> None:
        """Compare with this hold from now on; None ends comparing."""
        self._send(lambda _: self._desks.holds.choose(name))

    def drop_hold(self, name: str) -> None:
        """Forget a hold for good."""
        self._send(lambda _: self._desks.drop_hold(name))

    def say_now(self) -> None:
        """Speak what is true now; where nothing can speak, say so on the screen."""
        self._send(self._say_now)

    def restart_feed(self) -> None:
        """Let go of the feed and open it anew."""
        self._supervisor.restart()

    def _apply(self, item: Input, now: Instant) -> bool:
        """Take one step of the engine, in the watch's thread; whether the command was carried out."""
        raise NotImplementedError

    def _keep_hold(self, name: str | None, now: Instant) -> None:
        """Keep what was measured last."""
        raise NotImplementedError

    def _say_now(self, now: Instant) -> None:
        """Put what is true now into words and speak them."""
        raise NotImplementedError

    def _refuse(self, why: str, now: Instant) -> None:
        """Show why a command was not carried out."""
        raise NotImplementedError

    def _order(self, item: Input) -> None:
        def order(now: Instant) -> None:
            self._apply(item, now)

        self._send(order)

    def _send(self, action: Action) -> None:
        # A full queue means the watch thread is stuck; the screen shows that by itself.
        with contextlib.suppress(queue.Full):
            self._commands.put_nowait(action)

    def _obey(self, now: Callable[[], Instant]) -> None:
        """Carry out what was asked since the last turn."""
        with contextlib.suppress(queue.Empty):
            while True:
                action = self._commands.get_nowait()
                try:
                    action(now())
                except StopkeeperError as error:
                    self._refuse(error.line(), now())
