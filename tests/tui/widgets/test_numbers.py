"""Figures: they are the reading's, dim when late, gone when lost, and never a zero for nothing."""

from __future__ import annotations

import msgspec
import pytest

from tests.tui.synthetic import snapshot
from tests.tui.widgets.drawing import PLAIN, draw, ink_of, inks, text
from tui.palette import Ink
from tui.widgets.numbers import NumbersPanel
from tui.wording import level, share

SIZES = [(27, 13), (35, 21), (46, 37)]


def unnamed(shown: str) -> str:
    """Without the digits that belong to names."""
    for name in ("95th", "5th", "R 103", "safe 50 Hz", "safe 60 Hz"):
        shown = shown.replace(name, "")
    return shown


@pytest.mark.parametrize("size", SIZES)
def test_every_figure_of_the_reading_is_there(size: tuple[int, int]) -> None:
    now = snapshot()
    shown = text(draw(NumbersPanel, size, now))
    luma = now.reading.luma
    for name, value in (
        ("high", luma.p99),
        ("mean", luma.mean),
        ("low", luma.p1),
        *((("max", luma.max), ("min", luma.min)) if size[1] > 13 else ()),
    ):
        line = next(line for line in shown.splitlines() if name in line)
        assert line.split(name)[1].split()[0] == level(value), name
    for shares in (now.reading.clipped, now.reading.crushed):
        for letter, value in (("R", shares.r), ("G", shares.g), ("B", shares.b)):
            assert f"{letter} {share(value)}" in shown
    assert "any" in shown
    assert "middle" in shown


def test_the_middle_is_large_where_there_is_room() -> None:
    assert text(draw(NumbersPanel, (35, 21), snapshot())).count("█") > 30
    assert "▀" in text(draw(NumbersPanel, (27, 13), snapshot()))


def test_plain_fallback_spells_the_figure() -> None:
    shown = text(draw(NumbersPanel, (27, 13), snapshot(), PLAIN))
    assert shown.isascii()
    assert " ".join(level(snapshot().reading.luma.p50)) in shown


@pytest.mark.parametrize("size", [*SIZES, (120, 1)])
def test_lost_blanks_every_figure(size: tuple[int, int]) -> None:
    shown = text(draw(NumbersPanel, size, snapshot("lost", with_picture=False)))
    assert not any(character.isdigit() for character in unnamed(shown))
    assert "█" not in shown
    assert "–" in shown


@pytest.mark.parametrize("size", [*SIZES, (120, 1)])
def test_a_lost_feed_blanks_even_a_reading_that_was_left_behind(size: tuple[int, int]) -> None:
    shown = text(draw(NumbersPanel, size, snapshot("lost")))
    assert not any(character.isdigit() for character in unnamed(shown))


@pytest.mark.parametrize("size", SIZES)
def test_late_figures_are_dim_and_called_late(size: tuple[int, int]) -> None:
    sheet = draw(NumbersPanel, size, snapshot("late"))
    assert "LATE" in sheet.lines()[0]
    assert not {Ink.FIGURE, Ink.OVER} & inks(sheet)
    assert Ink.STALE in inks(sheet)


def test_a_tiny_share_never_reads_as_none() -> None:
    now = snapshot()
    clipped = msgspec.structs.replace(now.reading.clipped, any=0.0004, r=0.0004, g=0.0, b=0.0)
    shown = text(
        draw(
            NumbersPanel,
            (27, 13),
            msgspec.structs.replace(now, reading=msgspec.structs.replace(now.reading, clipped=clipped)),
        )
    )
    assert "any <0.01" in shown
    assert "R <0.01" in shown
    assert "G 0 " in shown


def test_a_feed_without_colour_has_no_channel_figures() -> None:
    now = snapshot()
    clipped = msgspec.structs.replace(now.reading.clipped, r=None, g=None, b=None)
    reading = msgspec.structs.replace(now.reading, clipped=clipped, crushed=None)
    shown = text(draw(NumbersPanel, (27, 13), msgspec.structs.replace(now, reading=reading)))
    assert "R –" in shown


def test_one_line_holds_the_essentials() -> None:
    line = draw(NumbersPanel, (120, 1), snapshot()).lines()[0]
    assert all(word in line for word in ("middle", "clipped", "crushed", "high", "low", "mean"))
    narrow = draw(NumbersPanel, (40, 1), snapshot()).lines()[0]
    assert "middle" in narrow
    assert ink_of(draw(NumbersPanel, (120, 1), snapshot("late")), "LATE") == Ink.CARE


@pytest.mark.parametrize("width", range(1, 60, 7))
@pytest.mark.parametrize("height", range(1, 45, 6))
def test_any_size_can_be_drawn(width: int, height: int) -> None:
    assert len(draw(NumbersPanel, (width, height), snapshot()).lines()) == height


