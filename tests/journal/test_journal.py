"""What is recorded is read back, in order, with nothing lost; and nothing that is recorded can harm the watch."""

from __future__ import annotations

import sqlite3
import threading
import time
from pathlib import Path

import pytest

from analysis.journal.entry import Note
from analysis.journal.journal import Journal
from analysis.journal.read import history, last_states, readings
from analysis.model.errors import JournalError
from analysis.model.instant import Instant
from analysis.model.turn import DriftRate, Turn
from tests.journal.story import UTC, at, change, event, reading
from tests.support.fake_clock import FakeClock


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "state" / "journal.db"


def test_everything_comes_back_in_order_as_it_was(path: Path) -> None:
    journal = Journal(path, FakeClock(), address="cam")
    changes = [change(n) for n in range(1, 4)]
    journal.alarm_changed(changes[0])
    journal.feed_changed(event())
    journal.alarm_changed(changes[1])
    journal.alarm_changed(changes[2])
    journal.noted("the door was opened")
    assert journal.settled(20.0)
    entries = history(path)
    assert [entry.kind for entry in entries] == ["alarm", "feed", "alarm", "alarm", "note", "note"]
    assert [entry.what for entry in entries if entry.kind == "alarm"] == changes
    assert entries[1].what == event()
    assert entries[-1].what == Note(words="the door was opened")
    assert [entry.sequence for entry in entries] == list(range(1, 7))
    assert [entry.at for entry in entries[:4]] == [at(1.0), at(2.0), at(2.0), at(3.0)]
    assert journal.close()


def test_turns_are_entries_of_their_own_kind(path: Path) -> None:
    drift = DriftRate(of="background", stage="begun", stops_a_minute=0.4, seconds_to_clip=40.0, clips="window")
    turns = (
        Turn(kind="whole", at=at(3.0), stops=-2.0, seconds=0.4, share=0.9),
        Turn(kind="drift", at=at(5.0), stops=0.1, seconds=12.0, share=0.5, drift=drift),
    )
    journal = Journal(path, FakeClock())
    for turn in turns:
        journal.turned(turn)
    assert journal.close()
    assert [entry.what for entry in history(path, kind="turn")] == list(turns)


def test_history_can_be_cut(path: Path) -> None:
    journal = Journal(path, FakeClock())
    for number in range(1, 21):
        journal.alarm_changed(change(number))
    journal.feed_changed(event(seconds=20.0))
    assert journal.close()
    assert [entry.sequence for entry in history(path, 3)] == [19, 20, 21]
    assert [entry.sequence for entry in history(path, 3, kind="alarm")] == [18, 19, 20]
    assert [entry.sequence for entry in history(path, 2, before=10)] == [8, 9]
    assert history(path, 0) == ()
    assert len(history(path, 1000)) == 21


def test_a_second_run_goes_on_where_the_first_ended(path: Path) -> None:
    for run in (1, 2, 3):
        journal = Journal(path, FakeClock())
        journal.alarm_changed(change(run))
        assert journal.close()
    entries = history(path)
    assert [(entry.sequence, entry.session) for entry in entries] == [(1, 1), (2, 2), (3, 3)]


def test_the_file_is_what_it_should_be(path: Path) -> None:
    journal = Journal(path, FakeClock())
    journal.alarm_changed(change())
    assert journal.settled(20.0)
    with sqlite3.connect(path) as other:
        assert other.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        assert other.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    other.close()
    assert path.stat().st_mode & 0o077 == 0, "the record is nobody else's business"
    assert journal.close()
    assert not path.with_name("journal.db-wal").exists(), "the log was written back"


def test_commits_are_synchronous_in_full(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """SQLite: synchronous = FULL (2) syncs the log at each commit (sqlite.org, pragma.html)."""
    from analysis.journal import store

    opened = store.Store(path, "", at(0.0))
    assert opened._used().execute("PRAGMA synchronous").fetchone() == (2,)
    opened.end(at(1.0))


def test_seconds_keep_the_worst_and_the_last(path: Path) -> None:
    journal = Journal(path, FakeClock())
    for tick in range(50):
        high = 95.0 if tick == 7 else 90.0
        journal.reading_taken(reading(high, 2.0 if tick == 30 else 0.1, skin=50.0 + tick), at(10.0 + tick / 25))
    assert journal.close()
    first, second = readings(path, UTC, UTC + 100)
    assert (first.second, second.second) == (UTC + 10, UTC + 11)
    assert (first.low, first.middle, first.high, first.clipped) == (10.0, 45.0, 95.0, 0.1)
    assert (second.high, second.clipped) == (90.0, 2.0)
    assert first.headroom == pytest.approx(0.55) and second.headroom == pytest.approx(0.6)
    assert (first.skin_ire, second.skin_ire, second.skin_stops) == (74.0, 99.0, 1.0)
    assert readings(path, UTC + 11, UTC + 12) == (second,)


def test_a_second_that_still_goes_on_is_on_the_disk_too(path: Path) -> None:
    """A power cut in the middle of a second must not take all of it, nor the one before."""
    journal = Journal(path, FakeClock())  # it stands still at the second the readings are of, which never ends
    moment = FakeClock().now()
    journal.reading_taken(reading(90.0), moment)
    limit = time.monotonic() + 30.0
    while not (rows := readings(path, 0.0, 2e9)) and time.monotonic() < limit:
        time.sleep(0.02)
    assert [(row.second, row.high) for row in rows] == [(int(moment.utc), 90.0)]
    journal.reading_taken(reading(95.0), moment)
    assert journal.close()
    assert [(row.second, row.high) for row in readings(path, 0.0, 2e9)] == [(int(moment.utc), 95.0)]


def test_a_second_without_a_valid_picture_says_so_and_nothing_else(path: Path) -> None:
    journal = Journal(path, FakeClock())
    journal.reading_taken(reading(validity="suspect"), at(10.0))
    journal.reading_taken(reading(validity="late"), at(11.0))
    journal.reading_taken(reading(90.0), at(11.5))
    journal.reading_taken(reading(validity="late"), at(11.9))
    assert journal.close()
    first, second = readings(path, UTC, UTC + 100)
    assert first.validity == "suspect" and first[2:] == (None,) * 8
    assert second.validity == "good" and second.high == 90.0


def test_text_that_cannot_be_written_is_written_as_far_as_it_can(path: Path) -> None:
    journal = Journal(path, FakeClock())
    journal.alarm_changed(change(reason="device \udcff\udcfe went away", alarm="sk\udcffin"))
    journal.alarm_changed(change(2, value=float("nan"), reason="zero \x00 byte, quote ' and ü"))
    assert journal.close()
    first, second = (entry.what for entry in history(path))
    assert first.reason == "device ?? went away" and first.alarm == "sk?in"  # type: ignore[union-attr]
    assert second.reason == "zero \x00 byte, quote ' and ü" and second.value is None  # type: ignore[union-attr]


def test_a_clock_that_steps_is_noted_once(path: Path) -> None:
    journal = Journal(path, FakeClock())
    journal.alarm_changed(change(1))
    journal.alarm_changed(change(2, at=Instant(2.0, UTC + 2.0 + 3600.0)))
    journal.alarm_changed(change(3, at=Instant(3.0, UTC + 3.0 + 3600.0)))
    assert journal.close()
    notes = [entry.what.words for entry in history(path, kind="note")]  # type: ignore[union-attr]
    assert notes == ["the wall clock moved by +3600.0 s against the running time"]
    assert [entry.kind for entry in history(path)] == ["alarm", "note", "alarm", "alarm"]


def test_many_threads_may_record_at_once(path: Path) -> None:
    journal = Journal(path, FakeClock())

    def write(thread: int) -> None:
        for number in range(100):
            journal.alarm_changed(change(number + 1, alarm=f"thread {thread}"))

    threads = [threading.Thread(target=write, args=(n,)) for n in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert journal.close(20.0)
    entries = [entry for entry in history(path, 10_000) if entry.kind == "alarm"]
    assert len(entries) == 800
    for n in range(8):
        mine = [entry.what.occurrence for entry in entries if entry.what.alarm == f"thread {n}"]  # type: ignore[union-attr]
        assert mine == list(range(1, 101)), "each thread's own order is kept"


def test_closing_twice_and_recording_after_the_end_are_harmless(path: Path) -> None:
    journal = Journal(path, FakeClock())
    assert journal.close()
    journal.alarm_changed(change())
    journal.feed_changed(event())
    journal.reading_taken(reading(), at(1.0))
    assert journal.status().waiting >= 2
    assert not journal.close(), "it is honest about what it did not write"
    assert history(path) == ()


def test_what_is_not_there_is_told() -> None:
    nowhere = Path("/nonexistent/journal.db")
    with pytest.raises(JournalError, match="no journal there; it begins with the first watch"):
        history(nowhere)
    assert last_states(nowhere) is None


def test_a_slow_disk_holds_up_nobody_who_records(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk that takes for ever: what is recorded waits in memory until the disk answers."""
    from analysis.journal.store import Store

    answers, asked, whole = threading.Event(), threading.Event(), Store.write

    def slow(store: Store, *given: object) -> None:
        asked.set()
        assert answers.wait(60.0)
        whole(store, *given)  # type: ignore[arg-type]

    journal = Journal(path, FakeClock())
    monkeypatch.setattr(Store, "write", slow)
    journal.alarm_changed(change(1))
    assert asked.wait(30.0)
    # All of this happens while the writer is stuck, or it would never end.
    for number in range(2, 200):
        journal.alarm_changed(change(number))
        journal.reading_taken(reading(), at(float(number)))
    assert journal.status().waiting == 199
    assert not journal.settled(0.05)
    assert not journal.close(0.05), "the end does not wait for the disk either"
    answers.set()
    assert journal.close(30.0)
    assert len(history(path, 1000, kind="alarm")) == 199


def test_an_error_nobody_thought_of_is_shown_and_nothing_is_lost(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from analysis.journal.store import Store

    whole, fail = Store.write, threading.Event()

    def odd(store: Store, *given: object) -> None:
        if fail.is_set():
            raise RuntimeError("something odd")
        whole(store, *given)  # type: ignore[arg-type]

    journal = Journal(path, FakeClock())
    monkeypatch.setattr(Store, "write", odd)
    fail.set()
    journal.alarm_changed(change(1))
    assert not journal.settled(0.3)
    assert journal.status().fault == "something odd"
    fail.clear()
    assert journal.settled(30.0)
    assert [entry.kind for entry in history(path)] == ["gap", "alarm"]
    assert journal.close()
