"""What a restart is told: where the alarms of its feed stood, why they were quiet, since when nobody watched."""

from __future__ import annotations

from pathlib import Path

from analysis.alarm.book import opened
from analysis.alarm.restore import restore
from analysis.journal.journal import Journal
from analysis.journal.read import last_states
from analysis.model.instant import Instant
from tests.alarm.timeline import UTC_START, Story, level_rule
from tests.journal.story import UTC, at, change
from tests.support.fake_clock import FakeClock


def clock_at(seconds: float) -> FakeClock:
    return FakeClock(monotonic=seconds, utc=UTC + seconds)


def kept(path: Path, story: Story, address: str = "cam") -> None:
    clock = FakeClock(story.now.monotonic, story.now.utc)
    journal = Journal(path, clock, address=address)
    for each in story.changes:
        journal.alarm_changed(each)
    assert journal.close()


def test_nobody_ever_watched_this_feed(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    journal = Journal(path, FakeClock(), address="cam")
    journal.alarm_changed(change())
    assert journal.close()
    assert last_states(path, "another") is None
    assert last_states(path, "cam") is not None


def test_only_the_last_counts_and_only_of_this_feed(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    for address, base in (("cam", 0), ("door", 100)):
        journal = Journal(path, clock_at(60.0), address=address)
        for number in range(1, 4):
            journal.alarm_changed(change(base + number, "highlights"))
            journal.alarm_changed(change(base + number, "shadows"))
        assert journal.close()
    saved = last_states(path, "cam")
    assert saved is not None
    assert [(c.alarm, c.occurrence) for c in saved.changes] == [("highlights", 3), ("shadows", 3)]
    assert saved.alive.utc == UTC + 60.0


def test_the_watch_was_alive_until_it_was_last_heard_of(tmp_path: Path) -> None:
    path, clock = tmp_path / "journal.db", clock_at(0.0)
    journal = Journal(path, clock, address="cam")
    journal.alarm_changed(change(1))
    assert journal.settled(20.0)
    clock.advance(500.0)
    journal.noted("a sign of life")
    assert journal.settled(20.0)
    saved = last_states(path, "cam")
    assert saved is not None and saved.alive.utc == at(500.0).utc
    clock.advance(100.0)
    assert journal.close()
    saved = last_states(path, "cam")
    assert saved is not None and saved.alive.utc == at(600.0).utc


def test_a_whole_story_survives_its_restart_through_the_file(tmp_path: Path) -> None:
    """Acknowledged, shelved, out of service: all three stand as they stood, with their words."""
    path = tmp_path / "journal.db"
    assert UTC == UTC_START
    rules = [level_rule("seen"), level_rule("shelved"), level_rule("out"), level_rule("never")]
    story = Story(*rules)
    for _ in range(30):
        story.show({"seen": 20.0, "shelved": 20.0, "out": 20.0})
    story.acknowledge("seen")
    story.shelve(600.0, "shelved")
    story.retire("lamp in repair", "out")
    for _ in range(60):
        story.show({"seen": 20.0, "shelved": 20.0, "out": 0.0})
    kept(path, story)
    saved = last_states(path, "cam")
    assert saved is not None
    now = Instant(77.0, story.now.utc + 30.0)
    book, changes = restore(opened(rules, now), saved, now)
    assert changes == ()
    for name in ("seen", "shelved", "out", "never"):
        before, after = story.book.entry(name), book.entry(name)
        assert (after.state, after.occurrence, after.quiet.ways) == (before.state, before.occurrence, before.quiet.ways)
        if name != "never":
            assert after.reason == before.reason
            assert after.since.utc == before.since.utc
    assert book.entry("out").quiet.out_of_service == "lamp in repair"
    until = book.entry("shelved").quiet.shelved_until
    assert until is not None and until.utc == story.book.entry("shelved").quiet.shelved_until.utc  # type: ignore[union-attr]
    assert until.since(now) == until.utc - now.utc
