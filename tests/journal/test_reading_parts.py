"""Reading a part of the journal: one subject, and which sessions were running when."""

from __future__ import annotations

from pathlib import Path

import pytest

from analysis.journal.journal import Journal
from analysis.journal.read import history, sessions
from analysis.model.errors import JournalError
from tests.journal.story import change, event
from tests.support.fake_clock import FakeClock


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "journal.db"


def test_one_alarm_by_itself_page_by_page(path: Path) -> None:
    journal = Journal(path, FakeClock())
    for number in range(1, 9):
        journal.alarm_changed(change(number, alarm="shadows" if number % 2 else "highlights"))
    journal.feed_changed(event())
    assert journal.close()
    newest = history(path, 2, kind="alarm", subject="shadows")
    assert [entry.what.occurrence for entry in newest] == [5, 7]  # type: ignore[union-attr]
    older = history(path, 10, kind="alarm", subject="shadows", before=newest[0].sequence)
    assert [entry.what.occurrence for entry in older] == [1, 3]  # type: ignore[union-attr]
    assert history(path, kind="alarm", subject="nobody") == ()


def test_sessions_tell_when_somebody_watched(path: Path) -> None:
    clock = FakeClock()
    began = clock.now().utc
    for feed in ("door", "bench"):
        journal = Journal(path, clock, address=feed)
        clock.advance(600.0)
        assert journal.close()
        clock.advance(3600.0)
    both = sessions(path, began - 1, clock.now().utc)
    assert [(one.address, round(one.ended - one.began)) for one in both] == [("door", 600), ("bench", 600)]
    assert [one.address for one in sessions(path, began + 1000, clock.now().utc)] == ["bench"]
    assert [one.address for one in sessions(path, began, began + 1000)] == ["door"]
    assert sessions(path, began + 9000, began + 9999) == ()


def test_sessions_without_a_journal_are_one_clear_error(path: Path) -> None:
    with pytest.raises(JournalError, match="no journal there"):
        sessions(path, 0.0, 1.0)
