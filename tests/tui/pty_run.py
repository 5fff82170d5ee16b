"""Runs a program under a pseudo-terminal of a given size and link speed, and answers like a terminal.

Answers are given when the bytes that ask for them have come through the throttled link, so a
slow link delays them exactly as a real one would. ``Session`` keeps what was received and when.
"""

from __future__ import annotations

import codecs
import fcntl
import os
import pty
import re
import select
import signal
import struct
import termios
import time
from collections.abc import Callable
from pathlib import Path

from tests.tui.emulator import Emulator

ROOT = Path(__file__).parents[2]
_QUERY = re.compile(rb"\x1b\[\?(2026|2048)\$p|\x1b\[(\d*);(\d*)H\x1b\[6n|\x1b\[6n")


class Session:
    """A running program, its screen, and the bytes that reached it."""

    def __init__(
        self,
        command: list[str],
        size: tuple[int, int] = (120, 40),
        rate: float | None = None,
        env: dict[str, str | None] | None = None,
        answers: bool = True,
    ) -> None:
        self.screen = Emulator(*size)
        self.chunks: list[tuple[float, int]] = []
        self.received = bytearray()
        self.status: int | None = None
        self._rate, self._answers = rate, answers
        self._tail = b""
        self._decoder = codecs.getincrementaldecoder("utf-8")("replace")
        self._budget, self._last = 0.0, time.monotonic()
        self.pid, self._fd = pty.fork()
        if self.pid == 0:
            self._become(command, size, env or {})
        self.resize(*size)

    def _become(self, command: list[str], size: tuple[int, int], env: dict[str, str | None]) -> None:
        fcntl.ioctl(0, termios.TIOCSWINSZ, struct.pack("HHHH", size[1], size[0], 0, 0))
        os.chdir(ROOT)
        values = dict(os.environ, TERM="xterm-256color", COLORTERM="truecolor", LANG="C.UTF-8", PYTHONPATH=str(ROOT))
        for name in ("TMUX", "STY", "NO_COLOR", "COLUMNS", "LINES"):
            values.pop(name, None)
        for name, value in env.items():
            if value is None:
                values.pop(name, None)
            else:
                values[name] = value
        os.execvpe(command[0], command, values)

    def resize(self, width: int, height: int) -> None:
        """Another window size."""
        self.screen.resize(width, height)
        fcntl.ioctl(self._fd, termios.TIOCSWINSZ, struct.pack("HHHH", height, width, 0, 0))

    def press(self, keys: str) -> None:
        """Type."""
        os.write(self._fd, keys.encode())

    def run(self, seconds: float, until: Callable[[Session], bool] | None = None) -> bool:
        """Let it go on; True as soon as ``until`` holds, else after ``seconds`` whether it never did."""
        end = time.monotonic() + seconds
        while time.monotonic() < end and self.status is None:
            if self._turn() and until is not None and until(self):
                return True
        return until is not None and until(self)

    def _turn(self) -> bool:
        want = 65536
        if self._rate is not None:
            now = time.monotonic()
            self._budget = min(self._budget + (now - self._last) * self._rate, self._rate * 0.05 + 1)
            self._last = now
            if self._budget < 32:
                time.sleep(0.004)
                return False
            want = int(self._budget)
        ready, _, _ = select.select([self._fd], [], [], 0.02)
        if not ready:
            return False
        try:
            data = os.read(self._fd, want)
        except OSError:
            data = b""
        if not data:
            self.status = os.waitstatus_to_exitcode(os.waitpid(self.pid, 0)[1])
            return True
        self._budget -= len(data)
        self.chunks.append((time.monotonic(), len(data)))
        self.received += data
        self.screen.feed(self._decoder.decode(data))
        self._answer(data)
        return True

    def _answer(self, data: bytes) -> None:
        buffer = self._tail + data
        for match in _QUERY.finditer(buffer):
            if match.end() <= len(self._tail):
                continue
            if match[1] == b"2026":
                os.write(self._fd, b"\x1b[?2026;2$y")
            elif match[1] is None and self._answers:
                column = min(int(match[3] or 1), self.screen.width)
                os.write(self._fd, b"\x1b[%s;%dR" % (match[2] or b"1", column))
        self._tail = buffer[-24:]

    def rate_between(self, start: float, end: float) -> float:
        """Bytes a second that arrived between two instants of the monotonic clock."""
        return sum(size for at, size in self.chunks if start <= at < end) / (end - start)

    def text(self) -> str:
        """The screen as text."""
        return "\n".join(self.screen.lines())

    def close(self) -> None:
        """End the program if it still runs."""
        if self.status is None:
            os.kill(self.pid, signal.SIGKILL)
            self.status = os.waitstatus_to_exitcode(os.waitpid(self.pid, 0)[1])
        os.close(self._fd)

    def __enter__(self) -> Session:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()
