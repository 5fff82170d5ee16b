"""When a drift counts for the headroom: what is known of it, and what is not."""

from __future__ import annotations

import math

import msgspec
import pytest

from analysis.engine.nearing import (
    IN_TIME_SECONDS,
    LASTED_SECONDS,
    LEAST_STOPS_A_MINUTE,
    ClipWatch,
    Nearing,
)
from analysis.engine.step import Measured
from analysis.engine.turns import Heading
from analysis.model.turn import DriftRate, Turn
from tests.engine.test_step import Story, at, feed
from tests.engine.test_timeline import reading

OVER = Turn(
    kind="drift", at=at(0.0), stops=0.5, seconds=40.0, share=1.0,
    drift=DriftRate(of="whole", stage="ended", stops_a_minute=0.0),
)  # fmt: skip


def heading(seconds: float | None, rate: float = 1.0, clips: str | None = None) -> Heading:
    return Heading(stops_a_minute=rate, since=at(0.0), seconds_to_clip=seconds, clips=clips)


@pytest.mark.parametrize(
    ("given", "when", "known"),
    [
        (heading(40.0, clips="window"), LASTED_SECONDS, Nearing(40.0 / 60.0, "window")),
        (heading(40.0), LASTED_SECONDS - 0.1, None),
        (heading(IN_TIME_SECONDS), 20.0, Nearing(IN_TIME_SECONDS / 60.0)),
        (heading(IN_TIME_SECONDS - 0.1), 20.0, None),
        (heading(40.0, LEAST_STOPS_A_MINUTE), 20.0, Nearing(40.0 / 60.0)),
        (heading(40.0, LEAST_STOPS_A_MINUTE - 0.01), 20.0, None),
        (heading(None), 20.0, None),
        (heading(math.inf), 20.0, Nearing(60.0)),
        (heading(40.0, -1.0), 5.0, Nearing(60.0)),
        (None, 20.0, None),
    ],
)
def test_a_drift_counts_when_it_lasts_and_is_in_time(given: Heading | None, when: float, known: Nearing | None) -> None:
    assert ClipWatch().nearing((), given, at(when)) == known


def test_one_that_was_told_in_time_is_followed_to_the_clip() -> None:
    watch = ClipWatch()
    assert watch.nearing((), heading(12.0), at(20.0)) is not None
    assert watch.nearing((), heading(1.0), at(20.5)) == Nearing(1.0 / 60.0)


def test_one_that_ended_is_on_its_way_no_longer_until_there_is_another() -> None:
    watch = ClipWatch()
    watch.nearing((), heading(30.0), at(20.0))
    assert watch.nearing((OVER,), None, at(20.5)) == Nearing(60.0)
    assert watch.nearing((), None, at(21.0)) == Nearing(60.0)
    assert watch.nearing((), heading(5.0), at(21.5)) is None, "another must be told in time anew"


def test_one_that_was_lost_sight_of_is_not_over() -> None:
    watch = ClipWatch()
    watch.nearing((), heading(30.0), at(20.0))
    assert watch.nearing((), None, at(20.5)) is None and watch.nearing((), None, at(21.0)) is None


def test_what_was_over_is_not_known_after_a_hole_in_the_maps() -> None:
    watch = ClipWatch()
    watch.nearing((OVER,), None, at(20.0))
    assert watch.newest(at(21.0)) == Nearing(60.0) and watch.newest(at(21.1)) is None
    assert watch.nearing((), None, at(21.1)) is None
    watch.nearing((OVER,), None, at(22.0))
    watch.forget()
    assert watch.newest(at(22.0)) is None


def shown(story: Story, seconds: float, nearing: Nearing | None, **more: object) -> None:
    picture = msgspec.structs.replace(reading(), **({"headroom_stops": 0.5} | more))
    for _ in range(round(seconds * 4.0)):
        story._do(Measured(reading=picture, feed=feed(rate=4.0), nearing=nearing))
        story.now += 0.25


def test_the_alarm_takes_the_sooner_of_trend_and_drift() -> None:
    """Half a stop that does not fall for 100 s: the trend sees no end; the drift does."""
    story = Story()
    shown(story, 100.0, None)
    assert story.state.minutes == 60.0 and story.heard == []
    shown(story, 10.0, Nearing(0.7, "window"))
    assert [alarm for _, alarm, _ in story.heard] == ["headroom"]
    shown(story, 11.0, Nearing(60.0))
    assert story.changes[-1][1:] == ("headroom", "active-unacknowledged", "normal")


@pytest.mark.parametrize("more", [{"headroom_stops": None}, {"validity": "late"}])
def test_a_drift_of_what_is_not_measured_now_says_nothing(more: dict[str, object]) -> None:
    story = Story()
    shown(story, 30.0, Nearing(0.7), **more)
    assert story.heard == []
    shown(story, 10.0, Nearing(0.7))
    shown(story, 60.0, Nearing(60.0), **more)
    assert [change[1:] for change in story.changes] == [("headroom", "normal", "active-unacknowledged")]


def test_an_unknown_drift_neither_raises_nor_clears() -> None:
    story = Story()
    shown(story, 10.0, Nearing(0.7))
    shown(story, 60.0, None)
    assert len(story.changes) == 1
