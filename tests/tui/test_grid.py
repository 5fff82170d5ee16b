"""The cell-difference encoder: a terminal fed with differences shows what it would show fed with everything."""

from __future__ import annotations

import random

import pytest

from tests.tui.emulator import Emulator
from tui.grid import Grid

PENS = ["", "1", "38;2;1;2;3;48;2;4;5;6", "38;5;9", "48;5;3", "1;38;2;9;9;9", "2;38;5;7;48;5;1", "7"]
LETTERS = "ab \u2801\u28ff█▀é図😀"


def random_frame(rnd: random.Random, width: int, height: int, letters: str) -> str:
    """A write as the compositor makes them: rows from some column on, every stretch with its own pen."""
    rows = range(height) if rnd.random() < 0.1 else sorted(rnd.sample(range(height), rnd.randint(1, height // 2)))
    out = ""
    for y in rows:
        x = 0 if len(rows) == height else rnd.randrange(width)
        out += f"\x1b[{y + 1};{x + 1}H"
        room = width - x
        while room > 0 and rnd.random() < 0.9:
            text = ""
            for _ in range(rnd.randint(1, 7)):
                letter = rnd.choice(letters)
                cells = 2 if letter in "図😀" else 1
                if cells > room:
                    break
                text += letter
                room -= cells
            pen = rnd.choice(PENS)
            out += f"\x1b[{pen}m{text}\x1b[0m" if pen and text else text
    return out + "\x1b[1;1H"


@pytest.mark.parametrize("letters", ["ab ", "ab \u2801\u28ff█▀é", LETTERS])
def test_random_frames_come_out_equal(letters: str) -> None:
    # Wide characters cut in half by a later write differ from terminal to terminal; the compositor
    # never cuts them, so frames with wide characters start at column one here.
    rnd = random.Random(len(letters))
    width, height = 40, 12
    grid, whole, parts = Grid(width, height), Emulator(width, height), Emulator(width, height)
    for _ in range(300):
        frame = random_frame(rnd, width, height, letters)
        if letters is LETTERS:
            whole.feed("".join(f"\x1b[{y + 1}H{' ' * width}" for y in range(height)))
            grid.accept("".join(f"\x1b[{y + 1}H{' ' * width}" for y in range(height)))
        assert grid.accept(frame)
        whole.feed(frame)
        if rnd.random() < 0.6:
            parts.feed(grid.encode(60 if rnd.random() < 0.3 else None))
            if not grid.dirty:
                assert parts.cells == whole.cells
    parts.feed(grid.encode())
    assert parts.cells == whole.cells


def test_nothing_changed_sends_nothing() -> None:
    grid = Grid(10, 2)
    grid.accept("\x1b[1;1Hhello")
    grid.encode()
    grid.accept("\x1b[1;1Hhello")
    assert grid.encode() == ""
    assert grid.cells == 0


def test_one_changed_cell_is_one_short_write() -> None:
    grid = Grid(120, 40)
    grid.accept("\x1b[7;1H\x1b[31m" + "x" * 120 + "\x1b[0m")
    grid.encode()
    grid.accept("\x1b[7;1H\x1b[31m" + "x" * 60 + "y" + "x" * 59 + "\x1b[0m")
    assert len(grid.encode()) <= len("\x1b[7;61H\x1b[0;31my")


def test_what_is_not_a_frame_is_refused_and_changes_nothing() -> None:
    grid = Grid(10, 2)
    grid.encode()
    for strange in ("\a", "\x1b[?25l", "plain", "\x1b]8;;http://x\x1b\\a\x1b]8;;\x1b\\", "\x1b[2J", ""):
        assert not grid.accept(strange)
    assert grid.encode() == ""


def test_after_invalidate_everything_is_sent_again() -> None:
    grid, terminal = Grid(10, 2), Emulator(10, 2)
    grid.accept("\x1b[1;1Hhello\x1b[2;1Hworld")
    grid.encode()
    grid.invalidate()
    terminal.feed(grid.encode())
    assert terminal.lines() == ["hello     ", "world     "]


def test_a_new_size_is_blank_and_writes_outside_are_cut() -> None:
    grid, terminal = Grid(10, 2), Emulator(4, 1)
    grid.resize(4, 1)
    assert grid.accept("\x1b[1;1Htoo long\x1b[2;1Hbelow\x1b[1;99Hright")
    terminal.feed(grid.encode())
    assert terminal.lines() == ["too "]


def test_limit_sends_the_longest_waiting_rows_first() -> None:
    grid = Grid(20, 4)
    grid.encode()
    for turn in range(4):
        for row in range(4):
            grid.accept(f"\x1b[{row + 1};1H{turn}" + "abcdefgh"[turn] * 19)
        sent = grid.encode(limit=10)
        assert sent.startswith(f"\x1b[{turn + 1}"), "each row gets its turn"
    assert grid.dirty


def test_ascii_grid_sends_only_ascii_whatever_is_drawn() -> None:
    grid, terminal = Grid(12, 1, ascii=True), Emulator(12, 1)
    assert grid.accept("\x1b[1;1H\x1b[1m●×é図🔎─⣿\x1b[0m")
    sent = grid.encode()
    assert sent.isascii()
    terminal.feed(sent)
    assert terminal.lines() == ["*xe? ? -?   "]
