"""Many alarms at once: one summary, everything recorded, the gravest always by itself."""

from __future__ import annotations

from itertools import pairwise

import pytest

from analysis.alarm.flood import FloodLimits
from analysis.alarm.rule import AlarmRule
from tests.alarm.timeline import Story, level_rule


def crowd(count: int, **fields: object) -> list[AlarmRule]:
    return [level_rule(f"level {n}", on_delay=0.0, **fields) for n in range(count)]


def raise_(story: Story, names: list[str]) -> None:
    """From now on these are over the limit, the others have no value."""
    story.show(dict.fromkeys(names, 20.0))


def told(story: Story) -> list[tuple[str, int, float]]:
    return [(a.alarm, a.counts, round(a.at.monotonic, 1)) for a in story.announcements]


def test_four_within_two_seconds_become_one_summary() -> None:
    story = Story(*crowd(4), rate=10.0, flood=FloodLimits())
    names = [f"level {n}" for n in range(4)]
    for _ in range(30):
        raise_(story, names)
    assert told(story) == [("several", 4, 2.1)]
    summary = story.announcements[0]
    assert summary.words == "4 new alarms"
    assert summary.since == story.changes[0].at
    assert len(story.changes) == 4


def test_three_within_two_seconds_are_heard_one_by_one() -> None:
    story = Story(*crowd(3), rate=10.0, flood=FloodLimits())
    for _ in range(30):
        raise_(story, ["level 0", "level 1", "level 2"])
    assert told(story) == [("level 0", 1, 0.1), ("level 1", 1, 0.1), ("level 2", 1, 0.1)]


def test_two_hundred_in_a_second_are_three_sounds_and_a_summary_and_all_are_recorded() -> None:
    rules = [*crowd(199), level_rule("grave", priority=1, on_delay=0.0)]
    story = Story(*rules, rate=200.0, flood=FloodLimits())
    up: list[str] = []
    for n in range(199):
        up.append(f"level {n}")
        raise_(story, [*up, "grave"] if n >= 100 else up)
    for _ in range(200 * 5):
        raise_(story, [*up, "grave"])
    assert len([c for c in story.changes if c.after == "active-unacknowledged"]) == 200
    heard = [(a.alarm, a.counts) for a in story.announcements]
    assert heard == [("level 0", 1), ("level 1", 1), ("level 2", 1), ("grave", 1), ("several", 196)]
    assert story.announcements[-1].words == "196 new alarms"


@pytest.mark.parametrize("flooded", [False, True])
def test_the_gravest_is_heard_at_once_in_any_flood(flooded: bool) -> None:
    story = Story(*crowd(30), level_rule("grave", priority=1, on_delay=0.0), rate=10.0, flood=FloodLimits())
    names = [f"level {n}" for n in range(30)] if flooded else []
    for _ in range(10):
        raise_(story, names)
    at = story.now
    raise_(story, [*names, "grave"])
    grave = [a for a in story.announcements if a.alarm == "grave"]
    assert len(grave) == 1
    assert grave[0].at.since(at) == pytest.approx(0.1)


def test_a_summary_counts_only_what_still_wants_to_be_heard() -> None:
    story = Story(*crowd(6), rate=10.0, flood=FloodLimits())
    names = [f"level {n}" for n in range(6)]
    for _ in range(5):
        raise_(story, names)
    story.acknowledge("level 0")
    story.shelve(60.0, "level 1")
    for _ in range(30):
        raise_(story, names)
    assert told(story) == [("several", 4, 2.1)]


def test_one_that_is_left_over_is_heard_by_its_own_words() -> None:
    story = Story(*crowd(4), rate=10.0, flood=FloodLimits())
    names = [f"level {n}" for n in range(4)]
    raise_(story, names)
    for name in names[1:]:
        story.acknowledge(name)
    for _ in range(30):
        raise_(story, names)
    assert told(story) == [("level 0", 1, 2.1)]


def test_more_than_ten_in_ten_minutes_are_summed_up_once_a_minute_until_it_calms_down() -> None:
    """One alarm rises every 20 s: ten are heard, then one summary a minute, and singly again after calm."""
    story = Story(*crowd(80, self_clearing=True, off_delay=0.0), rate=10.0, flood=FloodLimits())
    for n in range(40):
        for _ in range(200):
            raise_(story, [f"level {m}" for m in range(n + 1)])
    singles = [(a.alarm, round(a.at.monotonic)) for a in story.announcements if a.counts == 1]
    assert singles[:10] == [(f"level {n}", 20 * n) for n in range(10)]
    assert [a.counts for a in story.announcements[10:]].count(3) >= 8, "three rise in each minute"
    later = [a.at.monotonic for a in story.announcements[10:]]
    assert all(after - before >= 60.0 - 0.11 for before, after in pairwise(later))
    assert len([c for c in story.changes if c.after == "active-unacknowledged"]) == 40
    counted = sum(a.counts for a in story.announcements)
    assert counted >= 38, "all but those of the last minute have been told"
    for _ in range(10 * 601):
        raise_(story, [f"level {m}" for m in range(40)])
    assert sum(a.counts for a in story.announcements) == 40
    before = len(story.announcements)
    raise_(story, [f"level {m}" for m in range(41)])
    assert [(a.alarm, a.counts) for a in story.announcements[before:]] == [("level 40", 1)], "the flood is over"


def test_many_reminders_are_one_summary_too() -> None:
    story = Story(*crowd(5, repeat=30.0), rate=10.0, flood=FloodLimits(most=100))
    names = [f"level {n}" for n in range(5)]
    for _ in range(10 * 36):
        raise_(story, names)
    assert [(a.words, a.again) for a in story.announcements] == [
        ("5 new alarms", False),
        ("5 alarms nobody has acknowledged", True),
    ]


def test_one_grave_alarm_that_nobody_acknowledges_makes_no_flood() -> None:
    """Reminded of each minute for a quarter of an hour it is still one alarm, and the others are heard at once."""
    grave = level_rule("grave", priority=1, repeat=60.0, on_delay=0.0)
    story = Story(grave, *crowd(2, self_clearing=True), rate=10.0, flood=FloodLimits())
    for _ in range(10 * 900):
        raise_(story, ["grave"])
    assert len([a for a in story.announcements if a.alarm == "grave"]) == 15
    for names in (["grave", "level 0"], ["grave", "level 0", "level 1"]):
        for _ in range(10 * 20):
            raise_(story, names)
    heard = [(a.alarm, round(a.at.monotonic)) for a in story.announcements if a.alarm != "grave"]
    assert heard == [("level 0", 900), ("level 1", 920)]


def test_a_summary_takes_the_kind_and_urgency_of_the_gravest_in_it() -> None:
    rules = [*crowd(4, priority=3, kind="shadows"), level_rule("skin", kind="skin", priority=2, on_delay=0.0)]
    story = Story(*rules, rate=10.0, flood=FloodLimits())
    for _ in range(30):
        raise_(story, [rule.name for rule in rules])
    summary = story.announcements[0]
    assert (summary.kind, summary.priority, summary.direction, summary.counts) == ("skin", 2, "none", 5)


def test_no_alarm_may_take_the_name_of_a_summary() -> None:
    with pytest.raises(ValueError, match="no alarm may be called several"):
        Story(level_rule("several"))


@pytest.mark.parametrize("fields", [{"burst": 1}, {"most": 0}, {"seconds": 0.0}, {"apart": float("nan")}])
def test_limits_that_cannot_be_meant_are_refused(fields: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="flood"):
        FloodLimits(**fields)  # type: ignore[arg-type]
