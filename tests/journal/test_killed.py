"""Killed at any moment, nothing that was confirmed is lost. A process's end only: not a power cut."""

from __future__ import annotations

import random
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest

from analysis.journal.journal import Journal
from analysis.journal.read import history
from analysis.model.errors import JournalError
from tests.support.fake_clock import FakeClock

ROOT = Path(__file__).parents[2]
ROUNDS = 30


def writer(path: Path, last: int = 0) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "tests.journal.writer", str(path), str(last)],
        cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, bufsize=1,
    )  # fmt: skip


def begin(process: subprocess.Popen[str]) -> None:
    assert process.stdin is not None
    process.stdin.write("go\n")
    process.stdin.flush()


def end(process: subprocess.Popen[str]) -> list[int]:
    process.send_signal(signal.SIGKILL)
    assert process.stdin is not None and process.stdout is not None
    with process.stdin, process.stdout:
        said = process.stdout.read()
    process.wait(60)
    return [int(line) for line in said.splitlines()]


def test_thirty_killed_writers_lose_nothing_that_was_confirmed(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    dice = random.Random(8)
    confirmed: set[int] = set()
    # The next one is started early, so that its imports do not cost the round.
    waiting = writer(path)
    for number in range(ROUNDS):
        process, begun = waiting, 1000 * number
        waiting = writer(path, begun + 1000)
        begin(process)
        assert process.stdout is not None
        first = int(process.stdout.readline())
        time.sleep(dice.uniform(0.0, 0.05))
        confirmed |= {first, *end(process)}
    end(waiting)
    entries = history(path, 100_000)
    written = [entry.what.occurrence for entry in entries]  # type: ignore[union-attr]
    assert confirmed <= set(written)
    assert len(confirmed) >= ROUNDS
    # At most one more than was confirmed in each round: it was on the disk before its number was printed.
    assert len(written) - len(confirmed) <= ROUNDS
    assert written == sorted(set(written)), "in order, none twice"
    assert [entry.sequence for entry in entries] == list(range(1, len(entries) + 1)), "no holes"
    with sqlite3.connect(path) as other:
        assert other.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    other.close()


def test_a_second_writer_is_refused_and_gets_its_turn_after_the_first_was_killed(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    process = writer(path)
    begin(process)
    assert process.stdout is not None
    process.stdout.readline()
    with pytest.raises(JournalError) as refused:
        Journal(path, FakeClock())
    assert refused.value.line() == (
        f"{path}: another stopkeeper writes this journal; end that one, or name another file"
    )
    assert history(path), "reading beside it is allowed"
    end(process)
    journal = Journal(path, FakeClock())
    assert journal.close()
