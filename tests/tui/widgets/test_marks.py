"""Over the trace: ends of the signal, sitters, spots and aim are where they belong, told apart without colour."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from analysis.model.reading import SignalEnd
from tests.tui.measured import FACE, SECOND, SITTER, SPOT_READINGS, SPOTS, complete
from tests.tui.synthetic import BINS
from tests.tui.widgets.drawing import BRAILLE, PLAIN, draw, ink_of, inks, text
from tui.look import Look
from tui.palette import Ink
from tui.widgets.scale import scale_for
from tui.widgets.trace import Label, PartsPanel, TracePanel, spaced

SIZE = (90, 30)
COLUMNS, ROWS = 90 - 4 - 8, 29


def empty(**parts):
    """The complete snapshot over an empty trace, so that only marks are drawn."""
    now = complete(**parts)
    counts = np.zeros((240, BINS), np.float32)
    return msgspec.structs.replace(
        now, view=msgspec.structs.replace(now.view, trace=counts, trace_rgb=np.stack([counts] * 3))
    )


def only(**parts):
    """An empty trace with neither sitters nor spots."""
    return msgspec.structs.replace(empty(**({"sitters": None, "spots": None} | parts)), spots=(), aims=())


def row_of(level: float) -> int:
    return 1 + int(scale_for(ROWS).position(level))


def end(level: float, *channels: str) -> SignalEnd:
    return SignalEnd(level=level, share=0.28, channels=channels or ("luma", "r", "g", "b"))


@pytest.mark.parametrize("glyphs", ["braille", "blocks", "shade", "ascii"])
def test_an_end_that_was_found_differs_from_the_level_where_counting_begins_without_colour(glyphs: str) -> None:
    now = only(ceiling=end(70.0))
    sheet = draw(TracePanel, SIZE, now, Look(glyphs=glyphs, colours="mono"))
    found, counted = (sheet.codes[row_of(level), 40] for level in (70.0, 100.0))
    assert found != counted
    assert 0x20 not in (found, counted)


def test_ceiling_and_floor_are_named_with_their_share_and_where_they_are() -> None:
    sheet = draw(TracePanel, SIZE, only(ceiling=end(70.0), floor=end(12.0)))
    lines = sheet.lines()
    assert lines[row_of(70.0)].rstrip().endswith("ceiling")
    assert lines[row_of(70.0) + 1].rstrip().endswith("0.28 %")
    assert lines[row_of(12.0)].rstrip().endswith("floor")
    assert "ceiling 70.0 found" in lines[0]
    assert ink_of(sheet, "floor") == Ink.UNDER


def test_what_counts_as_clipped_keeps_its_own_mark_beside_a_ceiling() -> None:
    lines = draw(TracePanel, SIZE, only(ceiling=end(70.0))).lines()
    assert any(line.rstrip().endswith("clip") for line in lines)
    assert lines[0].startswith("LUMA")
    assert "clip 100.0 (end of range)" in lines[0]
    assert any(line[:4].strip() == "100" for line in lines)
    assert any(line[:4].strip() == "0" for line in lines)


def test_a_ceiling_in_some_channels_is_named_by_them_and_drawn_only_in_their_plots() -> None:
    now = only(ceiling=end(70.0, "r", "g"))
    assert "ceil RG" in text(draw(TracePanel, SIZE, now))
    sheet = draw(PartsPanel, SIZE, now)
    row = 2 + int(scale_for(SIZE[1] - 2).position(70.0))
    width = (SIZE[0] - 6) // 3
    inks_of = [set(sheet.inks[row, 4 + n * (width + 1) : 4 + n * (width + 1) + width].tolist()) for n in range(3)]
    assert [Ink.OVER in found for found in inks_of] == [True, True, False]


def test_a_sitter_is_bracketed_at_their_columns_between_low_and_high() -> None:
    sheet = draw(TracePanel, SIZE, empty(sitters=(SITTER,)))
    rows, columns = np.nonzero(sheet.inks[:, : 4 + COLUMNS] == Ink.SITTER)
    left, right = 4 + FACE[0] / 1920 * COLUMNS, 4 + (FACE[0] + FACE[2]) / 1920 * COLUMNS
    assert abs(columns.min() - left) <= 1
    assert abs(columns.max() + 1 - right) <= 1
    assert rows.min() == row_of(SITTER.high)
    assert rows.max() == row_of(SITTER.low)
    notched = sheet.lines()[row_of(SITTER.level)]
    assert "╠" in notched
    assert "╣" in notched
    assert notched.rstrip().endswith("skin")


def test_the_main_sitter_and_others_have_other_lines() -> None:
    shown = text(draw(TracePanel, SIZE, empty()))
    assert all(character in shown for character in "╔╗║╚╝┌┐│└┘")
    plain = text(draw(TracePanel, SIZE, empty(), PLAIN))
    assert plain.isascii()
    assert "#" in plain
    assert "+" in plain


def test_a_face_without_a_level_has_no_bracket() -> None:
    lost = msgspec.structs.replace(SITTER, state="too dark", level=None, low=None, high=None)
    assert Ink.SITTER not in inks(draw(TracePanel, SIZE, empty(sitters=(lost,))))


def test_the_black_bars_do_not_move_the_sitter() -> None:
    now = empty(sitters=(SITTER,))
    area = msgspec.structs.replace(now.reading.picture, active=(240, 0, 1440, 1080))
    sheet = draw(TracePanel, SIZE, empty(sitters=(SITTER,), picture=area))
    columns = np.nonzero(sheet.inks[:, : 4 + COLUMNS] == Ink.SITTER)[1]
    assert abs(columns.min() - (4 + (FACE[0] - 240) / 1440 * COLUMNS)) <= 1


def test_spots_are_bars_with_ends_at_their_level() -> None:
    sheet = draw(TracePanel, SIZE, empty(sitters=None))
    line = sheet.lines()[row_of(SPOT_READINGS["window"].level)]
    first = 4 + SPOTS[0].x * COLUMNS
    assert abs(line.index("├") - first) <= 1
    assert "window" in line
    assert "┤" in line
    plain = draw(TracePanel, SIZE, empty(sitters=None), PLAIN).lines()[row_of(SPOT_READINGS["bench"].level)]
    assert "[" in plain
    assert "bench" in plain


def test_the_aim_is_a_band() -> None:
    sheet = draw(TracePanel, SIZE, empty())
    for level in (54.0, 46.0):
        assert Ink.AIM in sheet.inks[row_of(level), 4 : 4 + COLUMNS]
    bar = [y for y in range(30) if sheet.inks[y, 3] == Ink.AIM]
    assert bar == list(range(row_of(54.0), row_of(46.0) + 1))
    assert "aim" in text(sheet)


def test_without_sitters_looked_for_there_is_no_aim_in_the_trace() -> None:
    assert Ink.AIM not in inks(draw(TracePanel, SIZE, empty(sitters=None)))


def test_labels_never_share_a_row() -> None:
    many = [Label(at, f"{n}", Ink.TEXT, spare=n % 3 == 0) for n, at in enumerate((3.0, 3.1, 3.2, 9.9, 9.5, -2.0, 3.9))]
    rows = [row for row, _ in spaced(many, 10)]
    assert len(rows) == len(set(rows))
    assert min(rows) >= 0
    assert max(rows) <= 9
    kept = {label.text for _, label in spaced(many, 10)}
    assert {label.text for label in many if not label.spare} <= kept


@pytest.mark.parametrize("size", [(1, 1), (5, 2), (10, 3), (12, 4), (27, 7), (51, 13), (200, 50)])
@pytest.mark.parametrize("look", [BRAILLE, PLAIN])
def test_any_size_can_be_drawn_with_everything(size, look: Look) -> None:
    edge = msgspec.structs.replace(SECOND, box=(1900, 1060, 400, 400), low=-20.0, high=130.0)
    sheet = draw(TracePanel, size, complete(sitters=(SITTER, edge)), look)
    assert len(sheet.lines()) == size[1]
    assert look is BRAILLE or text(sheet).isascii()
