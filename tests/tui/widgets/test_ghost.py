"""The ghost over the trace: its edges stand beside their figures, in glyphs of their own, and hold still."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from analysis.exposure.ghost import Ghost
from tests.tui.measured import complete
from tests.tui.synthetic import snapshot
from tests.tui.widgets.drawing import BRAILLE, PLAIN, draw, ink_of, inks, text
from tui.arrange import Box
from tui.bridge import judge
from tui.palette import Ink
from tui.sheet import Sheet
from tui.widgets.ghost import BOTH, HIGHER, LOWER, SKIN, UPPER, GhostMarks
from tui.widgets.scale import scale_for
from tui.widgets.trace import TracePanel


def outline(low: float, high: float, *, hidden: bool = False, columns: int = 240, **more) -> Ghost:
    """A ghost that is the same in every column."""
    return Ghost(
        label="ND 8, ISO 2000",
        low=np.full(columns, low, np.float32),
        high=np.full(columns, high, np.float32),
        hidden=np.full(columns, hidden),
        **more,
    )


def haunted(ghost: Ghost, moment=None):
    return msgspec.structs.replace(judge(moment or snapshot(), 0.0), ghost=ghost)


def rows_of(sheet: Sheet, glyph: str) -> list[int]:
    return [y for y, line in enumerate(sheet.lines()) if line.count(glyph) > 10]


@pytest.mark.parametrize("ire", [20, 40, 60, 80])
def test_the_edges_stand_beside_their_figures(ire: int) -> None:
    sheet = draw(TracePanel, (90, 23), haunted(outline(ire - 19.7, ire + 0.3)))
    figures = {line[:4].strip(): y for y, line in enumerate(sheet.lines())}
    assert abs(rows_of(sheet, UPPER)[0] - figures[str(ire)]) <= 1
    assert abs(rows_of(sheet, LOWER)[0] - figures[str(ire - 20)]) <= 1


def test_it_is_named_and_has_an_ink_and_glyphs_of_its_own() -> None:
    bare, sheet = draw(TracePanel, (90, 23), snapshot()), draw(TracePanel, (90, 23), haunted(outline(20.0, 70.0)))
    assert "LUMA, GHOST OF ND 8, ISO 2000" in sheet.lines()[0]
    assert "GHOST" not in text(bare)
    for glyph in (UPPER, LOWER):
        assert glyph in text(sheet)
        assert glyph not in text(bare)
    assert Ink.GHOST in inks(sheet)
    assert Ink.GHOST not in inks(bare)


@pytest.mark.parametrize("width", [90, 40, 24, 14])
def test_a_narrow_trace_still_says_that_it_is_a_ghost(width: int) -> None:
    assert "GHOST" in draw(TracePanel, (width, 12), haunted(outline(20.0, 70.0))).lines()[0]


def test_what_may_lie_higher_has_an_arrow() -> None:
    shown = text(draw(TracePanel, (90, 23), haunted(outline(20.0, 70.0, hidden=True))))
    assert HIGHER in shown
    assert UPPER not in shown


def test_two_edges_in_one_cell_are_one_glyph() -> None:
    shown = text(draw(TracePanel, (90, 23), haunted(outline(50.1, 50.4))))
    assert BOTH in shown
    assert UPPER not in shown
    assert LOWER not in shown


def test_the_skin_is_where_it_is_to_come_and_is_called_ghost() -> None:
    ghost = outline(20.0, 70.0, skin=40.3, skin_at=(0.25, 0.5))
    sheet = draw(TracePanel, (90, 23), haunted(ghost))
    row = next(y for y, line in enumerate(sheet.lines()) if SKIN in line)
    forty = next(y for y, line in enumerate(sheet.lines()) if line[:4].strip() == "40")
    assert abs(row - forty) <= 1
    line = sheet.lines()[row]
    # 78 columns of the plot begin at cell 4: a quarter of them is cell 23, a half cell 43.
    assert 22 <= line.index(SKIN) <= 24
    assert 40 <= line.rindex(SKIN) <= 43
    assert ink_of(sheet, "ghost") == Ink.GHOST


def test_ascii_has_twins_of_its_own() -> None:
    ghost = outline(20.0, 70.0, hidden=True, skin=40.0, skin_at=(0.25, 0.5))
    ghost.hidden[:120] = False
    shown = text(draw(TracePanel, (90, 23), haunted(ghost), PLAIN))
    assert shown.isascii()
    plain = text(draw(TracePanel, (90, 23), snapshot(), PLAIN))
    for twin in ("^", "_", "!", "o o"):
        assert twin in shown, twin
        assert twin not in plain.replace("to", ""), twin


def test_empty_columns_stay_empty() -> None:
    ghost = outline(20.0, 70.0)
    ghost.low[:120] = ghost.high[:120] = np.nan
    sheet = draw(TracePanel, (90, 23), haunted(ghost))
    assert not any(UPPER in line[4:42] for line in sheet.lines())
    assert any(UPPER in line[44:] for line in sheet.lines())


def test_the_widest_of_what_falls_into_a_cell_is_drawn() -> None:
    ghost = outline(40.0, 50.0)
    ghost.high[100], ghost.low[101] = 90.0, 10.0
    lines = draw(TracePanel, (90, 23), haunted(ghost)).lines()
    assert sum(line.count(UPPER) for line in lines[1:6]) == 1
    assert sum(line.count(LOWER) for line in lines[18:]) == 1


def test_noise_moves_no_edge_and_a_real_change_does() -> None:
    marks, plot, scale = GhostMarks(), Box(0, 0, 60, 20), scale_for(20)
    rnd = np.random.default_rng(1)
    shown = []
    for _ in range(12):
        sheet = Sheet(60, 20)
        # Just at the border of two rows, give or take a tenth of one.
        border = scale.top - 8 * (scale.top - scale.bottom) / 20
        ghost = outline(10.0, border)
        ghost.high[:] += rnd.normal(0, 0.4, 240).astype(np.float32)
        marks.put(sheet, plot, scale, ghost)
        shown.append(sheet.lines())
    assert all(lines == shown[0] for lines in shown)
    sheet = Sheet(60, 20)
    marks.put(sheet, plot, scale, outline(10.0, border - 10.0))
    assert sheet.lines() != shown[0]


def test_another_ghost_is_drawn_at_once() -> None:
    plot, scale = Box(0, 0, 60, 20), scale_for(20)
    marks, fresh = GhostMarks(), GhostMarks()
    marks.put(Sheet(60, 20), plot, scale, outline(10.0, 50.0))
    other = msgspec.structs.replace(outline(11.0, 52.0), label="ND 4")
    sheets = Sheet(60, 20), Sheet(60, 20)
    for each, sheet in zip((marks, fresh), sheets, strict=True):
        each.put(sheet, plot, scale, other)
    assert sheets[0].lines() == sheets[1].lines()


def test_without_a_picture_there_is_no_ghost() -> None:
    lost = haunted(outline(20.0, 70.0), snapshot("lost", with_picture=False))
    shown = text(draw(TracePanel, (90, 23), lost))
    assert "GHOST" not in shown
    assert UPPER not in shown


@pytest.mark.parametrize("size", [(1, 1), (5, 2), (10, 3), (12, 4), (33, 6), (300, 50), (9, 40)])
@pytest.mark.parametrize("look", [BRAILLE, PLAIN])
def test_any_size_can_be_drawn(size, look) -> None:
    ghost = outline(-30.0, 140.0, columns=7, skin=-20.0, skin_at=(0.9, 1.0))
    assert len(draw(TracePanel, size, haunted(ghost, complete()), look).lines()) == size[1]
