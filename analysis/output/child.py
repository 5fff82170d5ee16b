"""A child process at arm's length: nothing here waits longer than it is told to."""

from __future__ import annotations

import os
import select
import subprocess
from collections.abc import Mapping, Sequence

import msgspec

from analysis.output.protocol import LONGEST_LINE, Command, Report, line, report

_READ_AT_ONCE = 65_536


class ChildFault(Exception):
    """The child is gone or does not speak the protocol."""


class Child:
    """One running sound process: commands in, reports out, both without blocking.

    Its standard error goes to the null device, and it has a session of its own so that
    Ctrl-C in the terminal does not reach it. ``OSError`` when it cannot be started.
    """

    def __init__(self, command: Sequence[str], environment: Mapping[str, str] | None) -> None:
        self._process = subprocess.Popen(
            list(command),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            bufsize=0,
            env=None if environment is None else dict(environment),
            start_new_session=True,
        )
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._orders, self._answers = self._process.stdin, self._process.stdout
        os.set_blocking(self._orders.fileno(), False)
        os.set_blocking(self._answers.fileno(), False)
        # poll and not select: a process with many open files has numbers that select refuses.
        self._listener = select.poll()
        self._listener.register(self._answers, select.POLLIN)
        self._torn = b""

    @property
    def pid(self) -> int:
        """The process number."""
        return self._process.pid

    def send(self, command: Command) -> bool:
        """Hand over one command; False when the child does not take it."""
        text = line(command)
        try:
            # A line is far shorter than PIPE_BUF, so it goes whole or not at all.
            return os.write(self._orders.fileno(), text) == len(text)
        except (OSError, ValueError):
            return False

    def reports(self, seconds: float) -> list[Report]:
        """What the child says within ``seconds``, as soon as there is something.

        Raises :class:`ChildFault` when it has ended or says what is not the protocol.
        """
        if not self._listener.poll(seconds * 1000):
            return []
        try:
            chunk = os.read(self._answers.fileno(), _READ_AT_ONCE)
        except BlockingIOError:
            return []
        if not chunk:
            raise ChildFault("the sound process ended")
        *lines, self._torn = (self._torn + chunk).split(b"\n")
        if len(self._torn) > LONGEST_LINE:
            raise ChildFault("the sound process said what cannot be understood")
        try:
            return [report(text) for text in lines]
        except msgspec.MsgspecError:
            raise ChildFault("the sound process said what cannot be understood") from None

    def end(self, seconds: float) -> bool:
        """Kill it and collect it within ``seconds``; False when the system could not yet."""
        self._process.kill()
        for pipe in (self._orders, self._answers):
            pipe.close()
        try:
            self._process.wait(seconds)
        except subprocess.TimeoutExpired:
            return False
        return True
