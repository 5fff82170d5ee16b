"""The service manager's socket: what is sent, what is not, and that nothing waits or fails for it."""

from __future__ import annotations

import os
import socket
from pathlib import Path

import pytest

from analysis.output.service import ServiceManager, journal_listens, without_manager
from tests.tui.cli.guard_rig import Manager


def test_the_messages(tmp_path: Path) -> None:
    socket_of = Manager(tmp_path / "notify")
    manager = ServiceManager({"NOTIFY_SOCKET": socket_of.name, "WATCHDOG_USEC": "30000000"})
    manager.ready("watching\nREADY=0")
    manager.alive("x" * 10_000)
    manager.stopping()
    told = socket_of.told
    socket_of.close()
    assert told[0] == "READY=1 STATUS=watching READY=0" and told[2] == "STOPPING=1"
    assert told[1].startswith("WATCHDOG=1 STATUS=xxx") and len(told[1]) < 400
    assert manager.present and manager.watchdog_seconds == 30.0


@pytest.mark.parametrize("path", ["", "relative/path", "vsock:2:1"])
def test_what_is_no_socket_here_is_no_manager(path: str) -> None:
    manager = ServiceManager({"NOTIFY_SOCKET": path, "WATCHDOG_USEC": "1000000"})
    manager.ready("x")
    assert not manager.present and manager.watchdog_seconds is None


def test_a_manager_that_is_gone_or_full_is_nothing_to_wait_for(tmp_path: Path) -> None:
    ServiceManager({"NOTIFY_SOCKET": str(tmp_path / "nobody")}).alive("x")
    path = str(tmp_path / "full")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listener:
        listener.bind(path)
        manager = ServiceManager({"NOTIFY_SOCKET": path})
        for _ in range(5000):
            manager.alive("nobody reads this")


@pytest.mark.parametrize("usec,pid,seconds", [
    ("500000", "", 0.5), ("500000", str(os.getpid()), 0.5), ("500000", "1", None), ("", "", None), ("0", "", None),
    ("x", "", None), ("-5", "", None),
])  # fmt: skip
def test_whose_watchdog_it_is(usec: str, pid: str, seconds: float | None) -> None:
    environment = {"NOTIFY_SOCKET": "/nowhere", "WATCHDOG_USEC": usec, "WATCHDOG_PID": pid}
    assert ServiceManager(environment).watchdog_seconds == seconds


def test_children_do_not_get_the_socket() -> None:
    environment = {"NOTIFY_SOCKET": "/s", "WATCHDOG_USEC": "1", "WATCHDOG_PID": "1", "PATH": "/bin", "TOKEN": "t"}
    assert without_manager(environment, "TOKEN") == {"PATH": "/bin"}


def test_whether_the_journal_reads(tmp_path: Path) -> None:
    with (tmp_path / "file").open("wb") as file:
        status = os.fstat(file.fileno())
        assert journal_listens({"JOURNAL_STREAM": f"{status.st_dev}:{status.st_ino}"}, file.fileno())
        assert not journal_listens({"JOURNAL_STREAM": f"{status.st_dev}:{status.st_ino + 1}"}, file.fileno())
        assert not journal_listens({}, file.fileno())
        closed = file.fileno()
    assert not journal_listens({"JOURNAL_STREAM": "1:1"}, closed)
