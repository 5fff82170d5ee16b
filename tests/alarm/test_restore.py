"""A restart: what was acknowledged stays so for a minute, occurrences go on, shelves end on time."""

from __future__ import annotations

import msgspec
import pytest

from analysis.alarm.book import opened
from analysis.alarm.restore import STALE_SECONDS, restore
from analysis.model.alarm import AlarmChange, SavedAlarms
from analysis.model.instant import Instant
from tests.alarm.timeline import Story, level_rule


def after_restart(story: Story, away: float, *, boot: float = 5000.0) -> tuple[Story, tuple[AlarmChange, ...]]:
    """The same rules in a new run whose monotonic clock began elsewhere, ``away`` seconds later."""
    alive = story.now
    saved = SavedAlarms(alive=alive, changes=tuple(story.changes))
    # What is saved has been through a file: JSON and back.
    saved = msgspec.json.decode(msgspec.json.encode(saved), type=SavedAlarms)
    again = Story(*story.book.rules)
    again.start = Instant(boot, alive.utc + away)
    again.book, changes = restore(opened(story.book.rules, again.now), saved, again.now)
    again.changes += changes
    return again, changes


def risen(*, acknowledged: bool = False, **fields: object) -> Story:
    story = Story(level_rule(**fields))
    story.hold(1.2, 20.0)
    if acknowledged:
        story.acknowledge()
    return story


def test_acknowledged_stays_acknowledged_and_makes_no_sound() -> None:
    story, changes = after_restart(risen(acknowledged=True), away=30.0)
    assert changes == ()
    assert story.state() == "active-acknowledged"
    story.hold(100.0, 20.0)
    assert story.sounds() == [] and story.changes == []
    story.hold(2.2, 0.0)
    assert story.state() == "normal"
    story.hold(1.2, 20.0)
    assert story.sounds() == [("level", 2)], "the next rise is the second"


@pytest.mark.parametrize(("away", "sounds"), [(STALE_SECONDS - 0.1, []), (STALE_SECONDS, [("level", 2)])])
def test_after_a_minute_it_is_announced_again_if_it_still_holds(away: float, sounds: list[object]) -> None:
    story, changes = after_restart(risen(acknowledged=True), away)
    assert [(c.before, c.after, c.occurrence) for c in changes] == (
        [("active-acknowledged", "active-unacknowledged", 2)] if sounds else []
    )
    story.hold(30.0, None)
    assert story.sounds() == [], "not before a picture shows it"
    story.hold(0.2, 20.0)
    assert story.sounds() == sounds
    if sounds:
        assert story.acknowledge("level", 1) == "level: occurrence 1 is not the present one, which is 2"
        assert changes[0].reason == "the watch was away for 60 s: acknowledged too long ago"


@pytest.mark.parametrize("away", [5.0, 50.0])
def test_why_it_is_there_stays_told_after_it_was_seen(away: float) -> None:
    before = risen()
    why = before.book.entry("level").reason
    before.acknowledge()
    assert before.state() == "active-acknowledged"
    assert before.changes[-1].reason == "acknowledged while active"
    assert before.book.entry("level").reason == why
    assert why.startswith("clipped 20.0 % of the picture")
    story, _ = after_restart(before, away)
    assert story.book.entry("level").reason == why


def test_after_a_minute_it_is_silent_if_it_no_longer_holds() -> None:
    story, _ = after_restart(risen(acknowledged=True), 600.0)
    story.hold(3.0, 0.0)
    assert story.sounds() == []
    assert story.state() == "returned-unacknowledged"


@pytest.mark.parametrize("away", [5.0, 600.0])
def test_what_nobody_had_seen_is_heard_once_more_with_its_own_start(away: float) -> None:
    before = risen()
    rose = before.book.entry("level").since
    story, changes = after_restart(before, away)
    assert changes == ()
    story.hold(5.0, 20.0)
    assert story.sounds() == [("level", 1)]
    told = story.announcements[0]
    assert told.since is not None
    assert told.since.utc == rose.utc
    assert told.at.since(told.since) == pytest.approx(told.at.utc - rose.utc)
    assert story.book.entry("level").reason == before.book.entry("level").reason


def test_what_had_returned_unseen_waits_on_in_silence() -> None:
    before = risen()
    before.hold(3.0, 0.0)
    story, changes = after_restart(before, 3600.0)
    assert changes == ()
    assert story.state() == "returned-unacknowledged"
    story.hold(5.0, 0.0)
    assert story.sounds() == []
    assert story.acknowledge("level", 1) is None


def test_a_latched_alarm_waits_for_its_reset_across_a_restart() -> None:
    before = risen(acknowledged=True, latching=True)
    before.hold(3.0, 0.0)
    story, _ = after_restart(before, 3600.0)
    assert story.state() == "latched-acknowledged"
    assert story.reset() is None
    assert story.state() == "normal"


def test_a_shelf_ends_at_its_own_time_by_the_wall_clock() -> None:
    before = risen()
    before.shelve(900.0)
    story, _ = after_restart(before, away=300.0)
    assert story.quiet() == ("shelved",)
    assert story.book.entry("level").reason.startswith("clipped 20.0 %"), "the reason of the state, not of the shelf"
    story.hold(599.0, 20.0)
    assert story.sounds() == []
    story.hold(2.0, 20.0)
    assert story.sounds() == [("level", 1)]
    assert story.changes[-1].reason == "its time on the shelf is over"


def test_a_shelf_that_ended_meanwhile_ends_at_once() -> None:
    before = risen()
    before.shelve(60.0)
    story, _ = after_restart(before, away=300.0)
    story.hold(0.2, 20.0)
    assert story.quiet() == ()
    assert story.sounds() == [("level", 1)]


def test_out_of_service_stays_with_its_words() -> None:
    before = risen()
    before.retire("lamp taken down for repair")
    before.hold(3.0, 0.0)
    story, _ = after_restart(before, away=86_400.0)
    assert story.book.entry("level").quiet.out_of_service == "lamp taken down for repair"
    story.hold(5.0, 20.0)
    assert story.sounds() == []
    assert story.put_back() is None
    story.hold(0.1, 20.0)
    assert story.sounds() == [("level", 2)]


def test_suppression_is_judged_anew() -> None:
    before = Story(level_rule(hushed_by=("other",)), level_rule("other"))
    for _ in range(60):
        before.show({"level": 20.0, "other": 20.0})
    assert before.quiet() == ("suppressed",)
    story, _ = after_restart(before, away=5.0)
    story.hold(0.1, 20.0)
    assert story.quiet() == ("suppressed",), "the other was active and is held so until a value says otherwise"
    for _ in range(75):
        story.show({"level": 20.0, "other": 0.0})
    assert story.quiet() == ()
    assert story.sounds() == [("level", 1)]


def test_a_clock_that_was_set_back_is_no_gap() -> None:
    story, changes = after_restart(risen(acknowledged=True), away=-3600.0)
    assert changes == ()
    assert story.state() == "active-acknowledged"


def test_a_clock_that_was_set_back_a_day_makes_no_shelf_of_a_day() -> None:
    before = risen()
    before.shelve(900.0)
    story, _ = after_restart(before, away=-86_400.0)
    assert story.book.entry("level").quiet.left(story.now) == pytest.approx(3600.0)
    assert story.book.entry("level").since == story.now, "nothing began in the future"


def test_alarms_unknown_on_either_side_are_passed_over() -> None:
    saved = SavedAlarms(alive=Instant(0.0, 0.0), changes=tuple(risen().changes))
    book, changes = restore(opened((level_rule("elsewhere"),), Instant(9.0, 9.0)), saved, Instant(9.0, 9.0))
    assert changes == ()
    assert book.entry("elsewhere").state == "normal"
