"""The hold on the main view: nothing without one, the nearness in words, the distance with its sign."""

from __future__ import annotations

import msgspec
import pytest

from analysis.model.hold import Apart, Difference, Matching
from tests.tui.holding import comparing
from tests.tui.measured import complete
from tests.tui.widgets.drawing import draw, text
from tui.hold_words import apart_figure
from tui.widgets.match_table import MatchTable
from tui.widgets.numbers import NumbersPanel

WIDE = (46, 37)


def compared(**parts: Apart):
    usual = comparing()
    assert usual.matching is not None
    matching = msgspec.structs.replace(usual.matching, difference=Difference(**parts))
    return msgspec.structs.replace(usual, matching=matching)


def test_without_a_hold_there_is_no_word_of_one() -> None:
    assert "HOLD" not in text(draw(NumbersPanel, WIDE, complete()))
    assert "HOLD" not in text(draw(NumbersPanel, WIDE, msgspec.structs.replace(complete(), matching=Matching())))


def test_what_is_near_is_said_in_words_and_what_is_off_with_its_sign() -> None:
    shown = text(draw(NumbersPanel, WIDE, compared(sitter=Apart(stops=0.34), background=Apart(stops=-0.05))))
    assert "HOLD" in shown and "bench" in shown
    assert "skin +0.3" in shown and "ground as held" in shown and "middle" not in shown.split("HOLD")[1].split("\n")[1]


def test_what_the_clip_hides_is_at_least() -> None:
    assert "bright end ≥ +2.0" in text(draw(NumbersPanel, WIDE, compared(highlights=Apart(stops=2.0, at_least=True))))


@pytest.mark.parametrize(("stops", "told"), [(0.1, "≥ +0.1"), (-0.1, "≤ -0.1"), (-1.4, "≤ -1.4")])
def test_what_is_hidden_lies_further_out_on_its_own_side_and_is_no_match(stops: float, told: str) -> None:
    shown = text(draw(NumbersPanel, WIDE, compared(sitter=Apart(stops=stops, at_least=True))))
    assert f"skin {told}" in shown


def test_the_main_view_and_the_match_view_tell_a_distance_by_the_same_figure() -> None:
    for apart in (Apart(stops=-1.4, at_least=True), Apart(stops=0.34), Apart(stops=3.0, at_least=True)):
        now = compared(sitter=apart)
        figure = apart_figure(apart)
        assert f"skin {figure}" in text(draw(NumbersPanel, WIDE, now))
        assert figure in text(draw(MatchTable, (67, 20), now))


def test_a_hold_that_cannot_be_compared_says_why() -> None:
    usual = comparing()
    assert usual.matching is not None
    matching = msgspec.structs.replace(usual.matching, difference=None, trouble="there is no picture to compare")
    shown = text(draw(NumbersPanel, WIDE, msgspec.structs.replace(usual, matching=matching)))
    assert "there is no picture to compare" in shown
