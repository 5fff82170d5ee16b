"""Numbers as words: rounding never hides what matters, and nothing unmeasured becomes a zero."""

from __future__ import annotations

from typing import get_args

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.model.feed import FeedState
from analysis.model.frame import Encoding
from tests.tui.synthetic import FORMAT, snapshot
from tui.wording import (
    NOTHING,
    clock,
    counts,
    encoding,
    evidence,
    feed_state,
    lasted,
    level,
    picture_age,
    picture_format,
    share,
)


@given(st.floats(-20, 120))
def test_levels_are_right_to_half_a_tenth(value: float) -> None:
    assert abs(float(level(value)) - value) <= 0.05 + 1e-9
    assert level(value) != "-0.0"


@given(st.floats(0, 100))
def test_shares_never_round_to_none_or_to_all(value: float) -> None:
    text = share(value)
    assert (text == "0") == (value == 0)
    assert (text == "100") == (value == 100)
    if not text.startswith("<"):
        assert float(text) == pytest.approx(value, abs=0.1)


@given(st.floats(0, 100))
def test_figures_fit_their_place(value: float) -> None:
    assert len(share(value)) <= 5
    assert len(level(value)) <= 5


def test_nothing_measured_is_a_dash() -> None:
    assert level(None) == share(None) == lasted(None) == NOTHING
    assert not any(character.isdigit() for character in NOTHING)


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (-0.001, "0.00 s"),
        (0.994, "0.99 s"),
        (0.996, "1.0 s"),
        (9.94, "9.9 s"),
        (59.9, "60 s"),
        (59.96, "1 min 00 s"),
        (3599, "59 min 59 s"),
        (3600, "1 h 00 min"),
        (90000, "25 h 00 min"),
    ],
)
def test_times(seconds: float, words: str) -> None:
    assert lasted(seconds) == words


@pytest.mark.parametrize(
    ("seconds", "words"), [(0, "0:00"), (0.2, "0:01"), (59.5, "1:00"), (3600, "60:00"), (-3, "0:00")]
)
def test_clock_counts_down_to_zero_only_at_the_end(seconds: float, words: str) -> None:
    assert clock(seconds) == words


@pytest.mark.parametrize("state", get_args(FeedState))
def test_every_feed_state_has_words(state: FeedState) -> None:
    words = feed_state(state)
    assert words.word == state.upper()
    assert words.meaning


def test_every_state_that_is_not_live_looks_different_from_live() -> None:
    live = feed_state("live")
    for state in get_args(FeedState):
        if state not in {"live", "still"}:
            assert feed_state(state).glyph != live.glyph


def test_who_said_it_is_part_of_the_encoding() -> None:
    code = Encoding(
        bits=8, range="full", matrix="bt601", curve="hlg", range_from="asked", matrix_from="tag", curve_from="assumed"
    )
    assert encoding(code) == ["8 bit", "full range (asked)", "BT.601 matrix (tag)", "curve hlg ASSUMED"]


def test_format_before_the_first_picture() -> None:
    assert picture_format(None) == ["no picture yet"]
    assert picture_format(FORMAT)[:2] == ["1920×1080", "25 nominal"]


def test_age_grows_with_the_silence_of_the_watch() -> None:
    feed = snapshot().feed
    assert picture_age(feed, 1.0) == "picture 1.0 s old"
    assert picture_age(msgspec.structs.replace(feed, age=None), 1.0) == "no picture yet"


@pytest.mark.parametrize(
    ("said", "shown"), [("no frame for 2.4 s", "no frame for 2.4 s"), ("opening", None), ("", None)]
)
def test_evidence_that_only_repeats_the_state_is_replaced_by_its_meaning(said: str, shown: str | None) -> None:
    feed = msgspec.structs.replace(snapshot("opening").feed, evidence=said)
    assert evidence(feed) == (shown or feed_state("opening").meaning)


def test_discarded_pictures_are_named_only_when_there_are_some() -> None:
    feed = snapshot().feed
    assert "discarded 0" not in counts(feed)
    assert "discarded 2" in counts(msgspec.structs.replace(feed, discarded=2))
