"""The metrics of scripted hours equal hand counts (EEMUA 191 and ISA-18.2 figures, as commonly quoted)."""

from __future__ import annotations

import pytest

from analysis.alarm.metrics import measured
from analysis.model.alarm import AlarmChange, AlarmState, QuietWay
from tests.alarm.timeline import Story, at, level_rule


def change(
    alarm: str,
    seconds: float,
    after: AlarmState,
    before: AlarmState = "normal",
    *,
    priority: int = 2,
    spent: float = 0.0,
    quiet: tuple[QuietWay, ...] = (),
) -> AlarmChange:
    return AlarmChange(
        alarm=alarm, occurrence=1, before=before, after=after, priority=priority, reason="scripted", at=at(seconds),
        seconds=spent, quiet=quiet, quiet_before=quiet,
    )  # fmt: skip


def pulse(alarm: str, begin: float, end: float, **fields: object) -> list[AlarmChange]:
    return [
        change(alarm, begin, "active-unacknowledged", **fields),  # type: ignore[arg-type]
        change(alarm, end, "normal", "active-unacknowledged", spent=end - begin, **fields),  # type: ignore[arg-type]
    ]


def hour(*parts: list[AlarmChange], seconds: float = 3600.0, **fields: float):
    changes = sorted((c for part in parts for c in part), key=lambda c: c.at.monotonic)
    return measured(changes, at(0.0), at(seconds), **fields)


def test_a_scripted_hour_equals_the_hand_count() -> None:
    """Highlights at 5, 15 and 25 min, shadows at 25 min 30 s shelved, feed at 40 min acknowledged after 12 s."""
    feed = [
        change("feed", 2400.0, "active-unacknowledged", priority=1),
        change("feed", 2412.0, "active-acknowledged", "active-unacknowledged", priority=1, spent=12.0),
    ]
    counted = hour(
        pulse("highlights", 300, 320), pulse("highlights", 900, 930), pulse("highlights", 1500, 1501),
        pulse("shadows", 1530, 1600, priority=3, quiet=("shelved",)), feed,
    )  # fmt: skip
    assert counted.alarms == 4
    assert counted.per_hour == 4.0
    assert counted.by_priority == {2: 3, 1: 1}
    assert counted.by_alarm == {"highlights": 3, "feed": 1}
    assert counted.quiet == 1
    assert counted.busiest == 1, "any ten minutes hold one: 300 and 900 lie exactly ten minutes apart"
    assert counted.flood_percent == 0.0
    assert counted.chattering == {}
    assert counted.active == ("feed",) and counted.standing == ()
    assert counted.loudest == ("highlights", 75.0)
    assert (counted.acknowledged, counted.median_answer) == (1, 12.0)


@pytest.mark.parametrize(("apart", "worst"), [(29.0, 3), (30.0, 2), (31.0, 2), (10.0, 5)])
def test_three_within_a_minute_chatter(apart: float, worst: int) -> None:
    """Five rises: at 29 s apart three of them span 58 s, at 30 s the third lies a whole minute off."""
    counted = hour(*(pulse("level", n * apart, n * apart + 2) for n in range(5)))
    assert counted.chattering == ({"level": worst} if worst >= 3 else {})


def test_a_flood_lasts_from_the_eleventh_until_fewer_than_five_are_left() -> None:
    """Eleven, 30 s apart: the eleventh at 300 s. Seven have left their ten minutes at 600 + 6*30 = 780 s."""
    eleven = [pulse("a" if n % 2 else "b", n * 30.0, n * 30.0 + 1) for n in range(11)]
    assert hour(*eleven).flood_percent == pytest.approx(100 * (780 - 300) / 3600)
    assert hour(*eleven).busiest == 11
    assert hour(*eleven[:10]).flood_percent == 0.0
    assert hour(*eleven, seconds=600.0).flood_percent == pytest.approx(100 * 300 / 600), "it goes on at the end"


def test_a_day_makes_it_standing() -> None:
    stays = [change("disk", 10.0, "active-unacknowledged"), change("disk", 20.0, "active-acknowledged",
             "active-unacknowledged", spent=10.0)]  # fmt: skip
    assert hour(stays, seconds=86_409.0).standing == ()
    counted = hour(stays, seconds=86_410.0)
    assert counted.standing == ("disk",)
    assert counted.per_hour == pytest.approx(1 / 24.0, rel=1e-3)
    assert hour(stays, seconds=120.0, standing_seconds=60.0).standing == ("disk",)


def test_shelving_and_rising_again_are_not_rises() -> None:
    quiet_changes = [
        change("level", 1.0, "active-unacknowledged"),
        change("level", 2.0, "active-unacknowledged", "active-unacknowledged", quiet=("shelved",)),
        change("level", 9.0, "active-unacknowledged", "active-unacknowledged"),
    ]
    assert hour(quiet_changes).alarms == 1


def test_medians_of_even_and_odd_counts() -> None:
    def seen(begin: float, spent: float) -> list[AlarmChange]:
        return [change("x", begin, "active-acknowledged", "active-unacknowledged", spent=spent)]

    assert hour(seen(1, 4.0), seen(2, 10.0), seen(3, 5.0)).median_answer == 5.0
    assert hour(seen(1, 4.0), seen(2, 10.0)).median_answer == 7.0
    assert hour().median_answer is None and hour().loudest is None


def test_only_the_time_asked_for_counts() -> None:
    changes = pulse("level", 10.0, 12.0) + pulse("level", 100.0, 120.0)
    assert measured(changes, at(50.0), at(200.0)).alarms == 1
    with pytest.raises(ValueError, match="after the beginning"):
        measured(changes, at(5.0), at(5.0))


def test_what_the_machine_records_can_be_counted() -> None:
    story = Story(level_rule(self_clearing=True))
    for _ in range(3):
        story.hold(1.2, 20.0)
        story.hold(10.0, 0.0)
    story.hold(2.0, 20.0)
    counted = measured(story.changes, at(0.0), story.now)
    assert counted.alarms == 4 and counted.active == ("level",)
    assert counted.chattering == {"level": 4}
