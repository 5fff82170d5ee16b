"""A program of the operator's own, run with each change of an alarm as JSON on its standard input."""

from __future__ import annotations

import os
import shutil
import subprocess
import threading
import time
from collections.abc import Callable, Mapping, Sequence

import msgspec

from analysis.model.alarm import AlarmChange
from analysis.model.errors import UsageError
from analysis.model.feed import FeedEvent
from analysis.output.attend import attend
from analysis.output.change_line import change_line, is_hidden

Complaint = Callable[[str], None]
"""Takes one line about what failed; called from any thread, so it must not wait."""

MOST_ALARMS = 64


class HookTiming(msgspec.Struct, frozen=True, kw_only=True):
    """Seconds: how long a program may run, and how long it has to end once it was asked to, before it is killed."""

    run: float = 10.0
    ending: float = 0.5


class Hook:
    """Hands changes to a program, never more than one run at a time for an alarm.

    While it runs for an alarm, that alarm's newest change waits; one that waited before is given up and told.
    ``most`` bounds the runs at one time over all alarms. No shell takes part. What the program prints is thrown
    away; the end of what it says on standard error goes into the line that tells of its failure. It runs in a
    session of its own, so that whatever it started ends with it when its time is over.

    ``UsageError`` for a program that cannot be found.
    """

    def __init__(
        self,
        command: Sequence[str],
        complain: Complaint,
        *,
        timing: HookTiming | None = None,
        most: int = 8,
        environment: Mapping[str, str] | None = None,
    ) -> None:
        self._command = found_program(command)
        self._complain, self._timing = complain, timing or HookTiming()
        self._environment = None if environment is None else dict(environment)
        self._most = most
        self._changed = threading.Condition()
        self._waiting: dict[str, AlarmChange] = {}
        self._running: set[str] = set()
        self._workers = 0
        self._closing = threading.Event()
        self.runs = self.failed = self.replaced = 0

    def alarm_changed(self, change: AlarmChange) -> None:
        """Take a change; returns at once. One that a shelf or suppression hides runs nothing."""
        if is_hidden(change):
            return
        lost: AlarmChange | None = None
        with self._changed:
            if self._closing.is_set():
                return
            lost = self._waiting.pop(change.alarm, None)
            if lost is None and len(self._waiting) >= MOST_ALARMS:
                lost = self._waiting.pop(next(iter(self._waiting)))
            self._waiting[change.alarm] = change
            self.replaced += lost is not None
            if self._workers < self._most and change.alarm not in self._running:
                self._workers += 1
                threading.Thread(target=self._work, name="hook", daemon=True).start()
        if lost is not None:
            told = f"{lost.alarm} {lost.occurrence} to {lost.after}"
            self._complain(f"hook {self._command[0]}: still busy, so {told} was not handed over; a newer change was")

    def feed_changed(self, event: FeedEvent) -> None:
        """Nothing: what matters of a feed is an alarm."""

    def wait(self, seconds: float) -> bool:
        """Wait until everything was handed over, at most ``seconds``; True when it was."""
        with self._changed:
            return self._changed.wait_for(lambda: not self._waiting and not self._running, seconds)

    def close(self, seconds: float = 1.5) -> None:
        """Take no more, give running programs ``seconds`` to end, kill them, and return."""
        began = time.monotonic()
        with self._changed:
            drained = self._changed.wait_for(lambda: not self._waiting and not self._running, seconds / 2)
            left = list(self._waiting.values())
            self._waiting.clear()
            self._closing.set()
        for change in left:
            self._complain(
                f"hook {self._command[0]}: stopped before {change.alarm} {change.occurrence} was handed over"
            )
        if not drained:
            self.wait(max(0.0, seconds - (time.monotonic() - began)))

    def _work(self) -> None:
        while (change := self._next()) is not None:
            try:
                trouble = self._run(change_line(change))
            except OSError as error:
                trouble = f"does not start: {error.strerror or error}"
            with self._changed:
                self.runs += 1
                self.failed += trouble is not None
                self._running.discard(change.alarm)
                self._changed.notify_all()
            if trouble is not None:
                self._complain(f"hook {self._command[0]}: {trouble} ({change.alarm} to {change.after})")

    def _next(self) -> AlarmChange | None:
        """The oldest waiting change of an alarm for which nothing runs; None ends this thread."""
        with self._changed:
            for alarm in self._waiting:
                if alarm not in self._running:
                    self._running.add(alarm)
                    return self._waiting.pop(alarm)
            self._workers -= 1
            return None

    def _run(self, text: bytes) -> str | None:
        """One run from start to end; what went wrong in words, else None."""
        # A pipe filled before the start: whether the program reads it or not, nobody here can wait for it.
        reading, writing = os.pipe()
        try:
            try:
                os.set_blocking(writing, False)
                os.write(writing, text)
            finally:
                os.close(writing)
            process = subprocess.Popen(
                self._command,
                stdin=reading,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.PIPE,
                bufsize=0,
                env=self._environment,
                start_new_session=True,
            )
        finally:
            os.close(reading)
        ended = attend(process, self._timing.run, self._closing.is_set, ending=self._timing.ending)
        if ended.cut == "late":
            return f"took over {self._timing.run:g} s, killed"
        if ended.cut == "stopped":
            return "ended with the program"
        if ended.code == 0:
            return None
        how = f"exit code {ended.code}" if ended.code > 0 else f"ended by signal {-ended.code}"
        return f"{how}: {ended.said}" if ended.said else how


def found_program(command: Sequence[str]) -> list[str]:
    """The argument list with the program's full path; ``UsageError`` when there is none to run.

    >>> found_program(["sh", "-x"])[0].endswith("/sh")
    True
    """
    if not command or not command[0].strip():
        raise UsageError("no program named", "hook", "give a program and its arguments")
    path = shutil.which(command[0])
    if path is None:
        raise UsageError(
            f"no program {command[0]} that may be run", "hook", "check its path and its execute permission"
        )
    if any("\0" in word for word in command):
        raise UsageError("an argument holds a zero byte", "hook", "leave it out")
    return [path, *command[1:]]
