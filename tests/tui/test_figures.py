"""Large figures: the right size, told apart, plain where blocks are not to be had."""

from __future__ import annotations

import itertools

import pytest

from tui.figures import figure_size, put_figure
from tui.palette import Ink
from tui.sheet import Sheet


def drawn(text: str, scale: int, ascii: bool = False) -> list[str]:
    sheet = Sheet(60, 6, ascii)
    put_figure(sheet, 0, 0, text, scale, Ink.FIGURE)
    return [line.rstrip() for line in sheet.lines()]


def test_a_seven_in_half_blocks() -> None:
    assert drawn("7", 1)[:3] == ["▀▀█", " ▄▀", " ▀"]


def test_a_four_twice_as_large() -> None:
    assert drawn("4", 2)[:5] == ["██  ██", "██  ██", "██████", "    ██", "    ██"]


@pytest.mark.parametrize("scale", [1, 2])
@pytest.mark.parametrize("text", ["0.0", "41.2", "100.0", "-6.8", "<0.01", "88"])
def test_size_is_what_was_said(text: str, scale: int) -> None:
    columns, rows = figure_size(text, scale)
    lines = drawn(text, scale)
    assert max(len(line) for line in lines) <= columns
    assert not any(lines[rows:])
    sheet = Sheet(60, 6)
    assert put_figure(sheet, 2, 0, text, scale, Ink.FIGURE) == 2 + columns


@pytest.mark.parametrize("scale", [1, 2])
def test_all_digits_are_told_apart(scale: int) -> None:
    shapes = [tuple(drawn(digit, scale)) for digit in "0123456789-<."]
    assert all(a != b for a, b in itertools.combinations(shapes, 2))


def test_plain_text_where_there_is_no_room_or_no_block() -> None:
    assert drawn("41.2", 0)[0] == "41.2"
    assert drawn("41.2", 1, ascii=True)[1] == "4 1 . 2"
    assert all(line.isascii() for line in drawn("41.2", 2, ascii=True))


def test_cut_at_the_edge_without_harm() -> None:
    sheet = Sheet(5, 2)
    put_figure(sheet, 3, 1, "88", 2, Ink.FIGURE)
    assert sheet.lines() == ["     ", "   ██"]
