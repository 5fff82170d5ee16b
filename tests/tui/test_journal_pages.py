"""Pages are read beside the screen: one at a time, faults in words, a disk that hangs costs one thread."""

from __future__ import annotations

import sqlite3
import threading
import time
from pathlib import Path

import msgspec
import pytest

from analysis.journal.journal import Journal
from analysis.model.errors import JournalError
from tests.journal.story import change, event
from tests.support.fake_clock import FakeClock
from tui.journal_pages import PAGE, JournalPages, Page, pages_of


def answered(pages: JournalPages) -> Page:
    """The page, waited for as long as it may take."""
    for _ in range(1000):
        page = pages.answer()
        if page is not None:
            return page
        time.sleep(0.01)
    raise AssertionError("nothing was read")


def test_a_real_journal_page_by_page(tmp_path: Path) -> None:
    journal = Journal(tmp_path / "journal.db", FakeClock())
    for number in range(1, PAGE + 31):
        journal.alarm_changed(change(number, alarm="shadows" if number % 5 == 0 else "highlights"))
    journal.feed_changed(event())
    assert journal.close()
    pages = pages_of(tmp_path / "journal.db")
    assert pages.ask()
    newest = answered(pages)
    assert (len(newest.entries), newest.first) == (PAGE, False)
    assert pages.ask(None, newest.entries[0].sequence)
    older = answered(pages)
    assert (len(older.entries), older.first) == (31, True)
    assert older.entries[-1].sequence + 1 == newest.entries[0].sequence
    assert pages.ask("shadows")
    assert {entry.what.alarm for entry in answered(pages).entries} == {"shadows"}  # type: ignore[union-attr]


def test_no_journal_is_said_and_nothing_is_asked() -> None:
    pages = pages_of(None, "the settings say keep = false")
    assert not pages.kept
    assert not pages.ask()
    assert pages.why == "the settings say keep = false"


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (JournalError("no journal there", "/x/journal.db", "it begins with the first watch"), "no journal there"),
        (msgspec.ValidationError("Invalid enum value 'comet'"), "this version cannot read"),
        (sqlite3.OperationalError("disk I/O error"), "disk I/O error"),
    ],
)
def test_whatever_goes_wrong_is_one_line(error: Exception, words: str) -> None:
    def read(alarm: str | None, before: int | None, limit: int):
        raise error

    pages = JournalPages(read)
    assert pages.ask()
    page = answered(pages)
    assert page.fault is not None and words in page.fault and "\n" not in page.fault
    assert not page.first, "a fault is not the beginning of the journal"
    assert pages.ask(), "the next read may do better"


def test_a_disk_that_hangs_costs_one_thread_and_is_timed() -> None:
    let_go, clock = threading.Event(), FakeClock()

    def read(alarm: str | None, before: int | None, limit: int):
        let_go.wait(30)
        return ()

    pages = JournalPages(read, clock=lambda: clock.now().monotonic)
    before = threading.active_count()
    assert pages.ask()
    clock.advance(7.0)
    assert pages.waiting == pytest.approx(7.0)
    assert not any(pages.ask() for _ in range(100))
    assert threading.active_count() <= before + 1
    assert pages.answer() is None
    let_go.set()
    assert answered(pages).entries == ()
    assert pages.waiting is None


def test_the_thread_never_holds_up_the_end_of_the_program() -> None:
    let_go = threading.Event()
    pages = JournalPages(lambda *_: let_go.wait(30) and ())
    pages.ask()
    try:
        assert all(thread.daemon for thread in threading.enumerate() if thread.name == "history")
    finally:
        let_go.set()
