"""A started program seen through to its end: by itself, by its deadline, or because it is to stop."""

from __future__ import annotations

import contextlib
import os
import select
import signal
import subprocess
import time
from collections.abc import Callable
from typing import IO, Literal

import msgspec

_LOOK_SECONDS = 0.02
_SAID_BYTES = 2048


class Ended(msgspec.Struct, frozen=True, kw_only=True):
    """How it ended: its exit code (below zero: a signal), its last words, and why it was cut short if it was."""

    code: int
    said: str
    cut: Literal["", "late", "stopped"] = ""


def attend(process: subprocess.Popen[bytes], seconds: float, stop: Callable[[], bool], *, ending: float) -> Ended:
    """Wait for a program started in a session of its own, with standard error in a pipe.

    After ``seconds``, or as soon as ``stop`` says so, it is asked to end (SIGTERM) and after ``ending`` more killed
    (0: killed at once). Whatever it started in its session ends with it. Its standard error is read all the while,
    so it cannot fill up; what it leaves open there is not waited for.
    """
    assert process.stderr is not None
    with process.stderr as errors:
        said = _Said(errors)
        deadline = time.monotonic() + seconds
        cut: Literal["", "late", "stopped"] = ""
        while process.poll() is None:
            stopped = stop()
            if stopped or time.monotonic() > deadline:
                cut = "stopped" if stopped else "late"
                _end(process, ending)
                break
            said.listen(_LOOK_SECONDS)
        said.listen(0.0)
        # What it left behind in its session would otherwise gather over days.
        _signal(process.pid, signal.SIGKILL)
        return Ended(code=process.returncode if process.returncode is not None else -9, said=said.last, cut=cut)


def _end(process: subprocess.Popen[bytes], ending: float) -> None:
    if ending > 0:
        _signal(process.pid, signal.SIGTERM)
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(ending)
    _signal(process.pid, signal.SIGKILL)
    with contextlib.suppress(subprocess.TimeoutExpired):
        process.wait(0.5)


class _Said:
    """The end of what a program says on standard error, read without ever waiting for it."""

    def __init__(self, errors: IO[bytes]) -> None:
        self._file = errors.fileno()
        os.set_blocking(self._file, False)
        self._poll = select.poll()
        self._poll.register(self._file, select.POLLIN)
        self._open, self._kept = True, b""

    def listen(self, seconds: float) -> None:
        if not self._open:
            time.sleep(seconds)
            return
        if not self._poll.poll(seconds * 1000):
            return
        with contextlib.suppress(BlockingIOError):
            chunk = os.read(self._file, 65_536)
            self._open = bool(chunk)
            self._kept = (self._kept + chunk)[-_SAID_BYTES:]

    @property
    def last(self) -> str:
        """Its last line that says anything, without control characters."""
        lines = [line.strip() for line in self._kept.decode(errors="replace").splitlines() if line.strip()]
        return "".join(char if char.isprintable() else "?" for char in lines[-1])[:200] if lines else ""


def _signal(session: int, number: signal.Signals) -> None:
    with contextlib.suppress(ProcessLookupError, PermissionError):
        os.killpg(session, number)
