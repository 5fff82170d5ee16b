"""Stories on a timeline: delays, deadband, missing data, a lost feed, acknowledgement."""

from __future__ import annotations

import pytest

from analysis.alarm.book import opened, statuses
from analysis.alarm.defaults import DEFAULT_RULES, FEED, HIGHLIGHTS, SHADOWS
from tests.alarm.timeline import Story, at, level_rule


def test_clip_then_loss_then_return_is_told_in_order_and_on_time() -> None:
    """Clip at 1 s, feed lost at 2.2 s, back at 3.6 s with the clip still there, clean at 4.6 s."""
    story = Story(*DEFAULT_RULES)
    for tick in range(1, 26 * 8):
        seconds = tick / 25
        lost = 2.2 <= seconds < 3.6
        share = 4.0 if 1.0 <= seconds < 4.6 else 0.1
        story.show({"highlights": None if lost else share, "shadows": 0.0}, lost=lost, words="no picture for 1.0 s")
    told = [(c.alarm, c.before, c.after, round(c.at.monotonic, 2)) for c in story.changes]
    assert told == [
        ("highlights", "normal", "active-unacknowledged", 2.0),
        ("feed", "normal", "active-unacknowledged", 2.2),
        ("feed", "active-unacknowledged", "returned-unacknowledged", 5.6),
        ("highlights", "active-unacknowledged", "normal", 6.6),
    ]
    assert story.sounds() == [("highlights", 1), ("feed", 1)]


def test_reasons_carry_the_numbers() -> None:
    story = Story(*DEFAULT_RULES)
    story.hold(1.2, 2.31, alarm="highlights")
    story.hold(2.2, 0.44, alarm="highlights")
    story.hold(0.1, lost=True)
    assert [c.reason for c in story.changes] == [
        "clipped 2.3 % of the picture, at or over the limit 1.0 % for 1.0 s",
        "clipped 0.4 % of the picture, under the clear level 0.6 % for 2.0 s",
        "feed lost: no picture",
    ]
    assert [c.value for c in story.changes] == [2.31, 0.44, None]
    assert story.changes[1].seconds == pytest.approx(2.2, abs=0.05)


def test_a_pending_condition_that_ends_never_fires() -> None:
    story = Story()
    story.hold(0.96, 20.0)
    story.hold(0.04, 9.99)
    story.hold(0.96, 20.0)
    story.hold(5.0, 0.0)
    assert story.changes == []


def test_thousand_pulses_shorter_than_the_delay_never_fire() -> None:
    story = Story(rate=20.0)
    for _ in range(1000):
        story.hold(0.9, 20.0)
        story.hold(2.5, 0.0)
    assert story.sounds() == []


def test_thousand_pulses_longer_than_the_delay_fire_a_thousand_times() -> None:
    story = Story(level_rule(self_clearing=True), rate=20.0)
    for _ in range(1000):
        story.hold(1.1, 20.0)
        story.hold(2.5, 0.0)
    assert story.sounds() == [("level", n) for n in range(1, 1001)]


def test_short_spike_under_half_a_second_of_delay_is_silent() -> None:
    """Check (b) of the usual alarm-philosophy list: 0.3 s spike, 0.5 s on-delay, nothing heard."""
    story = Story(level_rule(on_delay=0.5))
    story.hold(2.0, 0.0)
    story.hold(0.3, 90.0)
    story.hold(2.0, 0.0)
    assert story.sounds() == []


def test_one_code_about_the_limit_for_a_minute_is_heard_once() -> None:
    """Check (a): +-1 code of an 8-bit picture about the limit, ten times a second for 60 s.

    Chattering is the same alarm three times or more within a minute (common practice).
    """
    code = 100 / 219
    for rule in (level_rule(on_delay=0.0), level_rule(on_delay=0.0, self_clearing=True)):
        story = Story(rule, rate=20.0)
        story.play([10.0 + code, 10.0 - code] * 600)
        assert story.sounds() == [("level", 1)]


def test_with_its_delay_the_same_flutter_is_heard_once_after_it_was_steady_for_long_enough() -> None:
    story = Story(level_rule(self_clearing=True), rate=20.0)
    story.hold(1.1, 10.1)
    story.play([10.1, 9.9] * 600)
    assert story.sounds() == [("level", 1)]


def test_an_hour_of_swinging_within_the_deadband_is_one_alarm() -> None:
    """Half the deadband up and down about its middle plus a little: over the limit, never under clear."""
    story = Story(level_rule(self_clearing=True), rate=2.0)
    story.play(([10.0] * 4 + [8.0] * 4) * 900)
    assert story.ticks / story.rate == 3600
    assert story.sounds() == [("level", 1)]


def test_missing_data_never_clears_an_active_alarm() -> None:
    story = Story()
    story.hold(1.2, 20.0)
    story.hold(600.0, None)
    story.silence(600.0)
    story.hold(0.5, 0.0)
    assert story.state() == "active-unacknowledged"
    story.hold(2.0, 0.0)
    assert story.state() == "returned-unacknowledged"


@pytest.mark.parametrize(("gap", "fires"), [(0.9, True), (1.2, False)])
def test_a_gap_longer_than_patience_restarts_the_on_delay(gap: float, fires: bool) -> None:
    story = Story()
    story.hold(0.6, 20.0)
    story.hold(gap, None)
    story.hold(0.2, 20.0)
    assert (story.state() == "active-unacknowledged") is fires
    story.hold(1.0, 20.0)
    assert story.state() == "active-unacknowledged"


@pytest.mark.parametrize(("gap", "clears"), [(0.9, True), (1.2, False)])
def test_a_gap_longer_than_patience_restarts_the_off_delay(gap: float, clears: bool) -> None:
    story = Story(level_rule(self_clearing=True))
    story.hold(1.2, 20.0)
    story.hold(1.4, 0.0)
    story.hold(gap, None)
    story.hold(0.2, 0.0)
    assert (story.state() == "normal") is clears


def test_a_feed_lost_freezes_the_others_and_speaks_alone() -> None:
    rules = [level_rule(f"level {n}") for n in range(20)]
    story = Story(FEED, *rules)
    everything = {rule.name: 20.0 for rule in rules}
    for _ in range(10):
        story.show(everything)  # pending, not yet heard
    story.show(everything, lost=True, words="unplugged")
    assert all(s.frozen for s in statuses(story.book, story.now)[1:]), "held from the first moment of the loss"
    for _ in range(100):
        story.show(everything, lost=True, words="unplugged")
    assert story.sounds() == [("feed", 1)]
    shown = statuses(story.book, story.now)
    assert [s.frozen for s in shown] == [False] + [True] * 20
    # Only what is true now sounds after the return: three of the twenty.
    for _ in range(60):
        story.show({rule.name: 20.0 if n < 3 else 0.0 for n, rule in enumerate(rules)})
    assert story.sounds() == [("feed", 1), ("level 0", 1), ("level 1", 1), ("level 2", 1)]
    assert not any(s.frozen for s in statuses(story.book, story.now))


def test_an_alarm_active_before_the_loss_goes_on_with_its_own_start_and_without_a_second_sound() -> None:
    story = Story()
    story.hold(1.2, 20.0)
    rose = story.book.entry("level").since
    story.hold(10.0, lost=True)
    story.hold(3.0, 20.0)
    assert story.state() == "active-unacknowledged"
    assert story.book.entry("level").since == rose
    assert story.sounds() == [("level", 1), ("feed", 1)]


def test_a_loose_plug_is_heard_once() -> None:
    story = Story(*DEFAULT_RULES)
    for _ in range(20):
        story.hold(1.0, lost=True)
        story.hold(1.5, 0.0)
    assert story.sounds() == [("feed", 1)]


def test_a_lost_feed_waits_to_be_seen_and_sounds_again_when_lost_again() -> None:
    story = Story(*DEFAULT_RULES)
    story.hold(1.0, lost=True)
    story.hold(3.0, 0.0)
    assert story.state("feed") == "returned-unacknowledged"
    story.hold(1.0, lost=True)
    assert story.sounds() == [("feed", 1), ("feed", 2)]
    assert story.acknowledge("feed", 1) == "feed: occurrence 1 is not the present one, which is 2"
    assert story.state("feed") == "active-unacknowledged"
    assert story.acknowledge("feed", 2) is None
    story.hold(3.0, 0.0)
    assert story.state("feed") == "normal"


def test_fired_cleared_and_fired_again_sounds_again() -> None:
    story = Story(level_rule(self_clearing=True))
    for _ in range(3):
        story.hold(1.2, 20.0)
        story.hold(2.2, 0.0)
    assert story.sounds() == [("level", 1), ("level", 2), ("level", 3)]


def test_acknowledged_and_returned_in_the_same_tick_ends_normal_in_both_orders() -> None:
    first_seen = Story()
    first_seen.hold(1.2, 20.0)
    first_seen.hold(2.0, 0.0)
    first_seen.ticks += 1
    first_seen.acknowledge("level", 1)
    first_seen.ticks -= 1
    first_seen.hold(0.2, 0.0)
    first_returned = Story()
    first_returned.hold(1.2, 20.0)
    first_returned.hold(2.04, 0.0)
    assert first_returned.state() == "returned-unacknowledged"
    first_returned.acknowledge("level", 1)
    assert first_seen.state() == first_returned.state() == "normal"
    assert [c.after for c in first_seen.changes] == ["active-unacknowledged", "active-acknowledged", "normal"]
    assert [c.after for c in first_returned.changes] == ["active-unacknowledged", "returned-unacknowledged", "normal"]
    assert first_seen.changes[1].at == first_seen.changes[2].at
    assert first_returned.changes[1].at == first_returned.changes[2].at
    assert len(first_seen.sounds()) == len(first_returned.sounds()) == 1


def test_acknowledging_one_leaves_the_others() -> None:
    story = Story(level_rule("a"), level_rule("b"))
    for _ in range(40):
        story.show({"a": 20.0, "b": 20.0})
    story.acknowledge("a")
    assert (story.state("a"), story.state("b")) == ("active-acknowledged", "active-unacknowledged")
    story.acknowledge()
    assert story.state("b") == "active-acknowledged"


def test_the_most_urgent_is_announced_first() -> None:
    story = Story(level_rule("c", priority=3, on_delay=0), level_rule("a", priority=1, on_delay=0), FEED)
    story.show({"a": 20.0, "c": 20.0})
    assert [(a.alarm, a.priority) for a in story.announcements] == [("a", 1), ("c", 3)]


def test_the_wall_clock_may_jump() -> None:
    """Durations follow the monotonic clock: an hour forth or back changes nothing."""
    plain, jumped = Story(), Story()
    for story, jump in ((plain, 0.0), (jumped, 3600.0)):
        story.hold(0.6, 20.0)
        book = story.book
        moved = type(story.now)(story.now.monotonic, story.now.utc + jump)
        assert moved.since(book.entry("level").since) == pytest.approx(0.6)
        story.hold(0.6, 20.0)
    assert plain.sounds() == jumped.sounds() == [("level", 1)]


def test_a_rounded_sum_of_frame_times_does_not_cost_a_frame() -> None:
    """30 intervals of 1/30 s, summed, fall short of a second by a few 1e-16."""
    story = Story(level_rule(), rate=30.0)
    story.play([20.0] * 31)
    assert story.sounds() == [("level", 1)]


def test_statuses_tell_words_advice_and_freshness() -> None:
    book = opened(DEFAULT_RULES, at(0.0))
    shown = {s.alarm: s for s in statuses(book, at(0.0))}
    assert shown["highlights"].frozen, "nothing was measured yet, so nothing can be vouched for"
    assert (shown["highlights"].words, shown["highlights"].advice) == (HIGHLIGHTS.words, HIGHLIGHTS.advice)
    story = Story(*DEFAULT_RULES)
    story.hold(2.5, 6.0, alarm="shadows")
    shown = {s.alarm: s for s in statuses(story.book, story.now)}
    assert shown["shadows"].state == "active-unacknowledged"
    assert shown["shadows"].direction == SHADOWS.direction == "down"
    assert not shown["shadows"].frozen
    assert {s.alarm: s for s in statuses(story.book, at(10.0))}["shadows"].frozen


def test_a_status_tells_the_value_of_now_and_never_an_old_one() -> None:
    story = Story(*DEFAULT_RULES)
    story.hold(1.2, 2.31, alarm="highlights")
    story.show({"highlights": 1.7})

    def told(name: str) -> tuple[str, str]:
        status = next(s for s in statuses(story.book, story.now) if s.alarm == name)
        return status.measured, status.limits

    assert told("highlights") == ("clipped 1.7 % of the picture", "rises at 1 % or over after 1 s, returns under 0.6 %")
    assert told("feed") == ("", "")
    assert told("drift-up")[0] == "", "nobody ever measured it"
    story.hold(0.1, lost=True)
    assert told("highlights")[0] == "", "there is no picture now"
    story.show({"highlights": 1.2})
    story.silence(60.0)
    assert told("highlights")[0] == "", "nobody measures any more"
