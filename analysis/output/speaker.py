"""The watch's side of sound: a process is started and watched, told to open a device, killed when it hangs."""

from __future__ import annotations

import os
import sys
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Literal, NamedTuple

import msgspec

from analysis.model.alarm import Announcement
from analysis.output.child import Child, ChildFault
from analysis.output.protocol import Failed, Free, Heartbeat, LetGo, Open, Play, Quit, Ready, Report, Stop, Warm
from analysis.output.sound_signs import Signs, signs
from analysis.output.tickets import ENDED, Fate, Tickets

SpeakerState = Literal["starting", "ready", "stalled", "waiting", "broken", "closed"]
STARTING = "sound is starting"
DEVICE_VARIABLE = "STOPKEEPER_SOUND_DEVICE"
_LISTEN_SECONDS = 0.05


class SpeakerTiming(msgspec.Struct, frozen=True, kw_only=True):
    """Deadlines and pauses in seconds.

    ``start`` is how long a process may take until it is there, ``ready`` how long it may take to open a device,
    ``letting_go`` to let go of one; then it is killed and another one started. ``flow`` is after which silence of the
    heartbeat an alarm no longer trusts the device, ``heartbeat`` after which the device is given up, at once where
    devices came or went meanwhile. Pauses between tries grow from ``first_pause`` to ``longest_pause``; on a
    machine that never had a working device, or lost it ``patience`` seconds ago, to ``idle_pause``, so that it costs
    nothing. A pause ends early when a device or a sound server comes or goes, which is looked for every ``look``.
    After ``fruitless`` tries in a row another process is started, in case it is the process that is in the way.
    """

    start: float = 30.0
    ready: float = 6.0
    letting_go: float = 1.0
    flow: float = 0.3
    heartbeat: float = 2.0
    first_pause: float = 0.5
    longest_pause: float = 2.0
    idle_pause: float = 30.0
    patience: float = 600.0
    look: float = 0.5
    closing: float = 0.5
    fruitless: int = 20


class _Ended(NamedTuple):
    """Why a try to sound ended, and whether to give up for good."""

    reason: str
    permanent: bool = False


class SpeakerStatus(msgspec.Struct, frozen=True, kw_only=True):
    """How sound is doing: ``calls`` counts the device's callbacks, ``restarts`` the processes after the first.

    ``pid`` is the sound process, None when there is none at the moment.
    """

    state: SpeakerState
    reason: str
    device: str | None = None
    restarts: int = 0
    calls: int = 0
    pid: int | None = None


def child_command() -> list[str]:
    """The command that starts the sound process.

    The current folder is kept off the module path (-P): whatever lies where the operator
    works must not be taken for a part of this program. The folder this package was found
    in comes last, for a tree that runs without being installed.
    """
    home = str(Path(__file__).parents[2])
    start = f"import sys; sys.path.append({home!r}); from analysis.output.sound_child import main; main()"
    return [sys.executable, "-P", "-c", start]


class Speaker:
    """Plays alarms through a sound process; no call waits for sound, whatever the sound server does.

    ``environment`` is given to the process (None: this process's own), ``command`` replaces
    it in tests. :meth:`play` returns None when there is nothing to play on right now.
    """

    def __init__(
        self,
        *,
        device: str | None = None,
        environment: Mapping[str, str] | None = None,
        loudness: float = 1.0,
        command: Sequence[str] | None = None,
        timing: SpeakerTiming | None = None,
        monotonic: Callable[[], float] = time.monotonic,
        look: Callable[[], Signs] | None = None,
    ) -> None:
        self._command = list(command) if command else child_command()
        self._device, self._environment, self._loudness = device, environment, loudness
        self._timing = timing or SpeakerTiming()
        self._monotonic = monotonic
        self._look = look or (lambda: signs(os.environ if environment is None else environment))
        self._changed = threading.Condition()
        self._closing = threading.Event()
        self._child: Child | None = None
        self._warm = False
        self._begun = self._fruitless = 0
        self._tickets = Tickets()
        self._status = SpeakerStatus(state="starting", reason=STARTING)
        self._flowed = 0.0
        self._was_ready = False
        self._thread = threading.Thread(target=self._watch, name="speaker", daemon=True)
        self._thread.start()

    def play(self, announcement: Announcement) -> int | None:
        """Sound an alarm; the number returned is for :meth:`fate`."""
        with self._changed:
            if self._child is None or self._seen().state != "ready":
                return None
            ticket = self._tickets.sent(self._monotonic())
            taken = self._child.send(
                Play(
                    ticket=ticket,
                    alarm=announcement.alarm,
                    kind=announcement.kind,
                    direction=announcement.direction,
                    priority=announcement.priority,
                    loudness=self._loudness,
                )
            )
            if not taken:
                self._tickets.heard(Failed(ticket=ticket, reason="not taken"), self._monotonic())
            return ticket

    def stop(self) -> None:
        """Silence at once."""
        with self._changed:
            if self._child is not None:
                self._child.send(Stop())

    def lost(self) -> tuple[int, ...]:
        """Orders that were not heard, each told once."""
        with self._changed:
            flowing = self._seen().state == "ready"
            return self._tickets.lost(self._monotonic(), flowing=flowing)

    def fate(self, ticket: int) -> Fate:
        """What became of an order."""
        with self._changed:
            return self._tickets.fate(ticket)

    def status(self) -> SpeakerStatus:
        """How sound is doing now."""
        with self._changed:
            return self._seen()

    def wait_ready(self, seconds: float) -> bool:
        """Wait until sound flows, or until it cannot, at most ``seconds``; True if it flows."""
        with self._changed:
            self._changed.wait_for(lambda: self._status.state != "starting", seconds)
            return self._status.state == "ready"

    def wait(self, ticket: int, seconds: float) -> Fate:
        """Wait for the end of an order, at most ``seconds``."""
        with self._changed:
            self._changed.wait_for(lambda: self._tickets.fate(ticket) in ENDED, seconds)
            return self._tickets.fate(ticket)

    def end(self) -> None:
        """Have the sound process ended, without waiting for it."""
        self._closing.set()
        with self._changed:
            if self._child is not None:
                self._child.send(Quit())

    def close(self) -> None:
        """End the sound process; returns within about a second, whatever it does."""
        self.end()
        self._thread.join(2 * self._timing.closing)

    def _seen(self) -> SpeakerStatus:
        silent = self._monotonic() - self._flowed
        if self._status.state == "ready" and silent > self._timing.flow:
            reason = f"the sound device took no sound for {silent:.1f} s"
            return msgspec.structs.replace(self._status, state="stalled", reason=reason)
        return self._status

    def _set(self, state: SpeakerState, reason: str, **others: object) -> None:
        self._status = msgspec.structs.replace(self._status, state=state, reason=reason, **others)
        self._changed.notify_all()

    def _watch(self) -> None:
        pause = self._timing.first_pause
        while not self._closing.is_set():
            began = self._monotonic()
            ended = self._once()
            self._over(ended)
            if ended.permanent or self._closing.is_set():
                break
            if self._child is None:
                self._begin()  # before the pause, so that it costs no time after it
            if self._flowed - began > 2 * self._timing.longest_pause:
                pause = self._timing.first_pause  # it worked for a while; one that is only slow to fail is no reason
            if self._pause(pause):
                pause = self._timing.first_pause
            else:
                pause = min(2 * pause, self._longest())
        self._drop()
        with self._changed:
            if self._closing.is_set():
                self._set("closed", "closed")

    def _over(self, ended: _Ended) -> None:
        with self._changed:
            self._tickets.fail_all()
            self._set("broken" if ended.permanent else "waiting", ended.reason, device=None)

    def _pause(self, seconds: float) -> bool:
        """Wait before the next start; True when it ended early because devices or servers changed."""
        seen = self._look()
        while seconds > 0.0 and not self._closing.wait(min(seconds, self._timing.look)):
            seconds -= self._timing.look
            if self._look() != seen:
                return True
        return False

    def _longest(self) -> float:
        """How long a pause may grow; where nothing shows that a device came back, never so long that it is missed."""
        with self._changed:
            lost = self._monotonic() - self._flowed
            hopeful = self._was_ready and (lost < self._timing.patience or not self._look())
        return self._timing.longest_pause if hopeful else self._timing.idle_pause

    def _begin(self) -> _Ended | None:
        """Start a process; what is wrong where none can be."""
        try:
            child = Child(self._command, self._environment)
        except OSError as error:
            return _Ended(f"the sound process does not start: {error.strerror}")
        with self._changed:
            self._child, self._warm, self._fruitless = child, False, 0
            self._status = msgspec.structs.replace(self._status, pid=child.pid, restarts=self._begun)
        self._begun += 1
        return None

    def _drop(self) -> None:
        """Kill the process, if there is one."""
        with self._changed:
            child, self._child = self._child, None
            self._status = msgspec.structs.replace(self._status, pid=None)
        if child is not None:
            child.end(self._timing.closing)

    def _once(self) -> _Ended:
        """One try to sound, from opening the device to its end. The process is kept if it lets go of the device."""
        if self._child is None and (fault := self._begin()) is not None:
            return fault
        child = self._child
        assert child is not None
        kept = False
        try:
            ended = self._attend(child)
            self._over(ended)
            self._fruitless += 1
            kept = not ended.permanent and self._fruitless < self._timing.fruitless and self._lets_go(child)
        except ChildFault as fault:
            return _Ended(str(fault))
        finally:
            if not kept:
                self._drop()
        return ended

    def _attend(self, child: Child) -> _Ended:
        child.send(Open(device=self._device, loudness=self._loudness))
        asked, ready, seen = self._monotonic(), False, self._look()
        while not self._closing.is_set():
            for report in child.reports(_LISTEN_SECONDS):
                if isinstance(report, Failed) and report.ticket is None:
                    return _Ended(report.reason, report.permanent)
                if isinstance(report, Warm):
                    self._warm, asked = True, self._monotonic()
                self._hear(report)
                ready = ready or isinstance(report, Ready)
            now = self._monotonic()
            with self._changed:
                silent = now - self._flowed
            if ready:
                if silent > self._timing.heartbeat or (silent > self._timing.flow and self._look() != seen):
                    return _Ended(f"the sound device took no sound for {silent:.1f} s and was given up")
            elif not self._warm and now - asked > self._timing.start:
                return _Ended(f"the sound process was not there within {self._timing.start:g} s")
            elif self._warm and now - asked > self._timing.ready:
                return _Ended(f"the sound device did not open within {self._timing.ready:g} s")
        return _Ended("closed")

    def _lets_go(self, child: Child) -> bool:
        """Have the device let go of; False where the process does not within its time, as one that hangs."""
        if not child.send(LetGo()):
            return False
        asked = self._monotonic()
        while not self._closing.is_set() and self._monotonic() - asked <= self._timing.letting_go:
            if any(isinstance(report, Free) for report in child.reports(_LISTEN_SECONDS)):
                return True
        return False

    def _hear(self, report: Report) -> None:
        with self._changed:
            now = self._monotonic()
            match report:
                case Ready():
                    self._was_ready, self._flowed, self._fruitless = True, now, 0
                    self._set("ready", "sound flows", device=report.device, calls=0)
                case Heartbeat():
                    if report.calls > self._status.calls:
                        self._flowed = now
                    self._status = msgspec.structs.replace(self._status, calls=report.calls)
                case _:
                    self._tickets.heard(report, now)
                    self._changed.notify_all()
