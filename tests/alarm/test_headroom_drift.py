"""Light that drifts into the clip within seconds, as pictures: heard once and in time; sun that breaks through, not."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from analysis.model.alarm import AlarmChange, Announcement
from analysis.model.sitter import Spot
from tests.alarm.an_hour import judged
from tests.exposure.turn_film import Film, Moment, ramp

RATE = 3.0
BELOW = -1.0
"""So exposed the brightest of the room lies 1.03 stops below the clip."""
AT = 5.0
DOORS = Spot(name="window", kind="background", x=0.05, y=0.16, width=0.33, height=0.71)


def seen(
    light: Callable[[float], float],
    seconds: float,
    hole: tuple[float, float] = (0.0, 0.0),
    spots: tuple[Spot, ...] = (),
) -> tuple[list[AlarmChange], list[Announcement]]:
    """What the alarms of the light's upper end do with it; in the ``hole`` no picture comes."""
    film = Film(lambda at: Moment(whole=BELOW + light(at)), "bt709", noise=False)
    times = [n / RATE for n in range(round(seconds * RATE)) if not hole[0] <= n / RATE < hole[1]]
    changes, heard = judged((film.frame(at, n) for n, at in enumerate(times)), spots=spots)
    names = {"headroom", "highlights"}
    return [c for c in changes if c.alarm in names], [a for a in heard if a.alarm in names]


def drift(seconds: float, until: float) -> Callable[[float], float]:
    """Light that would go the 1.03 stops to the clip in ``seconds``, and stops after ``until``."""
    return ramp(AT, until, 1.03 * until / seconds)


def test_a_minute_to_the_clip_is_heard_once_with_the_time_that_is_left() -> None:
    """It clips 60 s after it began. Heard within half of that; then highlights take over."""
    changes, heard = seen(drift(60.0, 70.0), 82.0)
    assert [a.alarm for a in heard] == ["headroom", "highlights"]
    told, clips = heard
    assert AT < told.at.monotonic <= AT + 30.0
    left = AT + 60.0 - told.at.monotonic
    said = told.words.removeprefix("headroom running out, brightest part clips in about ")
    assert said.endswith(" s") and float(said[:-2]) == pytest.approx(left, abs=6.0), "to the next ten"
    assert clips.at.monotonic > AT + 60.0
    rise = changes[0]
    assert f"; brightest part clips in about {said}" in rise.reason and "at this rate clipping in 0." in rise.reason
    assert rise.value is not None and rise.value * 60.0 == pytest.approx(left, abs=4.0)


def test_the_spot_that_clips_first_is_named() -> None:
    _, heard = seen(drift(60.0, 40.0), 40.0, spots=(DOORS,))
    assert [a.words for a in heard] == ["headroom running out, window clips in about 40 s"]


@pytest.mark.parametrize("seconds", [4.0, 10.0, 14.0])
def test_sun_that_breaks_through_and_goes_is_not_heard(seconds: float) -> None:
    """Up by 0.8 stops, that is to a fifth of a stop below the clip, and down again half a minute later."""
    up, down = ramp(AT, seconds, 0.8), ramp(AT + 40.0, seconds, -0.8)
    assert seen(lambda at: up(at) + down(at), 70.0) == ([], [])


def test_one_that_clips_before_anybody_could_act_is_left_to_the_highlights() -> None:
    _, heard = seen(drift(18.0, 25.0), 45.0)
    assert [a.alarm for a in heard] == ["highlights"]


@pytest.mark.parametrize("back", [0.0, -0.6], ids=["stops", "turns round"])
def test_a_drift_that_stops_short_clears_as_the_rule_says(back: float) -> None:
    """It stops for good after 36 s, or goes back from then on; it clears when that was so for ten seconds."""
    up, down = drift(60.0, 36.0), ramp(AT + 36.0, 36.0, back)
    changes, heard = seen(lambda at: up(at) + down(at), 75.0)
    assert [a.alarm for a in heard] == ["headroom"]
    assert [(c.after, "over the clear level 6.0 min for 10.0 s" in c.reason) for c in changes] == [
        ("active-unacknowledged", False), ("normal", True)
    ]  # fmt: skip
    assert AT + 46.0 <= changes[1].at.monotonic <= AT + 60.0
    assert "clips" not in changes[1].reason.partition("min")[2], "no time is said of what is not coming"


def test_a_filter_that_makes_room_for_minutes_clears_it() -> None:
    up = drift(60.0, 33.0)
    changes, _ = seen(lambda at: up(at) - (2.0 if at >= AT + 33.0 else 0.0), 70.0)
    assert [c.after for c in changes] == ["active-unacknowledged", "normal"]


@pytest.mark.parametrize("after", [0.0, 0.5], ids=["still", "goes on"])
def test_a_hole_in_the_pictures_clears_nothing(after: float) -> None:
    """Eight seconds without pictures; nobody knows whether it still drifts, and the trend knows nothing yet."""
    up, on = drift(60.0, 30.0), ramp(AT + 38.0, 30.0, after)
    changes, heard = seen(lambda at: up(at) + on(at), 70.0, hole=(AT + 28.0, AT + 38.0))
    assert [c.after for c in changes] == ["active-unacknowledged"] and len(heard) == 1
