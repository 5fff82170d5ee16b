"""Room kept for what happens last: there while the disk has room, given up when it has none, and kept anew after."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from analysis.journal import journal as journal_module
from analysis.journal.journal import Journal
from analysis.journal.read import history
from analysis.journal.reserve import Reserve
from tests.journal.small_disk import can_mount, fill, small_disk
from tests.journal.story import change, reading
from tests.support.fake_clock import FakeClock

SIZE = 256 << 10


@pytest.fixture
def disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    if not can_mount(tmp_path):
        pytest.skip("needs to mount a small file system")
    # Looked after at every write here, not every ten seconds.
    monkeypatch.setattr(journal_module, "_TIDY_SECONDS", 0.0)
    with small_disk(tmp_path / "disk", 2048) as point:
        yield point


def until(holds: Callable[[], bool], seconds: float = 30.0) -> bool:
    end = time.monotonic() + seconds
    while not holds() and time.monotonic() < end:
        time.sleep(0.01)
    return holds()


def rises(path: Path) -> list[int]:
    return [entry.what.occurrence for entry in history(path, 20_000, kind="alarm")]  # type: ignore[union-attr]


def notes(path: Path) -> list[str]:
    return [entry.what.words for entry in history(path, 20_000, kind="note")]  # type: ignore[union-attr]


def record(journal: Journal, numbers: range) -> None:
    for number in numbers:
        journal.alarm_changed(change(number))
        journal.reading_taken(reading(), change(number).at)
        until(lambda: journal.status().waiting == 0 or journal.status().fault is not None)


def test_the_reserve_is_real_room_of_its_size_and_nobody_elses_business(tmp_path: Path) -> None:
    reserve = Reserve(tmp_path / "journal.db", SIZE)
    assert reserve.keep() and reserve.keep()
    found = reserve.path.stat()
    assert found.st_size == SIZE and found.st_blocks * 512 >= SIZE, "blocks are taken, not only a length"
    assert found.st_mode & 0o077 == 0
    assert reserve.give_up() and not reserve.path.exists()
    assert not reserve.give_up(), "nothing left to give"


def test_no_reserve_is_kept_where_there_is_little_room(disk: Path) -> None:
    reserve = Reserve(disk / "journal.db", SIZE)
    filler = fill(disk, leave=3 * SIZE)
    assert not reserve.keep() and not reserve.path.exists()
    filler.unlink()
    assert reserve.keep()


def test_a_reserve_that_cannot_be_finished_leaves_nothing_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.posix_fallocate", full)
    reserve = Reserve(tmp_path / "journal.db", SIZE)
    assert not reserve.keep() and not reserve.path.exists()


def test_the_last_events_on_a_full_disk_are_written_into_the_room_of_the_reserve(disk: Path) -> None:
    path = disk / "journal.db"
    journal = Journal(path, FakeClock(), reserve=SIZE)
    reserve = path.with_name("journal.db.reserve")
    record(journal, range(1, 2))
    assert until(reserve.exists)
    filler = fill(disk)
    number = 1
    while reserve.exists() and number < 2000:
        number += 1
        record(journal, range(number, number + 1))
    assert journal.status().fault is None, "the entry that did not fit before is written"
    last = number + 10
    record(journal, range(number + 1, last + 1))
    assert journal.status().fault is None and rises(path) == list(range(1, last + 1))
    told = [words for words in notes(path) if "reserve" in words]
    assert told == ["no space left on the disk: the room kept in reserve is used now"]
    assert history(path, 10, kind="gap") == (), "nothing waited, so there is no gap to tell"
    # A disk that goes on filling up is full in the end; memory takes over, and room brings all of it back.
    more = fill_more(disk)
    while journal.status().fault is None and last < 4000:
        last += 1
        record(journal, range(last, last + 1))
    assert journal.status().fault == "no space left on the disk"
    assert not reserve.exists(), "a full disk is not filled with reserve"
    filler.unlink()
    more.unlink()
    assert journal.settled(30.0)
    assert rises(path) == list(range(1, last + 1))
    assert len(history(path, 10, kind="gap")) == 1
    assert until(reserve.exists), "with room again the reserve is kept again"
    assert journal.close()


def fill_more(disk: Path) -> Path:
    (disk / "again").mkdir()
    return fill(disk / "again")


def test_a_reserve_that_is_full_of_room_stays_through_the_end_and_the_next_run(disk: Path) -> None:
    path = disk / "journal.db"
    for run in (1, 2):
        journal = Journal(path, FakeClock(), reserve=SIZE)
        record(journal, range(run, run + 1))
        assert until(path.with_name("journal.db.reserve").exists)
        assert journal.close()
    assert path.with_name("journal.db.reserve").stat().st_size == SIZE
