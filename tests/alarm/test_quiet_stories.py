"""Stories of being quiet: shelves, suppression, out of service; of latches and reminders."""

from __future__ import annotations

import pytest

from analysis.alarm.book import opened, statuses
from analysis.alarm.defaults import DEFAULT_RULES, FEED
from analysis.model.alarm import named_state
from tests.alarm.timeline import Story, at, level_rule


def test_a_quarter_of_an_hour_on_the_shelf_is_silent_recorded_and_ends_by_itself() -> None:
    story = Story(level_rule(), rate=5.0)
    story.hold(2.0, 20.0)
    assert story.shelve(900.0) is None
    story.hold(600.0, 0.0)
    story.hold(300.0, 20.0)
    story.hold(5.0, 20.0)
    told = [(c.before, c.after, c.quiet_before, c.quiet, round(c.at.monotonic)) for c in story.changes]
    unseen, back = "active-unacknowledged", "returned-unacknowledged"
    assert told == [
        ("normal", unseen, (), (), 1),
        (unseen, unseen, (), ("shelved",), 2),
        (unseen, back, ("shelved",), ("shelved",), 4),
        (back, unseen, ("shelved",), ("shelved",), 603),
        (unseen, unseen, ("shelved",), (), 902),
    ]
    assert [
        (a.occurrence, round(a.at.monotonic), round(a.since.monotonic)) for a in story.announcements if a.since
    ] == [
        (1, 1, 1),
        (2, 902, 603),
    ], "heard when the shelf ended, with its original start"
    assert story.changes[1].reason == "shelved for 15 min"
    assert story.changes[1].until == at(902.0)
    assert story.changes[-1].reason == "its time on the shelf is over"


def test_a_shelved_alarm_that_is_over_comes_back_in_silence() -> None:
    story = Story(level_rule(self_clearing=True), rate=5.0)
    story.shelve(60.0)
    story.hold(30.0, 20.0)
    story.hold(60.0, 0.0)
    assert story.sounds() == []
    assert story.quiet() == ()


def test_a_shelf_shows_how_long_it_lasts() -> None:
    story = Story(level_rule(), rate=5.0)
    story.shelve(300.0)
    story.hold(60.0, 20.0)
    shown = statuses(story.book, story.now)[0]
    assert shown.quiet == ("shelved",)
    assert shown.shelved_seconds == pytest.approx(240.0)
    assert shown.quiet_words == "shelved for 4 min more"
    assert named_state(shown.state, shown.quiet) == "shelved"
    assert shown.state == "active-unacknowledged", "the state itself is not lost"


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (3600.1, "level: an alarm can be shelved for 60 min at most"),
        (float("inf"), "level: an alarm can be shelved for 60 min at most"),
        (0.0, "level: the time on the shelf must be above zero"),
        (-5.0, "level: the time on the shelf must be above zero"),
        (float("nan"), "level: the time on the shelf must be above zero"),
        (3600.0, None),
    ],
)
def test_an_hour_is_the_most(seconds: float, said: str | None) -> None:
    story = Story(level_rule())
    assert story.shelve(seconds) == said
    assert story.quiet() == (() if said else ("shelved",))


def test_shelving_again_sets_the_time_anew_and_taking_it_off_sounds_again() -> None:
    story = Story(level_rule(), rate=5.0)
    story.hold(2.0, 20.0)
    story.shelve(60.0)
    story.hold(30.0, 20.0)
    story.shelve(60.0)
    story.hold(50.0, 20.0)
    assert story.quiet() == ("shelved",)
    assert story.unshelve() is None
    story.hold(1.0, 20.0)
    assert story.sounds() == [("level", 1), ("level", 1)]
    assert story.unshelve() == "level: it is not shelved"


def test_what_was_acknowledged_on_the_shelf_stays_silent_after_it() -> None:
    story = Story(level_rule(), rate=5.0)
    story.shelve(30.0)
    story.hold(10.0, 20.0)
    story.acknowledge()
    story.hold(60.0, 20.0)
    assert story.sounds() == []


def test_a_shelf_that_ends_while_the_feed_is_lost_sounds_only_when_a_picture_shows_it() -> None:
    story = Story(level_rule(), FEED)
    story.hold(1.2, 20.0)
    story.shelve(2.0)
    story.hold(10.0, lost=True)
    assert story.sounds() == [("level", 1), ("feed", 1)]
    story.hold(0.2, 20.0)
    assert story.sounds() == [("level", 1), ("feed", 1), ("level", 1)]


def test_one_cause_speaks_once() -> None:
    """The lamps go out: the picture is dark, and what follows from that is judged, recorded and silent."""
    story = Story(*DEFAULT_RULES)

    def shown(seconds: float, **values: float) -> None:
        for _ in range(round(seconds * 25)):
            story.show({name.replace("_", "-"): value for name, value in values.items()})

    shown(5.0, shadows=0.2, skin_low=0.0, dark=0.0, drift_down=0.0)
    shown(20.0, shadows=100.0, skin_low=6.0, dark=1.0, drift_down=6.0)
    assert story.sounds() == [("dark", 1)]
    rises = [c for c in story.changes if c.after == "active-unacknowledged"]
    assert [(c.alarm, c.quiet) for c in rises] == [
        ("dark", ()), ("shadows", ("suppressed",)), ("skin-low", ("suppressed",)), ("drift-down", ("suppressed",)),
    ]  # fmt: skip
    # Half the lamps come back: what still holds is heard now, with the time it began.
    shown(5.0, shadows=0.2, skin_low=1.0, dark=0.0, drift_down=0.1)
    assert story.sounds() == [("dark", 1), ("skin-low", 1)]
    told = story.announcements[-1]
    assert told.since is not None
    assert told.at.since(told.since) > 15.0


def test_what_was_heard_before_it_was_suppressed_is_not_repeated_after() -> None:
    story = Story(level_rule(hushed_by=("other",)), level_rule("other", self_clearing=True))
    story.hold(2.0, 20.0)
    for _ in range(50):
        story.show({"level": 20.0, "other": 20.0})
    for _ in range(100):
        story.show({"level": 20.0, "other": 0.0})
    assert story.sounds() == [("level", 1), ("other", 1)]
    reasons = [c.reason for c in story.changes if c.alarm == "level"][1:]
    assert reasons == ["suppressed by other", "no longer suppressed by other"]


def test_defaults_are_hushed_only_by_what_is_at_least_as_quick() -> None:
    rules = {rule.name: rule for rule in DEFAULT_RULES}
    for rule in DEFAULT_RULES:
        for name in rule.hushed_by:
            assert rules[name].on_delay <= rule.on_delay, f"{rule.name} would be heard before {name}"
            assert rules[name].priority <= rule.priority, f"{name} is less grave than {rule.name}"


def test_out_of_service_needs_a_reason_and_keeps_it_in_sight() -> None:
    story = Story(level_rule())
    assert story.retire("  ") == "level: say why it is taken out of service"
    assert story.retire("lamp in repair") is None
    assert story.retire("again") == "level: it is out of service already: lamp in repair"
    story.hold(5.0, 20.0)
    assert statuses(story.book, story.now)[0].quiet_words == "out of service: lamp in repair"
    assert story.sounds() == []
    assert story.put_back() is None
    story.hold(0.1, 20.0)
    assert story.sounds() == [("level", 1)]
    assert story.put_back() == "level: it is in service"


def test_quiet_in_three_ways_at_once_needs_all_three_to_end() -> None:
    story = Story(level_rule(hushed_by=("other",)), level_rule("other", self_clearing=True))
    story.shelve(3600.0)
    story.retire()
    for _ in range(60):
        story.show({"level": 20.0, "other": 20.0})
    assert story.quiet() == ("shelved", "suppressed", "out of service")
    assert named_state("normal", ("shelved", "suppressed", "out of service")) == "out of service"
    story.unshelve()
    story.put_back()
    story.show({"level": 20.0, "other": 20.0})
    assert ("level", 1) not in story.sounds()
    for _ in range(60):
        story.show({"level": 20.0, "other": 0.0})
    assert story.sounds("level") == [("level", 1)]


def test_a_latched_clip_survives_a_clean_picture_until_its_reset() -> None:
    story = Story(level_rule(latching=True))
    story.hold(1.2, 20.0)
    story.hold(600.0, 0.0)
    assert story.state() == "latched-unacknowledged"
    assert story.reset() == "level: acknowledge it before the reset"
    story.acknowledge()
    story.hold(600.0, 0.0)
    assert story.state() == "latched-acknowledged"
    assert story.reset() is None
    assert [c.after for c in story.changes] == [
        "active-unacknowledged", "latched-unacknowledged", "latched-acknowledged", "normal",
    ]  # fmt: skip
    assert story.sounds() == [("level", 1)]


def test_the_gravest_is_heard_again_each_minute_until_it_is_acknowledged() -> None:
    story = Story(FEED, rate=5.0)
    story.hold(250.0, lost=True)
    told = [(a.again, a.occurrence, round(a.at.monotonic)) for a in story.announcements]
    assert told == [(False, 1, 0), (True, 1, 60), (True, 1, 120), (True, 1, 180), (True, 1, 240)]
    story.acknowledge("feed", 1)
    story.hold(250.0, lost=True)
    assert len(story.announcements) == 5
    assert [c.after for c in story.changes] == ["active-unacknowledged", "active-acknowledged"], "a reminder is no rise"


@pytest.mark.parametrize(("priority", "repeat", "heard"), [(2, None, 1), (3, None, 1), (1, 0.0, 1), (3, 30.0, 4)])
def test_others_are_heard_again_only_where_their_rule_says_so(priority: int, repeat: float | None, heard: int) -> None:
    story = Story(level_rule(priority=priority, repeat=repeat), rate=5.0)
    story.hold(101.0, 20.0)
    assert len(story.announcements) == heard


def test_no_reminder_while_the_picture_is_gone_or_the_value_recovers() -> None:
    story = Story(level_rule(repeat=10.0, off_delay=30.0), FEED, rate=5.0)
    story.hold(2.0, 20.0)
    story.hold(25.0, 0.0)
    story.hold(0.2, 20.0)
    assert [a.again for a in story.announcements] == [False, True], "the reminder waited until it held again"
    story.hold(9.0, 20.0)
    story.hold(50.0, lost=True)
    assert len([a for a in story.announcements if a.alarm == "level"]) == 2


def test_what_is_not_of_the_picture_is_judged_without_one_and_in_its_own_time() -> None:
    story = Story(*DEFAULT_RULES)
    for _ in range(4):
        story.show({"disk": 1.0}, lost=True, words="unplugged")
        story.silence(10.0)
    assert story.sounds()[:2] == [("feed", 1), ("disk", 1)]
    disk = next(s for s in statuses(story.book, story.now) if s.alarm == "disk")
    assert not disk.frozen
    assert disk.reason == "1.0 GiB free, at or under the limit 2.0 GiB for 10.0 s"


def test_rules_nobody_feeds_stay_normal_and_do_not_look_held() -> None:
    story = Story(*DEFAULT_RULES)
    for _ in range(25 * 60):
        story.show({"highlights": 0.1, "shadows": 0.1})
    assert story.changes == []
    assert not any(s.frozen for s in statuses(story.book, story.now))
    assert all(s.frozen for s in statuses(opened((level_rule(),), at(0.0)), at(0.0)))
