"""What is spoken is true, short, and the gravest thing first."""

from __future__ import annotations

import itertools

import msgspec
import pytest

from analysis.engine.say import CLAUSES, percent, stops, words_now
from analysis.model.alarm import AlarmStatus
from analysis.model.feed import FeedState, FeedStatus
from analysis.model.reading import Reading, Validity
from analysis.model.sitter import Aim, SitterReading
from tests.engine.test_step import at, feed
from tests.engine.test_timeline import reading

AIMS = (Aim(target="sitter", value=50.0, tolerance=3.0),)
WORDS = {
    "feed": "feed lost", "highlights": "highlights clipping", "shadows": "shadows crushed",
    "noise": "noise in the shadows", "skin-low": "skin too dark", "skin-high": "skin too bright",
    "drift": "drifted from the hold",
}  # fmt: skip


def alarm(
    name: str, state: str = "active-unacknowledged", priority: int = 2, since: float = 0.0, **more: object
) -> AlarmStatus:
    given = {
        "alarm": name, "kind": "light", "direction": "none", "state": state, "priority": priority, "occurrence": 1,
        "since": at(since), "reason": "", "words": WORDS[name], "advice": "",
    }  # fmt: skip
    return AlarmStatus(**(given | more))


def sitting(level: float | None, curve: str | None = "bt709", state: str = "seen", clipped: float = 0.0) -> Reading:
    base = reading()
    sitter = SitterReading(
        name="sitter 1", main=True, state=state, box=(0, 0, 4, 4), confidence=0.9, level=level, clipped=clipped
    )  # type: ignore[arg-type]
    return msgspec.structs.replace(
        base, sitters=(sitter,), encoding=msgspec.structs.replace(base.encoding, curve=curve)
    )


def at_state(state: FeedState) -> FeedStatus:
    return feed(state)


@pytest.mark.parametrize(
    ("state", "words"),
    [
        ("lost", "feed lost"), ("waiting", "feed lost"), ("frozen", "picture frozen"), ("ended", "recording over"),
        ("opening", "feed opening, no picture yet"), ("closed", "feed closed"),
    ],
)  # fmt: skip
def test_without_a_picture_nothing_is_said_of_the_light(state: FeedState, words: str) -> None:
    old = (alarm("highlights"), alarm("feed", priority=1))
    assert words_now(at_state(state), sitting(43.5), old, AIMS) == words
    assert words_now(at_state(state), None, old, AIMS) == words


def test_before_the_first_reading() -> None:
    assert words_now(feed(), None) == "no picture yet"


def test_all_well() -> None:
    assert words_now(feed(), reading()) == "all well"
    assert words_now(feed(), sitting(50.4), (), AIMS) == "all well, skin on its aim"


def test_skin_off_its_aim_is_said_with_its_way_and_amount() -> None:
    """50 IRE down to 43.5 is a third of a stop in BT.709; see the check of distances in tests/exposure."""
    assert words_now(feed(), sitting(43.5), (), AIMS) == "skin a third of a stop low, no alarm"
    low = (alarm("skin-low", priority=3),)
    assert words_now(feed(), sitting(40.6), low, AIMS) == "skin half a stop low"
    assert words_now(feed(), sitting(68.0), (), AIMS).startswith("skin one stop high")


def test_beyond_the_clip_it_is_at_least() -> None:
    assert words_now(feed(), sitting(100.0, clipped=30.0), (), AIMS).startswith("skin at least ")


def test_without_a_curve_it_is_said_in_ire() -> None:
    assert words_now(feed(), sitting(43.2, curve=None), (), AIMS) == "skin seven IRE low, no alarm"


def test_skin_that_cannot_be_read_is_no_skin_on_its_aim() -> None:
    assert words_now(feed(), sitting(None, state="too dark"), (), AIMS) == "skin too dark to read, no alarm"
    assert words_now(feed(), sitting(None, state="clipped"), (), AIMS) == "skin clipped, no alarm"


def test_without_an_aim_nothing_is_said_of_skin() -> None:
    assert words_now(feed(), sitting(43.5)) == "all well"


def test_clipping_is_said_with_the_share_of_now() -> None:
    assert words_now(feed(), reading(clipped=2.3), (alarm("highlights"),)) == "highlights clipping, two percent"
    said = words_now(feed(), reading(clipped=0.2), (alarm("highlights"),))
    assert said == "highlights clipping, less than half a percent"


def test_the_gravest_comes_first_and_no_more_than_two() -> None:
    alarms = tuple(
        alarm(name, priority=priority, since=since)
        for name, priority, since in (("noise", 3, 5.0), ("drift", 3, 9.0), ("highlights", 2, 1.0))
    )
    for order in itertools.permutations(alarms):
        said = words_now(feed(), reading(clipped=12.0), order)
        assert said == "highlights clipping, twelve percent, drifted from the hold", "of equals the newest"


def test_what_is_over_frozen_or_suppressed_is_not_said_as_if_it_held() -> None:
    alarms = (
        alarm("shadows", "returned-unacknowledged"),
        alarm("noise", quiet=("suppressed",)),
        alarm("drift", frozen=True),
    )
    said = words_now(feed(), reading(), alarms)
    assert said == "drifted from the hold before, not measured now", "nobody knows that it is well"
    assert words_now(feed(), reading(), alarms[:2]) == "all well, one alarm over and not seen"


def test_what_comes_and_goes_is_not_said_to_hold_while_it_is_away() -> None:
    assert words_now(feed(), reading(), (alarm("highlights", lull=True),)) == "highlights clipping comes and goes"


def test_what_was_shelved_or_seen_is_still_true() -> None:
    assert words_now(feed(), reading(), (alarm("noise", quiet=("shelved",)),)) == "noise in the shadows"
    assert words_now(feed(), reading(), (alarm("noise", "active-acknowledged"),)) == "noise in the shadows"


@pytest.mark.parametrize("validity", ["late", "suspect", "priming"])
def test_doubt_is_said_before_anything_else_and_nothing_is_well(validity: Validity) -> None:
    said = words_now(feed(), msgspec.structs.replace(sitting(50.0), validity=validity), (), AIMS)
    assert said.startswith("picture ")
    assert "well" not in said


def test_a_dark_picture_is_said_as_dark() -> None:
    assert words_now(feed("dark"), reading(), (alarm("shadows"),)).startswith("picture dark")


def test_words_hold_no_figures_and_stay_short() -> None:
    for clipped, level in itertools.product((0.0, 0.7, 3.0, 55.5, 100.0), (10.0, 43.0, 50.0, 77.0)):
        base = sitting(level)
        read = msgspec.structs.replace(base, clipped=reading(clipped=clipped).clipped)
        said = words_now(feed(), read, (alarm("highlights"), alarm("noise"), alarm("feed", "normal", 1)), AIMS)
        assert not any(char.isdigit() for char in said)
        assert len(said.split()) <= 16
        assert said.count(", ") <= 2 * CLAUSES


@pytest.mark.parametrize(("thirds", "words"), [(1, "a third of a stop"), (2, "two thirds of a stop"), (3, "one stop")])
def test_stops_are_said_in_thirds_and_halves(thirds: int, words: str) -> None:
    """Thirds of a stop are the steps of most cameras: common practice, no published source."""
    assert stops(thirds / 3) == stops(-thirds / 3) == words
    assert stops(0.52) == "half a stop"


def test_half_a_percent_is_not_none() -> None:
    assert percent(0.0) == "less than half a percent"
    assert percent(99.6) == "a hundred percent"
