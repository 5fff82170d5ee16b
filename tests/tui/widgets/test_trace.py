"""The trace: levels stand beside their figures, limits where they are, and nothing old is shown."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from analysis.model.reading import SignalEnd
from tests.tui.synthetic import BINS, LOW, STEP, snapshot
from tests.tui.widgets.drawing import BRAILLE, PLAIN, draw, ink_of, inks, text
from tui.bridge import Paused, judge
from tui.palette import Ink
from tui.sheet import Sheet
from tui.widgets.trace import PartsPanel, Scale, TracePanel, scale_for


def at_level(level: float):
    """A snapshot whose trace is one flat line."""
    now = snapshot()
    counts = np.zeros((240, BINS), np.float32)
    counts[:, int((level - LOW) / STEP)] = 100
    view = msgspec.structs.replace(now.view, trace=counts, trace_rgb=np.stack([counts] * 3))
    return msgspec.structs.replace(now, view=view)


def with_clip(level: float, by: str = "narrow"):
    now = snapshot()
    clipped = msgspec.structs.replace(now.reading.clipped, level=level, by=by)
    end = SignalEnd(level=level, share=2.5, channels=("luma", "r", "g", "b")) if by == "ceiling" else None
    return msgspec.structs.replace(now, reading=msgspec.structs.replace(now.reading, clipped=clipped, ceiling=end))


@pytest.mark.parametrize("rows", range(4, 120))
def test_scale_puts_0_and_100_on_row_borders_and_has_room_beyond(rows: int) -> None:
    scale = scale_for(rows)
    assert scale.rows == rows
    assert scale.position(100) == scale.over
    assert scale.position(0) == scale.over + scale.main
    if rows >= 12:
        # Narrow range carries 109.1 and -6.8: (255-16)/219 and (1-16)/219 of ITU-R BT.709-6, item 5.
        assert scale.top >= 108.6
        assert scale.bottom <= -6.4


@pytest.mark.parametrize("ire", [20, 40, 60, 80])
def test_a_level_stands_beside_its_figure(ire: int) -> None:
    lines = draw(TracePanel, (90, 23), at_level(ire + 0.3)).lines()
    row = next(y for y, line in enumerate(lines) if line[:4].strip() == str(ire))
    level_rows = [y for y, line in enumerate(lines[1:], 1) if sum("⠁" < c <= "⣿" for c in line[4:80]) > 60]
    near = [y for y in level_rows if abs(y - row) <= 1]
    assert near, text(draw(TracePanel, (90, 23), at_level(ire + 0.3)))


def test_clip_and_floor_are_named_in_words_and_drawn() -> None:
    sheet = draw(TracePanel, (90, 23), snapshot())
    assert ink_of(sheet, "clip ") == Ink.OVER or "clip" in text(sheet)
    assert "crush" in text(sheet)
    assert "clip 100.0 (end of range), crush 0.0 (end of range)" in sheet.lines()[0]
    assert {Ink.OVER, Ink.UNDER, Ink.TRACE} <= inks(sheet)


def test_what_is_above_the_clip_level_has_the_ink_of_clipping() -> None:
    sheet = draw(TracePanel, (90, 23), at_level(104.2))
    rows = [y for y in range(1, 23) if (sheet.codes[y, 4:80] != 0x20).mean() > 0.9]
    assert rows[0] <= 2
    assert set(sheet.inks[rows[0], 4:80].tolist()) == {Ink.OVER}


def test_a_ceiling_found_in_the_picture_moves_the_line_and_is_called_so() -> None:
    sheet = draw(TracePanel, (90, 23), with_clip(60.0, "ceiling"))
    assert "clip 60.0 (ceiling found)" in sheet.lines()[0]
    row = next(y for y, line in enumerate(sheet.lines()) if y and line.rstrip().endswith("ceiling"))
    sixty = next(y for y, line in enumerate(sheet.lines()) if line[:4].strip() == "60")
    assert abs(row - sixty) <= 1


@pytest.mark.parametrize("panel", [TracePanel, PartsPanel])
def test_without_a_picture_there_is_no_trace_but_words(panel) -> None:
    sheet = draw(panel, (80, 20), snapshot("lost", with_picture=False))
    assert "NO PICTURE" in text(sheet)
    assert "no frame for 2.4 s" in text(sheet)
    assert not any("⠀" < character <= "⣿" for character in text(sheet))


@pytest.mark.parametrize("panel", [TracePanel, PartsPanel])
def test_a_late_picture_is_dim_and_called_late(panel) -> None:
    sheet = draw(panel, (80, 20), snapshot("late"))
    assert "LATE" in sheet.lines()[0]
    assert Ink.STALE in inks(sheet)
    assert not {Ink.TRACE, Ink.GREEN} & set(map(Ink, np.unique(sheet.inks[3:, 4:70]).tolist()))


def test_after_a_loss_nothing_of_the_old_picture_shines_through() -> None:
    panel = TracePanel(BRAILLE, "trace")
    for moment in (at_level(30), snapshot("lost", with_picture=False), at_level(70)):
        sheet = Sheet(80, 20)
        panel.draw(sheet, judge(moment, 0.0))
    fresh = draw(TracePanel, (80, 20), at_level(70))
    assert sheet.lines() == fresh.lines()


def test_drawing_the_same_moment_twice_changes_nothing() -> None:
    panel, showing = TracePanel(BRAILLE, "trace"), judge(snapshot(), 0.0)
    first, second = Sheet(80, 20), Sheet(80, 20)
    panel.draw(first, showing)
    panel.draw(second, showing)
    assert second.changed_rows(first) == []


def test_a_held_trace_stays_and_says_so_while_the_feed_goes_on() -> None:
    old = at_level(30)
    paused = Paused(view=old.view, reading=old.reading, seconds=4.2)
    sheet = draw(TracePanel, (90, 20), at_level(70), paused=paused)
    assert "PAUSED, 4.2 s old" in sheet.lines()[0]
    assert sheet.lines()[5:] == draw(TracePanel, (90, 20), at_level(30)).lines()[5:]


def test_parts_are_named_by_letters_and_words() -> None:
    line = draw(PartsPanel, (90, 20), snapshot()).lines()[1]
    assert all(name in line for name in ("R red", "G green", "B blue"))
    assert line.index("R red") < line.index("G green") < line.index("B blue")


def test_a_feed_without_colour_has_no_parts_and_says_so() -> None:
    now = snapshot()
    grey = msgspec.structs.replace(now, view=msgspec.structs.replace(now.view, trace_rgb=None))
    assert "luma only" in text(draw(PartsPanel, (80, 20), grey))


@pytest.mark.parametrize("panel", [TracePanel, PartsPanel])
@pytest.mark.parametrize("size", [(1, 1), (5, 2), (10, 3), (12, 4), (20, 5), (33, 6), (200, 50), (9, 40)])
@pytest.mark.parametrize("state", ["live", "late", "lost"])
def test_any_size_can_be_drawn(panel, size: tuple[int, int], state: str) -> None:
    moment = snapshot(state, with_picture=state != "lost")
    assert len(draw(panel, size, moment).lines()) == size[1]


@pytest.mark.parametrize("panel", [TracePanel, PartsPanel])
def test_ascii_is_ascii(panel) -> None:
    drawn = text(draw(panel, (80, 20), snapshot(), PLAIN))
    assert drawn.isascii()
    assert "#" in drawn


def test_limits_need_no_numbers() -> None:
    now = snapshot()
    bare = msgspec.structs.replace(now.reading, clipped=None, crushed=None)
    assert "clip" not in text(draw(TracePanel, (80, 20), msgspec.structs.replace(now, reading=bare)))


def test_scale_of_tiny_plots() -> None:
    assert scale_for(2) == Scale(0, 2, 0)
