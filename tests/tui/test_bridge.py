"""The second lock: no old picture passes for a new one, whatever the snapshot holds."""

from __future__ import annotations

import msgspec
import pytest

from tests.tui.synthetic import snapshot
from tui.bridge import ANSWER_DEADLINE, Paused, judge


def feed(state: str, **more):
    base = snapshot(state)
    return msgspec.structs.replace(base, feed=msgspec.structs.replace(base.feed, **more))


def test_a_live_feed_is_fully_trusted() -> None:
    showing = judge(snapshot(), 0.0)
    assert showing.trust == "full"
    assert showing.banner == ()
    assert showing.view is not None


@pytest.mark.parametrize("state", ["lost", "frozen", "waiting", "opening", "closed", "ended"])
def test_states_without_a_picture_blank_everything_even_if_a_reading_is_handed_over(state: str) -> None:
    showing = judge(snapshot(state), 0.0)
    assert (showing.trust, showing.reading, showing.view) == ("none", None, None)
    assert showing.banner[0] in {"NO PICTURE", "THE PICTURE IS FROZEN"}
    assert any("no frame for 2.4 s" in line for line in showing.banner)


def test_no_reading_is_no_picture_even_when_live() -> None:
    showing = judge(snapshot(with_picture=False), 0.0)
    assert showing.trust == "none"


@pytest.mark.parametrize("state", ["late", "suspect", "priming", "reshaped"])
def test_doubtful_states_are_marked(state: str) -> None:
    showing = judge(snapshot(state), 0.0)
    assert showing.trust == "mind"
    assert state.upper() in showing.banner[0]


@pytest.mark.parametrize("validity", ["late", "suspect", "priming"])
def test_doubtful_readings_are_marked(validity: str) -> None:
    showing = judge(snapshot(validity=validity), 0.0)
    assert showing.trust == "mind"
    assert showing.banner[0].startswith(validity.upper())


@pytest.mark.parametrize("state", ["live", "still", "dark"])
def test_pictures_that_arrive_are_trusted(state: str) -> None:
    assert judge(snapshot(state), 0.0).trust == "full"


def test_an_old_picture_of_a_live_feed_is_marked_with_its_age() -> None:
    showing = judge(feed("live", age=3.2), 0.0)
    assert showing.trust == "mind"
    assert showing.banner == ("OLD 3.2 s",)


def test_silence_of_the_watch_adds_to_the_age() -> None:
    assert judge(feed("live", age=1.0), 1.5).trust == "mind"


def test_a_watch_that_does_not_answer_blanks_everything() -> None:
    showing = judge(snapshot(), ANSWER_DEADLINE + 0.1)
    assert (showing.trust, showing.reading, showing.view) == ("none", None, None)
    assert "DOES NOT ANSWER" in showing.banner[0]


def test_nothing_can_be_held_over_a_lost_feed() -> None:
    now = snapshot()
    paused = Paused(view=now.view, reading=now.reading, seconds=1.0)
    assert judge(now, 0.0, paused).paused is paused
    assert judge(snapshot("lost"), 0.0, paused).paused is None
