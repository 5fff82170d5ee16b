"""Pens against ECMA-48 (5th edition), 8.3.117 SGR: what each parameter selects."""

from __future__ import annotations

import random

import pytest

from tests.tui.emulator import Emulator
from tui.sgr import PLAIN, Pen, change_pen, parse_pen


@pytest.mark.parametrize(
    ("parameters", "pen"),
    [
        ("", PLAIN),
        ("0", PLAIN),
        ("1", Pen("1")),  # ECMA-48: 1 bold
        ("7", Pen("7")),  # 7 negative image
        ("31", Pen(front="31")),  # 30-37 display colours
        ("41", Pen(back="41")),  # 40-47 background colours
        ("97;100", Pen(front="97", back="100")),  # aixterm bright colours, common practice
        ("39;49", PLAIN),  # 39 / 49 default colours
        ("1;0;4", Pen("4")),  # 0 cancels what went before
        ("38;5;200", Pen(front="38;5;200")),
        ("48;2;1;2;3", Pen(back="48;2;1;2;3")),
        ("1;38;2;9;8;7;48;5;3;4", Pen("1;4", "38;2;9;8;7", "48;5;3")),
    ],
)
def test_parameters_select_the_pen_of_the_standard(parameters: str, pen: Pen) -> None:
    assert parse_pen(parameters) == pen


def test_no_change_costs_nothing() -> None:
    assert change_pen(Pen("1", "31"), Pen("1", "31")) == ""


def test_only_what_differs_is_sent() -> None:
    assert change_pen(Pen("", "31", "40"), Pen("", "31", "44")) == "\x1b[44m"
    assert change_pen(Pen("1", "31", "40"), Pen("1", "32", "40")) == "\x1b[32m"


def test_unknown_pen_is_reset_first() -> None:
    assert change_pen(None, Pen("", "31")) == "\x1b[0;31m"


def test_any_chain_of_changes_leaves_the_wanted_pen() -> None:
    rnd = random.Random(5)
    pens = [
        Pen(a, f, b)
        for a in ("", "1", "7", "1;4", "2")
        for f in ("39", "31", "97", "38;5;9", "38;2;1;2;3")
        for b in ("49", "41", "48;5;7", "48;2;3;2;1")
    ]
    terminal = Emulator(1, 1)
    now: Pen | None = None
    for _ in range(2000):
        then = rnd.choice(pens)
        terminal.feed(change_pen(now, then))
        assert terminal.pen == then, (now, then)
        now = then
