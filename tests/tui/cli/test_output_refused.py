"""Output that cannot be written: a full disk, or an output that was handed over closed."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

import pytest

from analysis.journal.read import history
from tests.tui.cli.program import PROGRAM, ROOT, environment

FULL = Path("/dev/full")


def run(arguments: list[str], home: Path, redirection: str) -> subprocess.CompletedProcess[bytes]:
    """Run the program by way of a shell, which alone can hand over an output that is closed."""
    return subprocess.run(
        ["sh", "-c", f'exec "$@" {redirection}', "sh", *PROGRAM, *arguments],
        capture_output=True, cwd=ROOT, env=environment(home), timeout=60, check=False,
    )  # fmt: skip


@pytest.mark.skipif(not FULL.exists(), reason="this system has no /dev/full")
@pytest.mark.parametrize("arguments", [["sounds"], ["sounds", "--help"], ["--version"], ["curves", "list"]])
def test_a_full_disk_is_told_in_one_line(arguments: list[str], tmp_path: Path) -> None:
    done = run(arguments, tmp_path, "> /dev/full")
    assert done.returncode == 1
    assert done.stderr.decode().splitlines() == [
        f"stopkeeper: standard output: {os.strerror(28)}; make room, or send it elsewhere"
    ]


@pytest.mark.parametrize("redirection", [">&-", "2>&-", "<&- >&- 2>&-"])
def test_a_closed_output_is_no_failure(redirection: str, tmp_path: Path) -> None:
    done = run(["sounds", "feed"], tmp_path, redirection)
    assert done.returncode == 0
    assert b"Traceback" not in done.stderr


def test_lines_for_a_closed_output_do_not_go_into_the_journal(tmp_path: Path) -> None:
    # The first file that a program opens gets the number of an output that is closed.
    done = run(["guard", "scene:boathouse?size=320x180", "--seconds", "4"], tmp_path, "<&- >&- 2>&-")
    assert done.returncode == 0
    kept = tmp_path / ".local/state/stopkeeper/journal.db"
    assert kept.read_bytes().startswith(b"SQLite format 3")
    assert any(entry.kind == "feed" for entry in history(kept, 50))
