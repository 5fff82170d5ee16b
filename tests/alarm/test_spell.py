"""What comes and goes: told three times, then one alarm that stands until it was calm, and never hides what is worse.

Delays that treat chattering and fleeting alarms are the standards' own (ISA-18.2 and IEC 62682, as commonly quoted;
the texts are sold and were not read). How long and how often is this program's choice.
"""

from __future__ import annotations

import itertools

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.alarm.book import statuses
from analysis.alarm.metrics import measured
from analysis.alarm.rule import AlarmRule
from tests.alarm.timeline import Story, at, level_rule

CALM = 30.0
RATE = 5.0


def weather(**fields: object) -> AlarmRule:
    chosen: dict[str, object] = {"self_clearing": True, "often": 3, "calm": CALM, **fields}
    return level_rule(**chosen)


def clouds(story: Story, breaks: int, *, value: float = 20.0, bad: float = 4.0, good: float = 10.0) -> None:
    for _ in range(breaks):
        story.hold(bad, value)
        story.hold(good, 0.0)


def told(story: Story) -> list[tuple[str, str]]:
    return [(c.before, c.after) for c in story.changes]


RISE, RETURN = ("normal", "active-unacknowledged"), ("active-unacknowledged", "normal")


def test_the_third_rise_in_a_row_stands_until_it_is_calm() -> None:
    story = Story(weather(), rate=RATE)
    clouds(story, 9)
    assert told(story) == [RISE, RETURN, RISE, RETURN, RISE]
    assert story.sounds() == [("level", 1), ("level", 2), ("level", 3)]
    assert [c.rises for c in story.changes] == [1, 1, 2, 2, 3]
    story.hold(CALM, 0.0)
    assert told(story)[-1] == RETURN
    assert story.state() == "normal"


def test_who_only_hears_is_told_that_it_will_not_be_told_each_time() -> None:
    story = Story(weather(), rate=RATE)
    clouds(story, 5)
    assert [a.words for a in story.announcements] == ["too much", "too much", "too much, comes and goes"]
    story.hold(4.0, 90.0)
    assert story.announcements[-1].words == "too much, much worse than before"
    story.hold(CALM + 1.0, 0.0)
    story.hold(4.0, 20.0)
    assert story.announcements[-1].words == "too much"


def test_the_reasons_tell_it_in_numbers() -> None:
    story = Story(weather(), rate=RATE)
    clouds(story, 3)
    assert story.changes[-1].reason == (
        "clipped 20.0 % of the picture, at or over the limit 10.0 % for 1.0 s; comes and goes: 3 times in 28 s"
    )
    (shown,) = statuses(story.book, story.now)
    assert shown.lull
    assert shown.reason.endswith("comes and goes: 3 times in 28 s; away for 10 s")
    clouds(story, 1, good=0.0)
    (shown,) = statuses(story.book, story.now)
    assert not shown.lull
    assert shown.reason.endswith("comes and goes: 4 times in 42 s"), "counted on, though not told again"
    story.hold(CALM + 0.4, 0.0)
    assert story.changes[-1].reason == (
        "clipped 0.0 % of the picture, under the clear level 8.0 % for 29.8 s; "
        "came and went 4 times in 45 s, calm for 30 s"
    )


def test_an_hour_of_clouds_is_three_alarms_and_no_chatter() -> None:
    story = Story(weather(calm=600.0), rate=1.0)
    clouds(story, 20, bad=17.0, good=163.0)
    counted = measured(story.changes, at(0.0), at(3600.0))
    assert counted.per_hour == 3.0
    assert counted.chattering == {}


def test_no_rhythm_at_all_rings_oftener_than_once_in_the_calm_after_the_first_two() -> None:
    for good in (1.0, 5.0, 60.0, 300.0, 599.0, 601.0, 1200.0):
        story = Story(weather(calm=600.0, on_delay=0.0), rate=1.0)
        while story.ticks < 4 * 3600:
            clouds(story, 1, bad=20.0, good=good)
        assert len(story.sounds()) <= 2 + 4 * 6, good


@settings(max_examples=300, deadline=None)
@given(
    runs=st.lists(st.tuples(st.integers(1, 5), st.integers(1, 25)), min_size=1, max_size=40),
    often=st.integers(2, 4),
    calm=st.integers(1, 20),
)
def test_any_weather_is_told_as_a_second_opinion_says(runs: list[tuple[int, int]], often: int, calm: int) -> None:
    """The same told from the list of lulls alone, without any clock: one value a second, no delays."""
    story = Story(weather(often=often, calm=float(calm), on_delay=0.0, off_delay=0.0), rate=1.0)
    rises, row, lull, standing, wanted = 0, 0, 0, False, []
    for bad, good in runs:
        in_a_row = lull < calm if standing else row > 0 and lull <= calm
        known = in_a_row and standing
        row = row + 1 if in_a_row else 1
        standing = known or (in_a_row and (row >= often or lull <= calm / 10))
        if not known:
            rises += 1
            wanted.append((rises, row))
        story.hold(bad, 20.0)
        story.hold(good, 0.0)
        lull = good
    rose = [c for c in story.changes if c.after == "active-unacknowledged"]
    assert [(c.occurrence, c.rises) for c in rose] == wanted
    assert len(story.sounds()) == rises


def test_the_second_within_a_minute_stands_at_once_so_that_nothing_chatters() -> None:
    """Three times within a minute is chatter (ISA-18.2 and EEMUA 191, as commonly quoted): it cannot come to that."""
    for good in (2.2, 5.0, 20.0, 59.0):
        story = Story(weather(calm=600.0), rate=RATE)
        clouds(story, 30, bad=1.4, good=good)
        assert len(story.sounds()) == 2, good
        assert measured(story.changes, at(0.0), story.now).chattering == {}
        assert "comes and goes: 2 times" in story.changes[-1].reason
    story = Story(weather(calm=600.0), rate=RATE)
    clouds(story, 30, bad=1.4, good=62.0)
    assert len(story.sounds()) == 3


def test_rises_with_a_calm_between_are_each_told() -> None:
    story = Story(weather(), rate=RATE)
    clouds(story, 8, good=CALM + 3.0)
    assert len(story.sounds()) == 8
    assert {c.rises for c in story.changes} == {1}


def test_a_row_that_was_broken_is_counted_afresh() -> None:
    story = Story(weather(), rate=RATE)
    for _ in range(4):
        clouds(story, 2)
        story.hold(CALM + 3.0, 0.0)
    assert len(story.sounds()) == 8
    assert max(c.rises for c in story.changes) == 2


def test_after_the_calm_the_next_rise_is_prompt_and_the_first_of_a_row() -> None:
    story = Story(weather(), rate=RATE)
    clouds(story, 5)
    story.hold(CALM, 0.0)
    before = story.now
    story.hold(1.2, 20.0)
    assert story.announcements[-1].at.since(before) == pytest.approx(1.2)
    assert (story.changes[-1].rises, story.sounds()[-1]) == (1, ("level", 4))


def test_an_alarm_without_it_tells_every_rise() -> None:
    """The usual list of an alarm philosophy: what fired, cleared and fires again must sound again."""
    story = Story(weather(often=0), rate=RATE)
    clouds(story, 50)
    assert len(story.sounds()) == 50


def come_and_gone(*, acknowledged: bool = False, lull: bool = True, **fields: object) -> Story:
    """An alarm that comes and goes; ``worst`` so far 20, ten beyond the limit."""
    story = Story(weather(**fields), rate=RATE)
    clouds(story, 2)
    story.hold(4.0, 20.0)
    if acknowledged:
        story.acknowledge()
    if lull:
        story.hold(10.0, 0.0)
    assert story.state() == ("active-acknowledged" if acknowledged else "active-unacknowledged")
    return story


@pytest.mark.parametrize(("value", "again"), [(20.0, False), (29.9, False), (30.0, True), (90.0, True)])
@pytest.mark.parametrize("acknowledged", [False, True])
def test_twice_as_far_beyond_the_limit_as_ever_is_told_at_once(value: float, again: bool, acknowledged: bool) -> None:
    story = come_and_gone(acknowledged=acknowledged)
    before, sounds = story.now, len(story.sounds())
    story.hold(10.0, value)
    assert len(story.sounds()) - sounds == again
    if again:
        change = story.changes[-1]
        assert change.at.since(before) == pytest.approx(1.2), "its on-delay and no more"
        assert (change.after, change.occurrence) == ("active-unacknowledged", 4)
        assert "much worse than before; comes and goes: 4 times" in change.reason
        assert measured(story.changes, at(0.0), story.now).alarms == 4
        assert story.acknowledge("level", 3) is not None, "the old acknowledgement does not silence it"
        assert story.acknowledge("level", 4) is None


def test_what_is_much_worse_is_told_once_a_rise_and_then_measured_by_itself() -> None:
    story = come_and_gone()
    for value, sounds in ((35.0, 4), (35.0, 4), (59.0, 4), (60.0, 4), (110.0, 5), (400.0, 6)):
        story.hold(4.0, value)
        story.hold(10.0, 0.0)
        assert len(story.sounds()) == sounds, value


def test_a_flash_of_much_worse_is_not_told() -> None:
    story = come_and_gone()
    sounds = len(story.sounds())
    for _ in range(20):
        story.hold(0.8, 90.0)
        story.hold(1.0, 15.0)
    assert len(story.sounds()) == sounds


def test_a_gap_in_the_data_makes_it_last_anew() -> None:
    story = come_and_gone()
    sounds = len(story.sounds())
    for _ in range(10):
        story.hold(0.8, 90.0)
        story.silence(2.0)
    assert len(story.sounds()) == sounds
    story.hold(1.2, 90.0)
    assert len(story.sounds()) == sounds + 1


def test_something_that_is_there_or_not_cannot_be_worse() -> None:
    rule = AlarmRule(
        name="level", kind="picture", direction="down", priority=2, words="dark", advice="light", often=3, calm=30.0
    )
    story = Story(rule, rate=RATE)
    clouds(story, 9, value=1.0)
    assert len(story.sounds()) == 3


# What comes and goes, in a lull and out of it, by every input: state after, None where nothing may change.
U, A = "active-unacknowledged", "active-acknowledged"
S = None
INPUTS = (
    "over", "over, short", "much worse", "deadband", "good, short", "good, as long as it usually takes", "calm",
    "no value", "feed lost", "acknowledged", "acknowledged with an old occurrence", "reset",
)  # fmt: skip
HELD: dict[tuple[str, bool], tuple[str | None, ...]] = {
    #            over  short worse band good  usual calm       none lost ack old reset
    (U, False): (S,    S,    S,    S,   S,    S,    "returns", S,   S,   A,  S,  S),
    (A, False): (S,    S,    S,    S,   S,    S,    "normal",  S,   S,   S,  S,  S),
    (U, True):  (S,    S,    U,    S,   S,    S,    "returns", S,   S,   A,  S,  "normal"),
    (A, True):  (S,    S,    U,    S,   S,    S,    "normal",  S,   S,   S,  S,  "normal"),
}  # fmt: skip
CELLS = [
    (state, lull, name, cell) for (state, lull), row in HELD.items() for name, cell in zip(INPUTS, row, strict=True)
]
KINDS = {"waiting": (False, False), "self-clearing": (True, False), "latching": (False, True)}


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(("state", "lull", "name", "cell"), CELLS)
def test_cell(state: str, lull: bool, name: str, cell: str | None, kind: str) -> None:
    self_clearing, latching = KINDS[kind]
    story = held(state, lull, self_clearing=self_clearing, latching=latching)
    before, sounds = len(story.changes), len(story.sounds())
    give(story, name)
    wanted = state if cell is S else cell
    if cell == "returns":
        wanted = {
            "waiting": "returned-unacknowledged",
            "self-clearing": "normal",
            "latching": "latched-unacknowledged",
        }[kind]
    elif cell == "normal" and name == "calm" and latching:
        wanted = "latched-acknowledged"
    assert story.state() == wanted
    made = story.changes[before:]
    assert len(made) == (0 if cell is S else 1)
    assert all(change.reason for change in made)
    assert len(story.sounds()) - sounds == (1 if cell == U else 0)


def held(state: str, lull: bool, *, self_clearing: bool, latching: bool) -> Story:
    story = Story(weather(self_clearing=self_clearing, latching=latching), rate=RATE)
    for number in range(3):
        story.hold(4.0, 20.0)
        if number < 2:
            story.acknowledge()
            story.hold(10.0, 0.0)
            story.reset()
    if state == A:
        story.acknowledge()
    if lull:
        story.hold(10.0, 0.0)
    story.hold(0.2, 9.0)  # in the deadband: no delay is running
    entry = story.book.entry("level")
    assert (entry.state, entry.spell.lull, entry.holds) == (state, lull, not lull)
    return story


def give(story: Story, name: str) -> None:
    match name:
        case "over":
            story.hold(20.0, 20.0)
        case "over, short":
            story.hold(0.8, 90.0)
        case "much worse":
            story.hold(1.4, 90.0)
        case "deadband":
            story.hold(100.0, 9.0)
        case "good, short":
            story.hold(1.8, 0.0)
        case "good, as long as it usually takes":
            story.hold(CALM - 1.0, 0.0)
        case "calm":
            story.hold(CALM + 0.4, 0.0)
        case "no value":
            story.hold(5 * CALM, None)
            story.hold(1.8, 0.0)
        case "feed lost":
            story.hold(5 * CALM, 0.0, lost=True)
            story.hold(1.8, 0.0)
        case "acknowledged":
            story.acknowledge()
        case "acknowledged with an old occurrence":
            assert "not the present one" in (story.acknowledge("level", 2) or "")
        case "reset":
            story.reset()


def test_no_cell_is_missing() -> None:
    assert set(HELD) == set(itertools.product((U, A), (False, True)))
    assert all(len(row) == len(INPUTS) for row in HELD.values())


def test_a_calm_with_gaps_in_the_data_needs_fresh_evidence_but_not_all_of_it() -> None:
    """A face that looks away every few seconds: the calm is counted from the last bad value, the end is measured."""
    story = come_and_gone()
    for _ in range(12):
        story.hold(1.0, 0.0)
        story.silence(2.0)
    assert story.state() == "active-unacknowledged", "never good for as long as a return takes"
    story.hold(2.4, 0.0)
    assert story.state() == "normal"


def test_in_a_lull_it_lets_the_others_speak() -> None:
    other = level_rule("other", kind="shadows", hushed_by=("level",))
    story = Story(weather(), other, rate=RATE)
    clouds(story, 3)
    for _ in range(10):
        story.show({"level": 0.0, "other": 20.0})
    assert story.sounds()[-1] == ("other", 1)
    assert story.quiet("other") == ()
    for _ in range(10):
        story.show({"level": 20.0, "other": 20.0})
    assert story.quiet("other") == ("suppressed",)


def test_in_a_lull_it_goes_on_speaking_for_its_own_kind() -> None:
    """One colour that clips where all of them come and go is no other news."""
    story = Story(weather(), level_rule("one colour", hushed_by=("level",)), rate=RATE)
    clouds(story, 3)
    for _ in range(10):
        story.show({"level": 0.0, "one colour": 20.0})
    assert story.state("one colour") == "active-unacknowledged"
    assert story.quiet("one colour") == ("suppressed",)
    assert story.sounds("one colour") == []


def test_being_suppressed_again_and_again_is_no_news_of_what_comes_and_goes() -> None:
    hushing = level_rule("hushing", on_delay=0.0, off_delay=0.0, self_clearing=True)
    story = Story(weather(hushed_by=("hushing",)), hushing, rate=RATE)
    for _ in range(20):
        for _ in range(20):
            story.show({"level": 20.0, "hushing": 20.0})
        for _ in range(10):
            story.show({"level": 20.0, "hushing": 0.0})
        for _ in range(15):
            story.show({"level": 0.0, "hushing": 0.0})
    changes = [c for c in story.changes if c.alarm == "level"]
    assert len([c for c in changes if c.before == c.after]) <= 2
    assert len([c for c in changes if c.before != c.after]) <= 5
    assert len(story.sounds("level")) <= 3


def test_what_was_shelved_at_its_third_rise_is_heard_when_it_next_comes_back() -> None:
    story = Story(weather(), rate=RATE)
    clouds(story, 2)
    story.shelve(20.0)
    story.hold(4.0, 20.0)
    story.hold(18.0, 0.0)
    assert len(story.sounds()) == 2, "off the shelf, but away"
    story.hold(0.2, 20.0)
    assert story.sounds()[-1] == ("level", 3)


def test_a_restart_goes_on_with_the_row() -> None:
    from tests.alarm.test_restore import after_restart

    standing, _ = after_restart(come_and_gone(acknowledged=True), away=5.0)
    standing.hold(CALM - 1.0, 0.0)
    assert standing.state() == "active-acknowledged", "it must be calm anew: nobody knows what was in between"
    standing.hold(2.0, 0.0)
    assert standing.state() == "normal"
    assert standing.changes[-1].reason.endswith("came and went 3 times, calm for 30 s")

    twice = Story(weather(), rate=RATE)
    clouds(twice, 2)
    third, _ = after_restart(twice, away=5.0)
    third.hold(1.4, 20.0)
    assert third.changes[-1].rises == 3
    assert "comes and goes: 3 times" in third.changes[-1].reason

    late, _ = after_restart(twice, away=CALM + 5.0)
    late.hold(1.4, 20.0)
    assert late.changes[-1].rises == 1


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"often": 1}, "often 1 is neither 0 (every rise is told) nor 2 or more"),
        ({"often": -2}, "often -2 is neither 0 (every rise is told) nor 2 or more"),
        ({"calm": 1.0}, "calm 1 is shorter than off_delay 2"),
        ({"calm": float("nan")}, "calm nan is not a number of seconds from 0 up"),
    ],
)
def test_numbers_that_cannot_be_meant_are_refused(fields: dict[str, object], said: str) -> None:
    with pytest.raises(ValueError, match="level") as refused:
        weather(**fields)
    assert said in str(refused.value)


def test_a_change_says_how_often_in_a_row_also_as_json() -> None:
    story = come_and_gone()
    line = msgspec.json.decode(msgspec.json.encode(story.changes[-1]))
    assert line["rises"] == 3
