"""Alarms: order, words, and states that are told apart without any colour."""

from __future__ import annotations

import itertools

import pytest

from tests.tui.synthetic import QUIET, alarm, snapshot
from tests.tui.test_steady import flashes_in_any_second
from tests.tui.widgets.drawing import BRAILLE, PLAIN, draw, ink_of, text
from tui.bridge import judge
from tui.palette import Ink, style_of
from tui.sheet import Sheet
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


QUIET_WAYS = (
    (("shelved",), "shelved for 14 min more", "shelved"),
    (("suppressed",), "suppressed by dark", "suppr."),
    (("out of service",), "out of service: lamp taken down", "out"),
)


@pytest.mark.parametrize("look", [BRAILLE, PLAIN])
@pytest.mark.parametrize("width", [51, 83, 145])
@pytest.mark.parametrize(("ways", "words", "word"), QUIET_WAYS)
def test_each_quiet_way_says_which_alarm_why_and_where_it_stands(ways, words, word, width, look) -> None:
    quiet = alarm("shadows", "active-acknowledged", quiet=ways, quiet_words=words)
    line = draw(AlarmsPanel, (width, 4), snapshot(alarms=(quiet,)), look).lines()[1]
    assert word in line
    assert "shadows" in line
    assert words[:20] in line
    if width > 51:
        assert "seen" in line, "it is silent, not over"


@pytest.mark.parametrize("width", [51, 83])
@pytest.mark.parametrize(("state", "word"), [(LATCHED[0], "latched"), (LATCHED[1], "to reset")])
def test_latched_alarms_keep_their_word_and_their_age_apart(state: str, word: str, width: int) -> None:
    line = draw(AlarmsPanel, (width, 4), snapshot(seconds=61, alarms=(alarm("highlights", state),))).lines()[1]
    assert f" {word} " in line
    assert "1:11" in line[13:]
    assert "highlights clipped" in line


def test_the_heading_counts_every_kind_with_the_worst_first() -> None:
    alarms = (
        alarm("feed", STATES[1]),
        alarm("highlights", STATES[2]),
        alarm("shadows", LATCHED[1], alarm="bench"),
        alarm("shadows", quiet=("shelved",)),
    )
    assert summary(alarms)[0] == "1 NEW, 1 seen, 1 to reset, 1 without sound: a acknowledges"


def played(alarms, seconds: float, rate: float = 10.0) -> list[tuple[float, bool]]:
    """Whether the first alarm's line is inverse, look by look, while ``alarms(now)`` says what there is."""
    panel, shown = AlarmsPanel(BRAILLE, "panel"), []
    for tick in range(round(seconds * rate)):
        now = tick / rate
        sheet = Sheet(60, 4)
        panel.draw(sheet, judge(snapshot(seconds=now, alarms=alarms(now)), 0.0))
        shown.append((now, Ink.NEW in sheet.inks[1].tolist()))
    return shown


def test_an_alarm_that_comes_and_goes_every_frame_does_not_flash_the_bar() -> None:
    on, off = (alarm("highlights", STATES[1]),), (alarm("highlights", STATES[2]),)
    shown = played(lambda now: on if round(now * 30) % 2 else off, 20.0, rate=30.0)
    assert flashes_in_any_second(shown) == 1.0, "WCAG 2.2 SC 2.3.1 allows three; ours is one"


def test_priority_one_blinks_slower_than_once_a_second_and_the_others_not_at_all() -> None:
    gravest, second = (alarm("feed", STATES[1], 1000.0),), (alarm("highlights", STATES[1], 1000.0),)
    blinking, steady = played(lambda _: gravest, 20.0), played(lambda _: second, 20.0)
    assert flashes_in_any_second(blinking) == 0.5, "bright for a second, plain for a second"
    assert sum(bright for _, bright in blinking) == 100
    assert all(bright for _, bright in steady)


def test_while_it_blinks_the_words_stay() -> None:
    panel = AlarmsPanel(BRAILLE, "panel")
    for seconds in (0.0, 1.5):
        sheet = Sheet(60, 4)
        panel.draw(sheet, judge(snapshot(seconds=seconds, alarms=(alarm("feed", STATES[1], 1000.0),)), 0.0))
        assert "NEW" in sheet.lines()[1] and "feed lost" in sheet.lines()[1]


def test_an_alarm_that_comes_and_goes_says_when_it_is_away() -> None:
    away = alarm("highlights", STATES[2], lull=True)
    assert "away now" in draw(AlarmsPanel, (80, 4), snapshot(alarms=(away,))).lines()[1]


def test_what_is_suppressed_and_has_nothing_to_say_takes_no_line() -> None:
    dark = alarm("feed", STATES[1], alarm="dark", words="picture dark")
    hushed = tuple(alarm("shadows", alarm=f"alarm {n}", quiet=("suppressed",)) for n in range(6))
    lines = draw(AlarmsPanel, (80, 4), snapshot(alarms=(dark, *hushed))).lines()
    assert "picture dark" in lines[1]
    assert "more" not in lines[0] and "without sound" not in lines[0]
    assert all(f"alarm {n}" in "".join(lines[2:]) for n in range(6))


@pytest.mark.parametrize(("state", "glyph"), [(STATES[0], "‖"), (STATES[1], "▼"), (STATES[3], "▽")])
def test_the_glyph_of_a_silent_alarm_says_whether_it_holds_all_the_same(state, glyph) -> None:
    silent = alarm("shadows", state, quiet=("shelved",), quiet_words="shelved for 14 min more")
    assert draw(AlarmsPanel, (51, 4), snapshot(alarms=(silent,))).lines()[1].startswith(f" {glyph} shelved")
