"""What "auto" means on which terminal."""

from __future__ import annotations

import pytest

from analysis.model.errors import UsageError
from tui.look import MULTIPLEXER_CAP, Look, resolve


def auto(encoding: str | None = "utf-8", **env: str) -> Look:
    return resolve(Look(), {"TERM": "xterm-256color"} | env, encoding, True)


def test_usual_terminal_gets_braille_and_256_colours() -> None:
    look = auto()
    assert (look.glyphs, look.colours, look.max_rate) == ("braille", "256", None)


@pytest.mark.parametrize(
    ("env", "colours"),
    [
        ({"COLORTERM": "truecolor"}, "full"),
        ({"COLORTERM": "24bit"}, "full"),
        ({"TERM": "xterm"}, "16"),
        ({"TERM": "linux"}, "16"),
        ({"TERM": "vt220"}, "mono"),
        # no-color.org: "when present and not an empty string (regardless of its value)"
        ({"NO_COLOR": "1", "COLORTERM": "truecolor"}, "mono"),
        ({"NO_COLOR": ""}, "256"),
    ],
)
def test_colours_follow_the_environment(env: dict[str, str], colours: str) -> None:
    assert auto(**env).colours == colours


@pytest.mark.parametrize("encoding", ["ascii", "ANSI_X3.4-1968", "iso8859-1", None])
def test_without_utf8_only_ascii_is_drawn_even_when_asked_otherwise(encoding: str | None) -> None:
    assert auto(encoding).glyphs == "ascii"
    asked = resolve(Look(glyphs="braille"), {"TERM": "xterm"}, encoding, True)
    assert asked.glyphs == "ascii"


@pytest.mark.parametrize("encoding", ["utf-8", "UTF-8", "utf8", "UTF_8"])
def test_utf8_by_any_spelling(encoding: str) -> None:
    assert auto(encoding).glyphs == "braille"


def test_linux_console_gets_ascii() -> None:
    assert auto(TERM="linux").glyphs == "ascii"


@pytest.mark.parametrize("name", ["TMUX", "STY"])
def test_multiplexers_get_a_byte_cap_unless_another_was_asked_for(name: str) -> None:
    assert auto(**{name: "1"}).max_rate == MULTIPLEXER_CAP
    asked = resolve(Look(max_rate=9000), {"TERM": "screen-256color", name: "1"}, "utf-8", True)
    assert asked.max_rate == 9000


def test_what_was_chosen_stays() -> None:
    look = resolve(Look(glyphs="shade", colours="16"), {"TERM": "xterm-256color", "NO_COLOR": "1"}, "utf-8", True)
    assert (look.glyphs, look.colours) == ("shade", "16")


def test_resolving_twice_changes_nothing() -> None:
    env = {"TERM": "tmux-256color", "TMUX": "x"}
    once = resolve(Look(), env, "utf-8", True)
    assert resolve(once, env, "utf-8", True) == once


@pytest.mark.parametrize("term", ["dumb", ""])
def test_terminals_that_cannot_draw_are_refused_in_one_line(term: str) -> None:
    with pytest.raises(UsageError, match="--plain") as caught:
        auto(TERM=term)
    assert "\n" not in caught.value.line()
    assert caught.value.exit_code == 2


def test_no_terminal_is_refused() -> None:
    with pytest.raises(UsageError, match="not a terminal"):
        resolve(Look(), {"TERM": "xterm"}, "utf-8", False)


@pytest.mark.parametrize("wrong", [{"rate": 0}, {"rate": 1000}, {"max_rate": 3}, {"picture_rate": 0}])
def test_values_out_of_range_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(UsageError, match="choose|0.1"):
        Look(**wrong)
