"""Files torn, damaged or held by a reader."""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path

import pytest

from analysis.journal import store
from analysis.journal.entry import Note
from analysis.journal.journal import Journal
from analysis.journal.read import history, readings
from analysis.model.errors import JournalError
from tests.journal.story import change, reading
from tests.support.fake_clock import FakeClock

HEADER, FRAME = 32, 24 + 4096
"""SQLite's write-ahead log: 32 bytes, then frames of 24 bytes and one page (sqlite.org, fileformat2, 4.1)."""


def crashed_copy(folder: Path, entries: int) -> Path:
    """A journal as a crash leaves it: copied with its log while the writer still runs."""
    path = folder / "live.db"
    journal = Journal(path, FakeClock())
    for number in range(1, entries + 1):
        journal.alarm_changed(change(number))
        assert journal.settled(20.0)
    copy = folder / "copy" / "journal.db"
    copy.parent.mkdir()
    shutil.copy(path, copy)
    shutil.copy(f"{path}-wal", f"{copy}-wal")
    assert journal.close()
    return copy


def numbers(path: Path) -> list[int]:
    return [entry.what.occurrence for entry in history(path, 10_000, kind="alarm")]  # type: ignore[union-attr]


@pytest.mark.parametrize("torn", [1, 17, FRAME - 1, FRAME, FRAME + 5, 3 * FRAME, 5 * FRAME + 2000])
def test_a_torn_log_loses_only_what_was_torn(tmp_path: Path, torn: int) -> None:
    path = crashed_copy(tmp_path, 20)
    log = path.with_name("journal.db-wal")
    log.write_bytes(log.read_bytes()[:-torn])
    journal = Journal(path, FakeClock())
    journal.alarm_changed(change(1000))
    assert journal.close()
    found = numbers(path)
    assert found == [*range(1, len(found)), 1000]
    # An entry costs two pages or more of log: no more entries than that can be gone.
    assert len(found) - 1 >= 20 - (torn // (2 * FRAME) + 1)


@pytest.mark.parametrize("place", [0, 8, 100, 5_000, 30_000])
def test_a_log_with_a_wrong_byte_is_read_as_far_as_it_is_right(tmp_path: Path, place: int) -> None:
    path = crashed_copy(tmp_path, 20)
    log = path.with_name("journal.db-wal")
    spoilt = bytearray(log.read_bytes())
    spoilt[place] ^= 0xFF
    log.write_bytes(bytes(spoilt))
    journal = Journal(path, FakeClock())
    journal.alarm_changed(change(1000))
    assert journal.close()
    found = numbers(path)
    assert found == [*range(1, len(found)), 1000]


def test_a_damaged_file_is_set_aside_and_a_new_one_begun(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    path.write_bytes(b"this is no database at all " * 200)
    journal = Journal(path, FakeClock(0.0))
    journal.alarm_changed(change(1))
    assert journal.settled(20.0)
    (note,) = [entry.what for entry in history(path, kind="note")]
    (aside,) = tmp_path.glob("journal.db.damaged-*")
    assert note == Note(words=f"the journal before this one was damaged and lies in {aside.name}")
    assert aside.read_bytes().startswith(b"this is no database")
    assert numbers(path) == [1]
    assert journal.close()


def test_damage_that_shows_only_in_writing_sets_the_file_aside_and_loses_nothing_new(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    clock = FakeClock(0.0)
    journal = Journal(path, clock)
    journal.alarm_changed(change(1))
    assert journal.close()
    with path.open("r+b") as file:
        # The first page stays whole, so that opening finds nothing wrong.
        file.seek(4096)
        file.write(b"\xa5" * (path.stat().st_size - 4096))
    journal = Journal(path, clock)
    for number in range(2, 30):
        journal.alarm_changed(change(number))
    assert journal.settled(30.0), journal.status()
    assert journal.close()
    assert len(list(tmp_path.glob("journal.db.damaged-*[0-9]"))) == 1
    assert numbers(path) == list(range(2, 30))


def test_a_reader_that_never_lets_go_does_not_stop_the_writer_and_the_log_is_emptied_after(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(store, "MOST_WAL_BYTES", 1 << 18)
    path = tmp_path / "journal.db"
    kept = store.Store(path, "", change().at)
    reader = sqlite3.connect(path, isolation_level=None)
    reader.execute("BEGIN")
    assert reader.execute("SELECT count(*) FROM entry").fetchone() == (0,)
    body = "x" * 2000
    for number in range(300):
        kept.write([store.EntryRow(1.0, 1.0, "note", "", f'{{"words":"{number} {body}"}}')] * 4, [], change().at)
    kept.tidy()
    log = path.with_name("journal.db-wal")
    assert log.stat().st_size > 4 << 18, "the reader stood in the way"
    assert reader.execute("SELECT count(*) FROM entry").fetchone() == (0,), "and still sees what it saw"
    reader.execute("COMMIT")
    kept.tidy()
    assert log.stat().st_size == 0
    assert reader.execute("SELECT count(*) FROM entry").fetchone() == (1200,)
    reader.close()
    kept.end(change().at)


def test_reading_a_damaged_file_is_told_in_one_line(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    path.write_bytes(b"this is no database at all " * 200)
    with pytest.raises(JournalError) as caught:
        history(path)
    assert caught.value.line() == f"{path}: cannot be read: the file is damaged; check the file and its folder"


def test_readings_are_there_while_they_are_written(tmp_path: Path) -> None:
    path, clock = tmp_path / "journal.db", FakeClock()
    journal = Journal(path, clock)
    for second in range(1, 30):
        journal.reading_taken(reading(), change(second).at)
    assert journal.settled(20.0)
    assert len(readings(path, 0.0, 2e9)) == 29
    assert journal.close()
