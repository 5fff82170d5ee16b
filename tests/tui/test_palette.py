"""Inks: legible by the published contrast formula, and told apart without colour vision."""

from __future__ import annotations

import itertools

import pytest
from rich.style import Style

from tui.palette import GREY_FIRST, GREY_STEPS, Ink, style_of
from tui.theme import BOATHOUSE

BACKGROUND = BOATHOUSE.background or ""


def luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour, WCAG 2.2, definition "relative luminance"."""
    parts = [int(colour.lstrip("#")[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio, WCAG 2.2, definition "contrast ratio"."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def colours_of(style: Style) -> tuple[str, str]:
    front = style.color.get_truecolor().hex if style.color else BOATHOUSE.foreground or ""
    back = style.bgcolor.get_truecolor().hex if style.bgcolor else BACKGROUND
    return front, back


def test_the_formula_gives_the_published_extremes() -> None:
    # WCAG 2.2: ratios range from 1 to 21, black on white being 21.
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#777777") == pytest.approx(1)


@pytest.mark.parametrize("ink", [ink for ink in Ink if ink is not Ink.FAINT])
def test_every_ink_for_text_has_enough_contrast(ink: Ink) -> None:
    # WCAG 2.2 SC 1.4.3: 4.5 for text; figures that are dim on purpose need 3 (SC 1.4.3, large text).
    least = 3.0 if ink is Ink.STALE else 4.5
    assert contrast(*colours_of(style_of(ink, "full"))) >= least


def test_trace_inks_differ_in_lightness_too() -> None:
    # Without any colour vision only lightness is left; words and places say the same once more.
    over, trace, under = (luminance(colours_of(style_of(ink, "full"))[0]) for ink in (Ink.OVER, Ink.TRACE, Ink.UNDER))
    assert abs(over - under) > 0.15
    assert abs(trace - under) > 0.08


@pytest.mark.parametrize("colours", ["full", "256", "16", "mono"])
def test_alarm_states_look_different_with_any_colours(colours: str) -> None:
    styles = [str(style_of(ink, colours)) for ink in (Ink.NEW, Ink.SEEN, Ink.BACK, Ink.SOFT)]
    assert len(set(styles)) == 4


def test_mono_has_no_colour_at_all() -> None:
    for ink in Ink:
        style = style_of(ink, "mono")
        assert style.color is None
        assert style.bgcolor is None


def test_a_new_alarm_is_inverse_without_colour() -> None:
    assert style_of(Ink.NEW, "mono").reverse
    assert not style_of(Ink.SEEN, "mono").reverse


def test_nothing_blinks() -> None:
    # WCAG 2.2 SC 2.3.1 allows three flashes a second; there are none.
    for ink, colours in itertools.product(Ink, ("full", "256", "16", "mono")):
        assert not style_of(ink, colours).blink


def test_sixteen_colours_use_only_the_terminal_s_own() -> None:
    for ink in Ink:
        style = style_of(ink, "16")
        for colour in (style.color, style.bgcolor):
            assert colour is None or colour.is_default or (colour.number is not None and colour.number < 16)


def test_greys_are_the_24_of_the_256_colour_table() -> None:
    # The 256-colour table as xterm's 256colres.h has it (from memory): 232 to 255 are greys 8, 18 ... 238.
    style = style_of(GREY_FIRST + 3 * GREY_STEPS + 23, "full")
    assert style.color is not None
    assert style.bgcolor is not None
    assert (style.color.number, style.bgcolor.number) == (235, 255)
    assert style.bgcolor.get_truecolor().hex == "#eeeeee"
