"""The sheet: text stays in its cells, hostile text does no harm, only changed rows are reported."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from tui.palette import Ink
from tui.plain import plain
from tui.sheet import Sheet


@given(st.text(max_size=60), st.integers(-5, 25), st.booleans())
def test_any_text_fills_exactly_its_row(text: str, x: int, ascii: bool) -> None:
    sheet = Sheet(20, 1, ascii)
    sheet.put(x, 0, text)
    line = sheet.lines()[0]
    assert cell_len(line) == 20
    assert not any(ord(character) < 32 or 127 <= ord(character) < 160 for character in line)
    if ascii:
        assert line.isascii()


def test_escape_sequences_in_a_device_name_are_harmless() -> None:
    sheet = Sheet(30, 1)
    sheet.put(0, 0, "cam\x1b]0;owned\x07\x9b2J")
    assert "\x1b" not in sheet.lines()[0]
    assert "\x9b" not in sheet.lines()[0]


def test_names_that_are_no_unicode_are_shown_as_far_as_possible() -> None:
    sheet = Sheet(10, 1)
    sheet.put(0, 0, b"clip\xff.mov".decode("utf-8", "surrogateescape"))
    assert sheet.lines()[0].startswith("clip\ufffd.mov")


def test_wide_characters_take_two_cells() -> None:
    sheet = Sheet(6, 1)
    assert sheet.put(0, 0, "図a") == 3
    assert sheet.lines() == ["図a   "]
    assert sheet.put(5, 0, "図") == 6
    assert sheet.lines() == ["図a   "], "half a character does not fit"


def test_writing_outside_changes_nothing() -> None:
    sheet = Sheet(4, 2)
    sheet.put(0, -1, "x")
    sheet.put(0, 2, "x")
    sheet.put(9, 0, "x")
    sheet.fill(-3, -3, 2, 2, "x", Ink.TEXT)
    assert sheet.lines() == ["    ", "    "]


def test_right_alignment_and_rules() -> None:
    sheet = Sheet(20, 1)
    sheet.rule(0, "LEVEL", "IRE")
    assert sheet.lines() == ["LEVEL ────────── IRE"]
    narrow = Sheet(8, 1)
    narrow.rule(0, "LEVEL", "a long note")
    assert narrow.lines() == ["LEVEL ──"]


def test_changed_rows_are_those_that_differ() -> None:
    a, b = Sheet(5, 3), Sheet(5, 3)
    b.put(0, 1, "x")
    c = Sheet(5, 3)
    c.put(0, 1, "x", Ink.OVER)
    assert a.changed_rows(a) == []
    assert b.changed_rows(a) == [1]
    assert c.changed_rows(b) == [1], "another ink is a change"
    assert a.changed_rows(None) == [0, 1, 2]
    assert a.changed_rows(Sheet(4, 3)) == [0, 1, 2]


def test_runs_join_equal_inks() -> None:
    sheet = Sheet(6, 1)
    sheet.put(0, 0, "ab", Ink.OVER)
    assert sheet.runs(0) == [("ab", Ink.OVER), ("    ", Ink.TEXT)]


def test_empty_sheet_has_nothing() -> None:
    assert Sheet(0, 0).lines() == []
    assert Sheet(0, 2).runs(1) == []


@given(st.characters())
def test_plain_twin_is_one_printable_ascii_character(character: str) -> None:
    twin = plain(character)
    assert len(twin) == 1
    assert " " <= twin <= "~"


@pytest.mark.parametrize(("character", "twin"), [("é", "e"), ("▲", "^"), ("█", "#"), ("─", "-"), ("図", "?")])
def test_plain_twins_look_alike(character: str, twin: str) -> None:
    assert plain(character) == twin
