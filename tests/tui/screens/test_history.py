"""The history view: newest first, older on demand, one alarm by itself, and words where there is nothing to show."""

from __future__ import annotations

import threading

import pytest

from analysis.journal.entry import Gap, JournalEntry, Note
from analysis.model.errors import JournalError
from analysis.model.feed import FeedEvent
from analysis.model.instant import Instant
from tests.journal.story import change
from tests.tui.alarm_board import full_board
from tests.tui.screens.test_app import LOOK, lines, running, screen, settle, until
from tests.tui.synthetic import START, FakeWatch, snapshot
from tui.journal_pages import PAGE, JournalPages
from tui.look import Look
from tui.screens.history import MOST, HistoryScreen

SIZES = [(80, 24), (120, 40), (200, 60)]


def ago(seconds: float) -> Instant:
    return Instant(START.monotonic - seconds, START.utc - seconds)


def entry(sequence: int, what: object, kind: str = "alarm", seconds: float | None = None) -> JournalEntry:
    when = ago(1000.0 - sequence if seconds is None else seconds)
    return JournalEntry(sequence=sequence, session=2, at=when, kind=kind, what=what)  # type: ignore[arg-type]


def story() -> list[JournalEntry]:
    """A cable pulled, a clip seen, a full disk, a note."""
    lost = FeedEvent(before="live", after="lost", evidence="unplugged", generation=1, at=ago(700))
    return [
        entry(1, Note(words="the journal begins"), "note", 90_000.0),
        entry(2, lost, "feed", 700.0),
        entry(3, change(1, alarm="feed", priority=1, reason="feed lost: unplugged"), seconds=699.0),
        entry(4, change(1), seconds=300.0),
        entry(5, change(1, before="active-unacknowledged", after="active-acknowledged", reason="seen"), seconds=250.0),
        entry(6, Gap(began=ago(100), ended=ago(88), why="no space left", kept=2, lost=0, lost_readings=0), "gap", 88.0),
        entry(7, change(before="normal", after="normal", reason="shelved for 15 min", quiet=("shelved",)), seconds=9.0),
    ]  # fmt: skip


class Shelf:
    """A journal in memory that counts how it is read."""

    def __init__(self, entries: list[JournalEntry]) -> None:
        self.entries = entries
        self.reads: list[tuple[str | None, int | None]] = []
        self.fault: JournalError | None = None

    def __call__(self, alarm: str | None, before: int | None, limit: int) -> tuple[JournalEntry, ...]:
        self.reads.append((alarm, before))
        if self.fault is not None:
            raise self.fault
        wanted = [
            one
            for one in self.entries
            if (before is None or one.sequence < before)
            and (alarm is None or (one.kind == "alarm" and one.what.alarm == alarm))  # type: ignore[union-attr]
        ]
        return tuple(wanted[-limit:])


async def opened(app, pilot, pages: JournalPages, alarm: str | None = None) -> HistoryScreen:
    view = HistoryScreen(app.look, pages, alarm)
    app.push_screen(view)
    await until(lambda: app.screen is view, pilot)
    await until(lambda: not pages.kept or pages.waiting is None, pilot)
    await settle(app, pilot)
    return view


async def looked(app, pilot, watch: FakeWatch, seconds: float) -> None:
    """So much later on the watch's clock."""
    at = watch.now.at
    watch.change(at=Instant(at.monotonic + seconds, at.utc + seconds))
    await settle(app, pilot)
    await pilot.pause(0.05)
    await settle(app, pilot)


@pytest.mark.parametrize("look", [LOOK, Look(glyphs="ascii", colours="mono")])
@pytest.mark.parametrize("size", SIZES)
async def test_every_kind_of_entry_stands_there_newest_first(size: tuple[int, int], look: Look) -> None:
    async with running(FakeWatch(snapshot(alarms=full_board())), size, look) as (app, pilot):
        await opened(app, pilot, JournalPages(Shelf(story())))
        await until(lambda: "shelved for 15" in screen(app), pilot)
        shown = screen(app)
        for words in ("HISTORY", "9 s ago", "11 min ago", "25 h ago", "unplugged", "NEW: clipped", "nothing could be",
                      "the journal begins", "everything", "NEW", "LIVE", "Escape back"):  # fmt: skip
            assert words in shown, words
        rows = [next(y for y, line in enumerate(lines(app)) if words in line) for words in ("9 s ago", "5 min", "25 h")]
        assert rows == sorted(rows)
        assert [len(line) for line in lines(app)] == [size[0]] * size[1]
        if look.glyphs == "ascii":
            assert shown.isascii()


async def test_the_picked_entry_is_told_in_full() -> None:
    async with running(FakeWatch(snapshot()), (80, 24)) as (app, pilot):
        view = await opened(app, pilot, JournalPages(Shelf(story())))
        await until(lambda: bool(view.list.entries), pilot)
        await pilot.press("down")
        await settle(app, pilot)
        told = " ".join(screen(app).split())
        assert "entry 6, session 2: journal: nothing could be written for 12 s: no space left; 2 entries waited" in told


async def test_older_pages_come_when_they_are_wanted_and_only_then() -> None:
    shelf = Shelf([entry(n, change(n)) for n in range(1, 2 * PAGE + 51)])
    watch = FakeWatch(snapshot())
    async with running(watch) as (app, pilot):
        view = await opened(app, pilot, JournalPages(shelf))
        await until(lambda: len(view.list.entries) == PAGE, pilot)
        await pilot.pause(0.2)
        assert len(view.list.entries) == PAGE
        assert {before for _, before in shelf.reads} == {None}
        for pages in (2, 2.5):
            await pilot.press("end")
            await until(lambda pages=pages: len(view.list.entries) == pages * PAGE, pilot)
        sequences = [one.sequence for one in view.list.entries]
        assert sequences == list(range(2 * PAGE + 50, 0, -1)), "none twice, none left out"
        assert "250 entries" in screen(app), "all of them"
        reads = len(shelf.reads)
        await pilot.press("end")
        await pilot.pause(0.2)
        assert [before for _, before in shelf.reads[reads:] if before is not None] == [], "there is nothing older"


async def test_what_is_kept_for_the_screen_is_bounded() -> None:
    shelf = Shelf([entry(n, change(n), seconds=9.0) for n in range(1, MOST + 500)])
    async with running(FakeWatch(snapshot()), (80, 24)) as (app, pilot):
        view = await opened(app, pilot, JournalPages(shelf))
        for _ in range(MOST // PAGE + 3):
            size = len(view.list.entries)
            await pilot.press("end")
            await until(lambda size=size: len(view.list.entries) > size or size == MOST, pilot)
        assert len(view.list.entries) == MOST
        await settle(app, pilot)
        assert "stopkeeper history --last" in screen(app)


async def test_new_entries_come_in_at_the_top_and_the_pick_stays_on_its_entry() -> None:
    shelf, watch = Shelf(story()), FakeWatch(snapshot())
    async with running(watch) as (app, pilot):
        view = await opened(app, pilot, JournalPages(shelf))
        await until(lambda: len(view.list.entries) == 7, pilot)
        await pilot.press("down", "down")
        shelf.entries.append(entry(8, change(2), seconds=0.0))
        await looked(app, pilot, watch, 5.0)
        await until(lambda: len(view.list.entries) == 8, pilot)
        assert view.list.entries[0].sequence == 8
        assert view.list.entries[view.list.picked].sequence == 5
        await pilot.press("home")
        shelf.entries.append(entry(9, change(3), seconds=0.0))
        await looked(app, pilot, watch, 5.0)
        await until(lambda: len(view.list.entries) == 9, pilot)
        assert view.list.picked == 0, "who looks at the newest goes on looking at the newest"


async def test_more_than_a_page_at_once_leaves_no_hole() -> None:
    shelf, watch = Shelf(story()), FakeWatch(snapshot())
    async with running(watch) as (app, pilot):
        view = await opened(app, pilot, JournalPages(shelf))
        await until(lambda: len(view.list.entries) == 7, pilot)
        shelf.entries += [entry(n, change(n), seconds=1.0) for n in range(8, 8 + 2 * PAGE)]
        await looked(app, pilot, watch, 5.0)
        await until(lambda: view.list.entries[0].sequence == 7 + 2 * PAGE, pilot)
        sequences = [one.sequence for one in view.list.entries]
        assert sequences == list(range(sequences[0], sequences[-1] - 1, -1))


async def test_one_alarm_by_itself_and_everything_again() -> None:
    shelf = Shelf(story())
    async with running(FakeWatch(snapshot())) as (app, pilot):
        view = await opened(app, pilot, JournalPages(shelf), "feed")
        await until(lambda: len(view.list.entries) == 1, pilot)
        await settle(app, pilot)
        assert "only feed" in screen(app)
        assert "NEW: feed lost: unplugged" in screen(app)
        await pilot.press("f")
        await until(lambda: len(view.list.entries) == 7, pilot)
        await pilot.press("f")
        await until(lambda: len(view.list.entries) == 3, pilot)
        assert view.list.alarm == "highlights"
        await pilot.press("f")
        await until(lambda: len(view.list.entries) == 7, pilot)
        await pilot.press("down", "f")
        assert view.list.alarm is None, "a gap is of no alarm"


async def test_without_a_journal_it_says_why_and_what_is_known_all_the_same() -> None:
    watch = FakeWatch(snapshot(alarms=full_board()))
    async with running(watch, (80, 24)) as (app, pilot):
        await opened(app, pilot, JournalPages(None, "another stopkeeper writes this journal"))
        shown = screen(app)
        assert "another stopkeeper writes this journal" in shown
        assert "highlights: rose 1×, NEW for 0:4" in shown
        await pilot.press("down", "end", "f")


async def test_a_journal_that_cannot_be_read_is_said_and_tried_again() -> None:
    shelf, watch = Shelf(story()), FakeWatch(snapshot())
    shelf.fault = JournalError("cannot be read: disk I/O error", "/x/journal.db", "check the file and its folder")
    async with running(watch) as (app, pilot):
        view = await opened(app, pilot, JournalPages(shelf))
        await until(lambda: "cannot be read: disk I/O error" in screen(app), pilot)
        shelf.fault = None
        await looked(app, pilot, watch, 5.0)
        await until(lambda: len(view.list.entries) == 7, pilot)
        await settle(app, pilot)
        assert "cannot be read" not in screen(app)


async def test_a_disk_that_hangs_is_said_and_keys_go_on() -> None:
    let_go, seconds = threading.Event(), [0.0]

    def read(alarm: str | None, before: int | None, limit: int) -> tuple[JournalEntry, ...]:
        let_go.wait(30)
        return tuple(story())

    try:
        async with running(FakeWatch(snapshot())) as (app, pilot):
            pages = JournalPages(read, clock=lambda: seconds[0])
            view = HistoryScreen(app.look, pages)
            app.push_screen(view)
            await until(lambda: "reading the journal" in screen(app), pilot)
            seconds[0] = 8.0
            await until(lambda: "has not answered for 8 s" in screen(app), pilot)
            let_go.set()
            await until(lambda: len(view.list.entries) == 7, pilot)
            await pilot.press("escape")
            await until(lambda: app.screen is not view, pilot)
    finally:
        let_go.set()


@pytest.mark.parametrize("size", [(60, 8), (30, 5), (300, 100)])
async def test_any_size_can_be_drawn(size: tuple[int, int]) -> None:
    async with running(FakeWatch(snapshot()), size) as (app, pilot):
        view = await opened(app, pilot, JournalPages(Shelf(story())))
        await pilot.press("end", "home", "pagedown")
        await settle(app, pilot)
        assert len(view.list.text_lines()) == view.list.size.height
