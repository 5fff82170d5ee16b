"""The line-up: verdict in words, what to set, every bar in codes; nothing is true without a picture."""

from __future__ import annotations

import msgspec
import pytest

from analysis.measure.lineup import NOTHING, look
from tests.measure.lineup.renders import bars, frame
from tests.tui.measured import complete, lined_up
from tests.tui.synthetic import snapshot
from tests.tui.widgets.drawing import BRAILLE, PLAIN, draw, ink_of, text
from tui.look import Look
from tui.palette import Ink
from tui.widgets.lineup import LineupPanel

SIZES = [(80, 19), (120, 35), (200, 55)]


def told(found):
    return msgspec.structs.replace(complete(), lineup=found)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("glyphs", [BRAILLE, PLAIN])
def test_a_true_chain_gets_its_tick_in_words(size, glyphs: Look) -> None:
    shown = text(draw(LineupPanel, size, told(lined_up(true=True)), glyphs))
    assert "[x] THE CHAIN IS TRUE" in shown
    assert "NOT" not in shown
    assert "75 % colour bars" in shown
    assert glyphs is BRAILLE or shown.isascii()


@pytest.mark.parametrize("size", SIZES)
def test_what_is_wrong_and_what_to_set(size) -> None:
    sheet = draw(LineupPanel, size, told(lined_up(true=False)))
    shown = text(sheet)
    assert "[ ] THE CHAIN IS NOT TRUE" in shown
    assert "level: gain is 6.5 % high" in shown
    assert "→ set gain 0.94 at the sender" in shown
    assert ink_of(sheet, " [ ] THE CHAIN IS NOT TRUE ") == Ink.NEW


@pytest.mark.parametrize("size", SIZES)
def test_every_bar_has_its_difference_in_codes(size) -> None:
    sheet = draw(LineupPanel, size, told(lined_up(true=False)))
    white = next(line for line in sheet.lines() if line.strip().startswith("white"))
    assert "764" in white
    assert "! +43" in white, "beyond the tolerance: 8 codes of 10 bit"
    blue = next(line for line in sheet.lines() if line.strip().startswith("blue"))
    assert "!" not in blue
    assert ("expected" in text(sheet)) == (size[0] >= 120)


def test_half_a_code_is_told_and_is_no_fault() -> None:
    yellow = next(line for line in draw(LineupPanel, (120, 35), told(lined_up(true=True))).lines() if "yellow" in line)
    assert "+0.5" in yellow
    assert "!" not in yellow


def test_a_rendered_picture_of_bars_end_to_end() -> None:
    found = look(frame(bars(640, 360)))
    assert "[x] THE CHAIN IS TRUE" in text(draw(LineupPanel, (120, 35), told(found)))


def test_while_it_looks_and_when_it_sees_none_it_says_what_to_send() -> None:
    assert "LOOKING" in text(draw(LineupPanel, (80, 19), told(None)))
    nothing = text(draw(LineupPanel, (80, 19), told(NOTHING)))
    assert "NO LINE-UP PICTURE" in nothing
    assert "send colour bars or a grey ramp" in nothing


def test_without_a_picture_no_verdict_is_left_standing() -> None:
    lost = msgspec.structs.replace(snapshot("lost", with_picture=False), lineup=lined_up(true=True))
    shown = text(draw(LineupPanel, (80, 19), lost))
    assert "NO PICTURE" in shown
    assert "TRUE" not in shown


def test_bars_that_do_not_fit_are_counted() -> None:
    found = lined_up(true=True)
    many = msgspec.structs.replace(found, bars=found.bars * 9)
    assert "+" in text(draw(LineupPanel, (80, 19), told(many)))
    assert "more" in draw(LineupPanel, (80, 19), told(many)).lines()[-1]


@pytest.mark.parametrize("size", [(1, 1), (10, 3), (30, 6), (60, 10)])
def test_any_size_can_be_drawn(size) -> None:
    for found in (None, NOTHING, lined_up(true=True), lined_up(true=False)):
        assert len(draw(LineupPanel, size, told(found)).lines()) == size[1]
