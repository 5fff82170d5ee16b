"""What a service manager wants to hear of a program that runs for days: ready, alive, stopping.

The protocol is systemd's sd_notify(3): datagrams of ``NAME=value`` lines to the socket named by ``NOTIFY_SOCKET``.
"""

from __future__ import annotations

import contextlib
import os
import socket
from collections.abc import Mapping

_TO_KEEP_OUT = ("NOTIFY_SOCKET", "WATCHDOG_USEC", "WATCHDOG_PID", "LISTEN_PID", "LISTEN_FDS", "LISTEN_FDNAMES")


class ServiceManager:
    """Tells the service manager; silent where there is none, and never waits for it.

    >>> ServiceManager({}).watchdog_seconds is None
    True
    """

    def __init__(self, environment: Mapping[str, str]) -> None:
        path = environment.get("NOTIFY_SOCKET", "")
        # "@" stands for the zero byte of an abstract socket; anything but "/" and "@" is another family.
        self._path = "\0" + path[1:] if path.startswith("@") else path if path.startswith("/") else None
        self.watchdog_seconds = _watchdog(environment) if self._path else None

    @property
    def present(self) -> bool:
        """Whether somebody wants to be told."""
        return self._path is not None

    def ready(self, status: str) -> None:
        """The program does its work from now on."""
        self._tell(f"READY=1\nSTATUS={_one_line(status)}")

    def alive(self, status: str) -> None:
        """It still does; to be told at least twice in ``watchdog_seconds``."""
        self._tell(f"WATCHDOG=1\nSTATUS={_one_line(status)}")

    def stopping(self) -> None:
        """It is about to end."""
        self._tell("STOPPING=1")

    def _tell(self, text: str) -> None:
        if self._path is None:
            return
        # A manager that is being restarted is nothing this program can mend; it goes on with its work.
        with contextlib.suppress(OSError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as sender:
            sender.setblocking(False)
            sender.sendto(text.encode(errors="replace"), self._path)


def without_manager(environment: Mapping[str, str], *more: str) -> dict[str, str]:
    """An environment for children, without what only this process should use, and without the names in ``more``."""
    return {name: value for name, value in environment.items() if name not in (*_TO_KEEP_OUT, *more)}


def journal_listens(environment: Mapping[str, str], descriptor: int) -> bool:
    """Whether an open file is a pipe into systemd's journal (systemd.exec(5), JOURNAL_STREAM)."""
    named = environment.get("JOURNAL_STREAM", "")
    try:
        status = os.fstat(descriptor)
    except OSError:
        return False
    return named == f"{status.st_dev}:{status.st_ino}"


def _watchdog(environment: Mapping[str, str]) -> float | None:
    wanted, whom = environment.get("WATCHDOG_USEC", ""), environment.get("WATCHDOG_PID", "")
    if not (wanted.isascii() and wanted.isdigit() and int(wanted)) or whom not in ("", str(os.getpid())):
        return None
    return int(wanted) / 1e6


def _one_line(text: str) -> str:
    return " ".join("".join(char if char.isprintable() else " " for char in text).split())[:300]
