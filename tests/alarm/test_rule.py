"""Rules are plain data that refuse what cannot be meant, and words that never contradict the numbers."""

from __future__ import annotations

import msgspec
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from analysis.alarm import reason
from analysis.alarm.book import opened
from analysis.alarm.defaults import DEFAULT_RULES, DISK_HOURS, FEED, HEADROOM, HIGHLIGHTS, SHADOWS
from analysis.alarm.observation import Observation, observed
from analysis.alarm.rule import AlarmRule
from analysis.alarm.trend import MOST_MINUTES
from analysis.model.frame import Encoding
from analysis.model.reading import PictureArea, Reading, Shares
from analysis.watch.room import LONGEST_HOURS
from tests.alarm.timeline import at, level_rule


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"priority": 0}, "priority 0 is not 1, 2 or 3"),
        ({"priority": 4}, "priority 4 is not 1, 2 or 3"),
        ({"on_delay": -1.0}, "on_delay -1 is not"),
        ({"off_delay": float("nan")}, "off_delay nan is not"),
        ({"on_delay": float("inf")}, "on_delay inf is not"),
        ({"clear": 11.0}, "clear 11 is above limit 10"),
        ({"limit": None}, "limit and clear are both needed"),
        ({"limit": float("nan")}, "limit and clear must be numbers"),
        ({"measured": "clipped a lot"}, "measured must hold {value}"),
        ({"far": 1.0}, "far and far_words are needed together"),
        ({"far_words": "none"}, "far and far_words are needed together"),
        ({"words": ""}, "name and words must say something"),
    ],
)
def test_what_cannot_be_meant_is_refused(fields: dict[str, object], said: str) -> None:
    with pytest.raises(ValueError, match="level: ") as refused:
        level_rule(**fields)
    assert said in str(refused.value)


def test_a_feed_alarm_has_no_limit() -> None:
    with pytest.raises(ValueError, match="a feed alarm has no limit"):
        msgspec.structs.replace(FEED, limit=1.0)


def test_rules_travel_as_data_and_name_a_wrong_field() -> None:
    for rule in DEFAULT_RULES:
        assert msgspec.convert(msgspec.to_builtins(rule), AlarmRule) == rule
    with pytest.raises(msgspec.ValidationError, match="clear 3 is above limit 1"):
        msgspec.convert(msgspec.to_builtins(HIGHLIGHTS) | {"clear": 3.0}, AlarmRule)
    with pytest.raises(msgspec.ValidationError, match="unknown field `limt`"):
        msgspec.convert(msgspec.to_builtins(HIGHLIGHTS) | {"limt": 3.0}, AlarmRule)


def test_two_rules_may_not_share_a_name() -> None:
    with pytest.raises(ValueError, match="two alarms are called level"):
        opened((level_rule(), level_rule()), at(0.0))


def test_what_is_not_in_sight_is_told_in_words_and_not_as_a_figure() -> None:
    """An hour and a thousand hours are where the trends stop looking ahead, not something that was measured."""
    assert (HEADROOM.far, DISK_HOURS.far) == (MOST_MINUTES, LONGEST_HOURS)
    assert reason.measured(HEADROOM, MOST_MINUTES) == "not running out within an hour"
    assert reason.measured(HEADROOM, 59.0) == "at this rate clipping in 59.0 min"
    assert reason.returned(HEADROOM, MOST_MINUTES, 10.0, "") == (
        "not running out within an hour, over the clear level 6.0 min for 10.0 s"
    )
    assert reason.measured(DISK_HOURS, LONGEST_HOURS) == "room for more than a month"
    wide = msgspec.structs.replace(HEADROOM, limit=90.0, clear=95.0)
    assert reason.measured(wide, 60.0) == "at this rate clipping in 60.0 min", "beyond its limit it is a figure"


def test_defaults_have_room_between_rise_and_return() -> None:
    for rule in (HIGHLIGHTS, SHADOWS):
        assert rule.limit is not None
        assert rule.clear is not None
        # EEMUA 191's starting deadbands are 1 to 5 percent of range (as quoted in trade articles);
        # ours are a fraction of the limit because shares gather near zero.
        assert rule.clear <= 0.6 * rule.limit
        # At the worst one alarm can rise every on + off delay; chattering is three a minute.
        assert rule.on_delay + rule.off_delay >= 3.0
    assert (FEED.priority, HIGHLIGHTS.priority, SHADOWS.priority) == (1, 2, 3)
    assert FEED.on_delay == 0.0
    assert HIGHLIGHTS.self_clearing
    assert SHADOWS.self_clearing
    assert not FEED.self_clearing


@given(value=st.floats(0, 100), against=st.floats(0.01, 100))
def test_a_printed_number_stands_on_the_right_side_of_the_limit(value: float, against: float) -> None:
    assume(abs(value - against) > 1e-5)
    assert (float(reason.figure(value, against)) >= against) == (value >= against)


def reading(validity: str, clipped: float | None, crushed: float | None) -> Reading:
    def shares(any_: float, luma: float) -> Shares:
        return Shares(any=any_, luma=luma, r=0.0, g=0.0, b=0.0, level=100.0, by="narrow")

    return Reading(
        sequence=1, seconds=0.0, validity=validity,  # type: ignore[arg-type]
        encoding=Encoding(bits=8, range="narrow", matrix="bt709", curve="bt709"),
        picture=PictureArea(width=8, height=8, active=(0, 0, 8, 8)),
        clipped=None if clipped is None else shares(clipped, 0.0),
        crushed=None if crushed is None else shares(99.0, crushed),
    )  # fmt: skip


def test_a_good_reading_is_judged_by_any_clipped_channel_and_by_crushed_luma() -> None:
    seen = observed(reading("good", 2.5, 4.0), feed_lost=False)
    assert (seen.value("highlights"), seen.value("shadows")) == (2.5, 4.0)


@pytest.mark.parametrize("validity", ["priming", "late", "suspect"])
def test_other_readings_are_missing_data(validity: str) -> None:
    seen = observed(reading(validity, 2.5, 4.0), feed_lost=False)
    assert (seen.value("highlights"), seen.value("shadows")) == (None, None)


def test_parts_not_measured_are_missing_data() -> None:
    seen = observed(reading("good", None, None), feed_lost=False)
    assert (seen.value("highlights"), seen.value("shadows")) == (None, None)
    assert observed(None, feed_lost=True).value("highlights") is None


def test_a_lost_feed_hides_every_value() -> None:
    assert Observation(values={"highlights": 5.0}, feed_lost=True).value("highlights") is None


def test_an_observation_cannot_be_changed_from_outside() -> None:
    seen = observed(reading("good", 2.5, 4.0), feed_lost=False)
    with pytest.raises(TypeError):
        seen.values["highlights"] = 0.0  # type: ignore[index]
