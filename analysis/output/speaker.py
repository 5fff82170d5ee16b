"""The watch's side of sound: a process is started, watched, killed when it stalls, started again."""

from __future__ import annotations

import os
import sys
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Literal

import msgspec

from analysis.model.alarm import Announcement
from analysis.output.child import Child, ChildFault
from analysis.output.protocol import Failed, Heartbeat, Play, Quit, Ready, Report, Stop
from analysis.output.sound_signs import Signs, signs
from analysis.output.tickets import ENDED, Fate, Tickets

SpeakerState = Literal["starting", "ready", "stalled", "waiting", "broken", "closed"]
STARTING = "sound is starting"
DEVICE_VARIABLE = "STOPKEEPER_SOUND_DEVICE"


class SpeakerTiming(msgspec.Struct, frozen=True, kw_only=True):
    """Deadlines and pauses in seconds.

    ``ready`` is how long opening a device may take, ``flow`` after which silence of the
    heartbeat an alarm no longer trusts the device, ``heartbeat`` after which the process is
    killed. Pauses between starts grow from ``first_pause`` to ``longest_pause``; on a
    machine that never had a working device, or lost it ``patience`` seconds ago, to ``idle_pause``, so that it costs
    nothing. A pause ends early when a device or a sound server comes or goes, which is looked for every ``look``.
    """

    ready: float = 6.0
    flow: float = 0.3
    heartbeat: float = 2.0
    first_pause: float = 0.5
    longest_pause: float = 3.0
    idle_pause: float = 30.0
    patience: float = 600.0
    look: float = 0.5
    closing: float = 0.5


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


def child_command(device: str | None) -> list[str]:
    """The command that starts the sound process on a device, by name, or on the default one.

    The current folder is kept off the module path (-P): whatever lies where the operator
    works must not be taken for a part of this program. The folder this package was found
    in comes last, for a tree that runs without being installed.
    """
    home = str(Path(__file__).parents[2])
    start = f"import sys; sys.path.append({home!r}); from analysis.output.sound_child import main; main()"
    return [sys.executable, "-P", "-c", start, *([device] if device else [])]


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
        self._command = list(command) if command else child_command(device)
        self._environment, self._loudness = environment, loudness
        self._timing = timing or SpeakerTiming()
        self._monotonic = monotonic
        self._look = look or (lambda: signs(os.environ if environment is None else environment))
        self._changed = threading.Condition()
        self._closing = threading.Event()
        self._child: Child | None = None
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

    def close(self) -> None:
        """End the sound process; returns within about a second, whatever it does."""
        self._closing.set()
        with self._changed:
            if self._child is not None:
                self._child.send(Quit())
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
        pause, restarts = self._timing.first_pause, 0
        while not self._closing.is_set():
            began = self._monotonic()
            reason, permanent = self._run_one()
            with self._changed:
                self._tickets.fail_all()
                self._set("broken" if permanent else "waiting", reason, device=None)
            if permanent:
                break
            if self._flowed - began > 2 * self._timing.longest_pause:
                pause = self._timing.first_pause  # it worked for a while; one that is only slow to fail is no reason
            if self._pause(pause):
                pause = self._timing.first_pause
            else:
                pause = min(2 * pause, self._longest())
            if self._closing.is_set():
                break
            restarts += 1
            with self._changed:
                self._status = msgspec.structs.replace(self._status, restarts=restarts)
        with self._changed:
            if self._closing.is_set():
                self._set("closed", "closed")

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

    def _run_one(self) -> tuple[str, bool]:
        """One process from start to end; why it ended, and whether to give up."""
        try:
            child = Child(self._command, self._environment)
        except OSError as error:
            return f"the sound process does not start: {error.strerror}", False
        with self._changed:
            self._child = child
            self._status = msgspec.structs.replace(self._status, pid=child.pid)
        try:
            return self._attend(child)
        finally:
            with self._changed:
                self._child = None
                self._status = msgspec.structs.replace(self._status, pid=None)
            child.end(self._timing.closing)

    def _attend(self, child: Child) -> tuple[str, bool]:
        started = self._monotonic()
        ready = False
        while not self._closing.is_set():
            try:
                reports = child.reports(0.05)
            except ChildFault as fault:
                return str(fault), False
            for report in reports:
                if isinstance(report, Failed) and report.ticket is None:
                    return report.reason, report.permanent
                self._hear(report)
                ready = ready or isinstance(report, Ready)
            with self._changed:
                silent = self._monotonic() - self._flowed
            if ready and silent > self._timing.heartbeat:
                return f"the sound device took no sound for {silent:.1f} s and was given up", False
            if not ready and self._monotonic() - started > self._timing.ready:
                return f"the sound device did not open within {self._timing.ready:g} s", False
        return "closed", False

    def _hear(self, report: Report) -> None:
        with self._changed:
            now = self._monotonic()
            match report:
                case Ready():
                    self._was_ready, self._flowed = True, now
                    self._set("ready", "sound flows", device=report.device, calls=0)
                case Heartbeat():
                    if report.calls > self._status.calls:
                        self._flowed = now
                    self._status = msgspec.structs.replace(self._status, calls=report.calls)
                case _:
                    self._tickets.heard(report, now)
                    self._changed.notify_all()
