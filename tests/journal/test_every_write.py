"""A disk that runs full at every single write SQLite makes: nothing escapes, nothing is lost, the gap is exact."""

from __future__ import annotations

import errno
import shutil
import sqlite3
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from analysis.journal import journal as journal_module
from analysis.journal.entry import Gap
from analysis.journal.journal import Journal
from analysis.journal.read import history, readings
from tests.journal.failing_disk import FailingDisk
from tests.journal.story import change, reading
from tests.support.fake_clock import FakeClock

WRITES = 200
LATER = 12
"""Entries that are recorded while there is no room."""
MEMORY = Path("/dev/shm")


@pytest.fixture(scope="module")
def failing() -> Iterator[FailingDisk]:
    try:
        disk = FailingDisk()
    except RuntimeError as error:
        pytest.skip(str(error))
    with disk:
        yield disk


@pytest.fixture
def folder() -> Iterator[Path]:
    """In memory where there is such a place: two hundred journals wait for no disk then."""
    made = Path(tempfile.mkdtemp(dir=MEMORY if MEMORY.is_dir() else None))
    yield made
    shutil.rmtree(made)


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """The pauses between tries in one hundredth of their time."""
    for name in ("_FIRST_PAUSE", "_LONGEST_PAUSE"):
        monkeypatch.setattr(journal_module, name, getattr(journal_module, name) / 100)


def settled_or_full(journal: Journal, disk: FailingDisk) -> bool:
    """Whether what was recorded is on the disk; False once the disk refused something and the journal has seen it."""
    limit = time.monotonic() + 30.0
    while time.monotonic() < limit:
        state = journal.status()
        if state.fault is not None:
            return False
        if state.waiting == 0 and not disk.refused:
            return True
        if state.waiting == 0 and disk.refused:
            return True  # refused where SQLite can do without: writing its log back
        time.sleep(0.0005)
    raise AssertionError(f"neither written nor refused: {journal.status()}")


@pytest.mark.parametrize("tens", range(0, WRITES, 10))
def test_whichever_write_finds_no_room(failing: FailingDisk, folder: Path, tens: int) -> None:
    gaps = 0
    for write in range(tens + 1, tens + 11):
        gaps += one_refusing_disk(failing, folder / f"{write}" / "journal.db", write)
    assert gaps >= 5, "SQLite can do without few of its writes"


@pytest.mark.parametrize("code", [errno.EIO, errno.EROFS, errno.EDQUOT, errno.EPERM])
def test_a_disk_that_fails_otherwise_is_waited_for_too(failing: FailingDisk, folder: Path, code: int) -> None:
    """A failing disk, one made read-only, a quota, a permission that was taken away."""
    for write in (1, 5, 9, 20, 41, 77, 78):
        one_refusing_disk(failing, folder / f"{write}" / "journal.db", write, code)


def one_refusing_disk(disk: FailingDisk, path: Path, write: int, code: int = errno.ENOSPC) -> int:
    """Record while the disk refuses from one write on, and after it has room again; returns how many gaps were told."""
    disk.full_from(write, code)
    journal = Journal(path, FakeClock())
    number = 0
    while number < 300 and (number == 0 or settled_or_full(journal, disk)) and disk.writes < write:
        number += 1
        journal.alarm_changed(change(number))
        journal.reading_taken(reading(), change(number).at)
    assert disk.writes >= write, "so many writes were made"
    for later in range(number + 1, number + LATER + 1):
        journal.alarm_changed(change(later))
    last = number + LATER
    settled_or_full(journal, disk)
    disk.room()
    assert journal.settled(10.0), f"write {write}: {journal.status()}"
    entries = history(path, 1000)
    assert [entry.what.occurrence for entry in entries if entry.kind == "alarm"] == list(range(1, last + 1))  # type: ignore[union-attr]
    assert [entry.sequence for entry in entries] == list(range(1, len(entries) + 1))
    gaps = [entry.what for entry in entries if isinstance(entry.what, Gap)]
    assert len(gaps) <= 1
    for gap in gaps:
        # What waited is what stands after the gap, and the notes made meanwhile are among it.
        place = next(place for place, entry in enumerate(entries) if entry.what == gap)
        assert gap.kept == len(entries) - place - 1 >= LATER
        assert (gap.lost, gap.lost_readings) == (0, 0)
    assert len(readings(path, 0.0, 2e9)) == number
    assert journal.close()
    with sqlite3.connect(path) as other:
        assert other.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    other.close()
    return len(gaps)


def test_however_long_there_was_no_room_it_is_tried_again_within_five_seconds(
    failing: FailingDisk, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ten seconds after there is room again everything must be on the disk; watched here at a tenth of the pauses."""
    for name, real in (("_FIRST_PAUSE", 0.5), ("_LONGEST_PAUSE", 5.0)):
        assert getattr(journal_module, name) * 100 == pytest.approx(real)
        monkeypatch.setattr(journal_module, name, real / 10)
    journal = Journal(folder / "journal.db", FakeClock())
    failing.full_from(1)
    journal.alarm_changed(change(1))
    ahead, end = 0.0, time.monotonic() + 30.0
    while ahead < 0.4 and time.monotonic() < end:
        time.sleep(0.01)
        ahead = max(ahead, journal._not_before - time.monotonic())
    for _ in range(80):
        time.sleep(0.01)
        ahead = max(ahead, journal._not_before - time.monotonic())
    assert 0.4 <= ahead <= 0.5, "the pause has grown to its longest and no further"
    assert journal.status().fault == "no space left on the disk"
    failing.room()
    begun = time.monotonic()
    while journal.status().fault is not None and time.monotonic() < begun + 30.0:
        time.sleep(0.01)
    assert time.monotonic() - begun < 10.0
    assert journal.close()
