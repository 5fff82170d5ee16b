"""Alarms: order, words, and states that are told apart without any colour."""

from __future__ import annotations

import itertools

import pytest

from tests.tui.synthetic import QUIET, alarm, snapshot
from tests.tui.widgets.drawing import PLAIN, draw, ink_of, text
from tui.palette import Ink, style_of
from tui.widgets.alarms import AlarmsPanel, in_order, summary
from tui.wording import alarm_state

STATES = ["normal", "active-unacknowledged", "active-acknowledged", "returned-unacknowledged"]
LATCHED = ["latched-unacknowledged", "latched-acknowledged"]
MIXED = (
    alarm("shadows", "active-acknowledged", 900.0),
    alarm("feed", "returned-unacknowledged", 940.0),
    alarm("highlights", "active-unacknowledged", 985.0),
)


def test_new_ones_come_first_then_seen_then_over() -> None:
    lines = draw(AlarmsPanel, (90, 6), snapshot(alarms=MIXED)).lines()
    words = [next(w for w in ("NEW", "seen", "was", "→") if w in line) for line in lines[1:6]]
    assert words == ["NEW", "→", "seen", "→", "was"]


def test_priority_one_comes_before_two_among_equals() -> None:
    both = (alarm("highlights", "active-unacknowledged"), alarm("feed", "active-unacknowledged"))
    assert [one.alarm for one in in_order(both)] == ["feed", "highlights"]


@pytest.mark.parametrize("direction", ["up", "down", "none"])
def test_states_differ_in_word_and_glyph_not_only_in_ink(direction: str) -> None:
    words = [alarm_state(alarm("feed", state, direction=direction)) for state in STATES + LATCHED]
    words.append(alarm_state(alarm("feed", STATES[1], direction=direction, quiet=("shelved",))))
    assert len({word.word for word in words}) == 7
    for one, other in itertools.combinations(words, 2):
        assert (one.word, one.glyph) != (other.word, other.glyph)


def test_acknowledged_is_told_from_new_in_plain_text() -> None:
    new = text(draw(AlarmsPanel, (60, 4), snapshot(alarms=(alarm("feed", "active-unacknowledged"),)), PLAIN))
    seen = text(draw(AlarmsPanel, (60, 4), snapshot(alarms=(alarm("feed", "active-acknowledged"),)), PLAIN))
    assert new.isascii()
    assert "NEW" in new
    assert "seen" in seen
    assert "NEW" not in seen


def test_a_new_alarm_fills_its_line_inverse() -> None:
    sheet = draw(AlarmsPanel, (60, 4), snapshot(alarms=(alarm("feed", "active-unacknowledged"),)))
    assert set(sheet.inks[1].tolist()) == {Ink.NEW}
    assert style_of(Ink.NEW, "mono").reverse


def test_age_reason_and_advice_are_shown() -> None:
    shown = text(draw(AlarmsPanel, (90, 6), snapshot(seconds=5, alarms=MIXED)))
    assert "0:20" in shown, "985 to 1005 on the watch's clock"
    assert "3.10 % above 100 IRE, limit 1 %" in shown
    assert "→ close by 1/3 stop or add ND 0.3" in shown


def test_frozen_alarms_say_that_they_are_held() -> None:
    held = (alarm("highlights", "active-unacknowledged", frozen=True), alarm("shadows", frozen=True))
    shown = text(draw(AlarmsPanel, (90, 5), snapshot("lost", with_picture=False, alarms=held)))
    assert shown.count("held: no picture") == 2


def test_without_a_picture_nobody_says_that_nothing_is_wrong() -> None:
    held = (alarm("highlights", frozen=True), alarm("feed"))
    shown = text(draw(AlarmsPanel, (90, 5), snapshot("opening", with_picture=False, alarms=held)))
    assert "nothing wrong" not in shown
    assert "no picture to judge" in shown


def test_what_does_not_fit_is_counted() -> None:
    many = tuple(alarm("feed", "active-unacknowledged", alarm=f"feed {n}") for n in range(9))
    sheet = draw(AlarmsPanel, (60, 4), snapshot(alarms=many))
    assert "+6 more" in sheet.lines()[0]


def test_quiet_alarms_are_named_without_claiming_that_something_is_wrong() -> None:
    shown = text(draw(AlarmsPanel, (60, 4), snapshot(alarms=QUIET)))
    assert "3 watching, nothing wrong" in shown
    assert "feed lost" not in shown
    assert ink_of(draw(AlarmsPanel, (60, 4), snapshot(alarms=QUIET)), "nothing wrong") == Ink.SOFT


def test_many_resting_alarms_take_few_lines() -> None:
    many = tuple(alarm("feed", alarm=f"alarm {n}") for n in range(12))
    shown = text(draw(AlarmsPanel, (80, 5), snapshot(alarms=many)))
    assert all(f"alarm {n}" in shown for n in range(12))
    assert shown.count("quiet") == 1


def test_a_shelved_alarm_says_so_and_is_not_called_resting() -> None:
    shelved = alarm("highlights", "active-unacknowledged", quiet=("shelved",), quiet_words="shelved for 9 min more")
    sheet = draw(AlarmsPanel, (80, 5), snapshot(alarms=(shelved,)))
    assert "shelved" in sheet.lines()[1]
    assert "highlights clipped" in sheet.lines()[1]
    assert "shelved for 9 min more" in sheet.lines()[1]
    assert Ink.NEW not in sheet.inks
    assert "nothing wrong" not in sheet.lines()[0]
    assert "1 without sound" in sheet.lines()[0]


@pytest.mark.parametrize(
    ("states", "words"),
    [
        (STATES, "1 NEW"),
        (STATES[::2], "1 seen"),
        ([STATES[3]], "1 over"),
        ([LATCHED[1]], "1 to reset"),
        ([], "none set"),
    ],
)
def test_summary_names_the_worst(states: list[str], words: str) -> None:
    assert summary(tuple(alarm("feed", state) for state in states))[0].startswith(words)


@pytest.mark.parametrize("size", [(1, 1), (10, 2), (20, 3), (300, 20)])
def test_any_size_can_be_drawn(size: tuple[int, int]) -> None:
    assert len(draw(AlarmsPanel, size, snapshot(alarms=MIXED)).lines()) == size[1]
