"""The last minutes: worst of each second, gaps said, never longer than it may grow."""

from __future__ import annotations

import msgspec
from hypothesis import given
from hypothesis import strategies as st

from analysis.engine.timeline import KEPT_SECONDS, Timeline, add
from analysis.model.frame import Encoding
from analysis.model.instant import Instant
from analysis.model.reading import Luma, PictureArea, Reading, Shares


def reading(low: float = 5.0, middle: float = 40.0, high: float = 90.0, clipped: float = 0.0) -> Reading:
    shares = Shares(any=clipped, luma=0.0, r=0.0, g=0.0, b=0.0, level=100.0, by="narrow")
    return Reading(
        sequence=0,
        seconds=0.0,
        validity="good",
        encoding=Encoding(bits=8, range="narrow", matrix="bt709"),
        picture=PictureArea(width=2, height=2, active=(0, 0, 2, 2)),
        luma=Luma(mean=middle, min=0.0, p1=low, p5=low, p50=middle, p95=high, p99=high, max=100.0),
        clipped=shares,
        crushed=msgspec.structs.replace(shares, luma=clipped / 2, level=0.0),
    )


def at(seconds: float) -> Instant:
    return Instant(seconds, 1_000_000.0 + seconds)


def test_a_second_keeps_its_extremes() -> None:
    line = Timeline()
    line = add(line, reading(low=5, middle=40, high=80, clipped=0.5), "live", False, at(10.0))
    line = add(line, reading(low=2, middle=44, high=95, clipped=2.0), "live", True, at(10.5))
    line = add(line, reading(low=9, middle=50, high=85, clipped=0.1), "live", False, at(10.9))
    line = add(line, reading(), "live", False, at(11.0))
    (point,) = line.points
    assert (point.second, point.low, point.high) == (10, 2, 95)
    assert point.middle == 50, "the middle is the latest, not an extreme"
    assert (point.clipped, point.crushed) == (2.0, 1.0)
    assert point.alarm, "an alarm inside the second is kept"
    assert line.current is not None and not line.current.alarm


def test_without_a_picture_levels_stay_unknown() -> None:
    line = add(Timeline(), None, "lost", True, at(5.0))
    line = add(line, None, "lost", True, at(6.0))
    (point,) = line.points
    assert point.low is point.middle is point.high is point.clipped is None
    assert point.feed == "lost"


def test_a_sleep_leaves_empty_seconds_not_a_bridge() -> None:
    line = add(Timeline(), reading(), "live", False, at(1.0))
    line = add(line, reading(), "live", False, at(5.2))
    assert [p.second for p in line.points] == [1, 2, 3, 4]
    assert [p.middle for p in line.points] == [40.0, None, None, None]


def test_a_night_asleep_does_not_grow_it() -> None:
    line = add(Timeline(), reading(), "live", False, at(1.0))
    line = add(line, reading(), "live", False, at(40_000.0))
    assert len(line.points) == KEPT_SECONDS
    assert line.points[-1].second == 39_999


def test_setting_the_wall_clock_changes_nothing() -> None:
    a = add(Timeline(), reading(), "live", False, Instant(3.0, 1_000.0))
    b = add(a, reading(), "live", False, Instant(4.0, 90_000.0))
    assert [p.second for p in b.points] == [3]


@given(st.lists(st.floats(0.001, 3.0), min_size=1, max_size=60))
def test_seconds_follow_each_other_whatever_the_pace(steps: list[float]) -> None:
    line, now = Timeline(), 0.0
    for step in steps:
        now += step
        line = add(line, reading(), "live", False, at(now))
    seconds = [p.second for p in line.points]
    assert seconds == list(range(seconds[0], seconds[0] + len(seconds))) if seconds else True
    assert line.current is not None and line.current.second == int(now)
