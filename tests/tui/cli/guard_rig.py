"""Runs the guard as its own process, with its command known to the program, and gives back what it said."""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

from tests.tui.cli.program import ROOT, Said, environment

PATIENT = 30.0
ENTRY = (
    "from tui.cli import main\n"
    "for name in ('guard', 'sounds'): main.COMMANDS.setdefault(name, (f'tui.cli.{name}', name))\n"
    "main.main()"
)
TOUCHY = "[alarms.shadows]\nlimit = 0.0001\nclear = 0\non_delay = 0\n[meter]\ncrush_percent = 30\n"
"""Settings under which the boathouse raises one alarm, shadows, with its first picture."""


class Running:
    """A program that runs; ``close`` ends it whatever it does."""

    def __init__(self, folder: Path, *arguments: str, settings: str = TOUCHY, **env: str) -> None:
        (folder / "settings.toml").write_text(settings)
        self.out_path, self.err_path = folder / "out", folder / "err"
        with self.out_path.open("wb") as out, self.err_path.open("wb") as err:
            self.process = subprocess.Popen(
                [sys.executable, "-c", ENTRY, *arguments, "--config", str(folder / "settings.toml")],
                stdin=subprocess.DEVNULL, stdout=out, stderr=err, cwd=ROOT, env=environment(folder, **env),
            )  # fmt: skip

    @property
    def out(self) -> str:
        return self.out_path.read_text()

    @property
    def err(self) -> str:
        return self.err_path.read_text()

    def until(self, true: Callable[[], object], what: str) -> None:
        deadline = time.monotonic() + PATIENT
        while not true():
            told = f"never happened: {what}\n{self.out}\n{self.err}"
            assert time.monotonic() < deadline and self.process.poll() is None, told
            time.sleep(0.02)

    def ended(self) -> Said:
        """Wait for its own end."""
        code = self.process.wait(PATIENT)
        return Said(code, self.out, self.err)

    def signalled(self, number: signal.Signals) -> tuple[Said, float]:
        """End it by a signal; also how many seconds that took."""
        began = time.monotonic()
        self.process.send_signal(number)
        return self.ended(), time.monotonic() - began

    def alarmed(self) -> Said:
        """Let it run until the alarm about the shadows is told, then end it by SIGTERM."""
        self.until(lambda: "shadows" in self.out, "the alarm")
        return self.signalled(signal.SIGTERM)[0]

    def close(self) -> None:
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()


class Manager:
    """The socket of a service manager, and what it was told."""

    def __init__(self, path: Path, abstract: bool = False) -> None:
        self.name = f"@{path}" if abstract else str(path)
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._socket.bind(f"\0{path}" if abstract else str(path))
        self._socket.setblocking(False)
        self._told: list[str] = []

    @property
    def told(self) -> list[str]:
        """Every message so far, as its lines joined by a blank."""
        while True:
            try:
                self._told.append(self._socket.recv(4096).decode().replace("\n", " "))
            except BlockingIOError:
                return self._told

    def close(self) -> None:
        self._socket.close()
