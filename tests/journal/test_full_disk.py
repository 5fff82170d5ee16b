"""A disk that is full, read-only, or whose folder is gone: the watch goes on, and the gap is told afterwards."""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from analysis.journal.entry import Gap
from analysis.journal.journal import Journal
from analysis.journal.read import history
from analysis.model.errors import JournalError
from tests.journal.small_disk import can_mount, fill, remount, small_disk
from tests.journal.story import change, reading
from tests.support.fake_clock import FakeClock

ROOT = Path(__file__).parents[2]


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    if not can_mount(tmp_path):
        pytest.skip("needs to mount a small file system; the limit on file size is tested without")
    with small_disk(tmp_path / "disk", 400) as point:
        yield point


def until(holds: Callable[[], bool], seconds: float = 30.0) -> bool:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if holds():
            return True
        time.sleep(0.01)
    return holds()


def rises(path: Path) -> list[int]:
    return [entry.what.occurrence for entry in history(path, 20_000, kind="alarm")]  # type: ignore[union-attr]


def gaps(path: Path) -> list[Gap]:
    return [entry.what for entry in history(path, 20_000, kind="gap")]  # type: ignore[misc]


def test_a_disk_that_fills_up_and_gets_room_loses_nothing_and_tells_the_gap(disk: Path) -> None:
    path, clock = disk / "journal.db", FakeClock()
    journal = Journal(path, clock)
    filler = fill(disk)
    number = 0
    while journal.status().fault is None:
        number += 1
        journal.alarm_changed(change(number))
        until(lambda: journal.status().waiting == 0 or journal.status().fault is not None)
        assert number < 2000
    assert journal.status().fault == "no space left on the disk"
    failed_at = clock.now()
    clock.advance(60.0)
    for _ in range(25):
        number += 1
        journal.alarm_changed(change(number))
    assert journal.status().waiting == 26
    assert not journal.settled(0.05)
    filler.unlink()
    assert journal.settled(30.0)
    assert journal.status().fault is None and journal.status().lost == 0
    assert rises(path) == list(range(1, number + 1)), "every one, in order"
    (gap,) = gaps(path)
    assert (gap.kept, gap.lost, gap.lost_readings, gap.why) == (26, 0, 0, "no space left on the disk")
    assert gap.began == failed_at and gap.ended == clock.now()
    assert journal.close()
    with sqlite3.connect(path) as other:
        assert other.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    other.close()


@pytest.mark.parametrize("leave", range(0, 120_000, 10_000))
def test_wherever_the_disk_runs_full_all_is_kept(disk: Path, leave: int) -> None:
    """From the first byte of a new file on: opening, making tables, the log, the write-back."""
    filler = fill(disk, leave)
    path = disk / "journal.db"
    journal = Journal(path, FakeClock())
    for number in range(1, 41):
        journal.alarm_changed(change(number))
        journal.reading_taken(reading(), change(number).at)
        if number % 8 == 0:
            until(lambda: journal.status().waiting == 0 or journal.status().fault is not None)
    filler.unlink()
    assert journal.settled(30.0), journal.status()
    assert rises(path) == list(range(1, 41))
    assert len(gaps(path)) <= 2
    assert journal.close()


def test_a_disk_that_is_full_from_the_start_is_no_reason_to_refuse(disk: Path) -> None:
    filler = fill(disk)
    journal = Journal(disk / "journal.db", FakeClock())
    journal.alarm_changed(change())
    assert until(lambda: journal.status().fault is not None)
    filler.unlink()
    assert journal.settled(30.0)
    assert rises(disk / "journal.db") == [1]
    assert journal.close()


def test_what_does_not_fit_in_memory_is_counted_and_the_newest_are_kept(disk: Path) -> None:
    path = disk / "journal.db"
    journal = Journal(path, FakeClock(), most=50)
    filler = fill(disk)
    for number in range(1, 501):
        journal.alarm_changed(change(number))
        if journal.status().fault is None:
            until(lambda: journal.status().waiting == 0 or journal.status().fault is not None)
    state = journal.status()
    assert state.fault == "no space left on the disk"
    assert (state.waiting, state.written + state.lost) == (50, 450)
    filler.unlink()
    assert journal.settled(30.0)
    (gap,) = gaps(path)
    assert (gap.kept, gap.lost) == (50, state.lost)
    assert rises(path) == [*range(1, state.written + 1), *range(451, 501)]
    assert journal.close()


def test_closing_on_a_full_disk_ends_in_time_and_says_so(disk: Path) -> None:
    journal = Journal(disk / "journal.db", FakeClock())
    fill(disk)
    for number in range(1, 2000):
        journal.alarm_changed(change(number))
    assert not journal.close(20.0)
    assert journal.status().waiting > 0


def test_a_read_only_disk_is_refused_at_the_start_and_can_still_be_read(disk: Path) -> None:
    path = disk / "journal.db"
    journal = Journal(path, FakeClock())
    journal.alarm_changed(change())
    assert journal.close()
    remount(disk, "ro")
    with pytest.raises(JournalError, match="read-only file system; check the folder, or name another file"):
        Journal(path, FakeClock())
    assert rises(path) == [1]


def test_a_folder_that_is_taken_away_is_made_again(tmp_path: Path) -> None:
    path = tmp_path / "state" / "journal.db"
    journal = Journal(path, FakeClock(), address="cam")
    journal.alarm_changed(change(1))
    assert journal.settled(30.0)
    shutil.rmtree(path.parent)
    journal.alarm_changed(change(2))
    assert journal.settled(30.0)
    assert rises(path) == [2]
    (gap,) = gaps(path)
    assert gap.why in ("the file was taken away", "no such file or directory")
    assert journal.close()


LIMITED = """
import resource, signal, sys
from pathlib import Path
from analysis.journal.journal import Journal
from tests.journal.story import change
from tests.support.fake_clock import FakeClock
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
path = Path(sys.argv[1])
journal = Journal(path, FakeClock())
journal.alarm_changed(change(1))
assert journal.settled(30.0)
soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
resource.setrlimit(resource.RLIMIT_FSIZE, (64_000, hard))
number = 1
while journal.status().fault is None and number < 5000:
    number += 1
    journal.alarm_changed(change(number))
    journal.settled(0.05)
assert journal.status().fault, "the limit was never met"
resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
assert journal.settled(30.0), journal.status()
assert journal.close(30.0)
print(number)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="no limit on file size there")
def test_a_limit_on_the_size_of_files_is_a_full_disk_too(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    done = subprocess.run(
        [sys.executable, "-c", LIMITED, str(path)], cwd=ROOT, capture_output=True, text=True, timeout=120
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert rises(path) == list(range(1, int(done.stdout) + 1))
    assert len(gaps(path)) == 1
