"""The picture in stops: bars stand where the light is, the end of the signal is marked, nothing old is shown."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.model.reading import StopsSpread
from tests.tui.measured import SPREAD, complete, read
from tests.tui.synthetic import snapshot
from tests.tui.widgets.drawing import BRAILLE, PLAIN, draw, ink_of, text
from tui.bridge import judge
from tui.look import Look
from tui.palette import Ink
from tui.sheet import Sheet
from tui.widgets.stops import StopsPanel, gathered

SIZE = (48, 17)


def at(stop: float) -> StopsSpread:
    """All of the picture in one bin."""
    counts = np.zeros(88)
    counts[int((stop + 10) * 4)] = 100.0
    return StopsSpread(low=-10.0, step=0.25, counts=tuple(counts.tolist()))


@given(st.lists(st.floats(0, 100), min_size=88, max_size=88), st.integers(2, 120))
def test_nothing_is_lost_between_bins_and_bars(counts: list[float], bars: int) -> None:
    spread = StopsSpread(low=-10.0, step=0.25, counts=tuple(counts))
    assert gathered(spread, np.linspace(-8, 8, bars + 1)).sum() == pytest.approx(sum(counts), abs=1e-6)


@pytest.mark.parametrize("stop", [-6, -4, 0, 2])
@pytest.mark.parametrize("glyphs", ["braille", "blocks", "shade", "ascii"])
def test_a_bar_stands_above_its_stop(stop: int, glyphs: str) -> None:
    look = Look(glyphs=glyphs, colours="mono")
    sheet = draw(StopsPanel, SIZE, read(spread=at(stop)), look)
    columns = np.flatnonzero((sheet.inks[1:-1] == Ink.TRACE).any(axis=0) & (sheet.codes[1:-1] != 0x20).any(axis=0))
    lit = [x for x in columns if (sheet.codes[1:-1, x] != 0x20).sum() > 10 and chr(sheet.codes[5, x]) != "╎"]
    expected = (stop + 8) / 16 * SIZE[0]
    assert lit
    assert min(lit) >= expected - 1.5
    assert max(lit) <= expected + 2.5
    label = sheet.lines()[-1]
    name = f"{stop:+d}" if stop else " 0 "
    assert abs(label.index(name.strip() if stop else name) - expected) <= 2


def test_a_thin_part_is_seen_beside_a_thick_one() -> None:
    counts = np.zeros(88)
    counts[40], counts[60] = 99.99, 0.01
    sheet = draw(StopsPanel, SIZE, read(spread=StopsSpread(low=-10.0, step=0.25, counts=tuple(counts.tolist()))))
    x = int((5.0 + 8) / 16 * SIZE[0])
    assert any(chr(code) not in " ╎" for code in sheet.codes[1:-1, x])


def test_the_end_of_the_signal_is_marked_in_stops() -> None:
    # 100 IRE of BT.709 is linear light 1: log2(1 / 0.18) = 2.47 stops above middle grey.
    sheet = draw(StopsPanel, SIZE, complete())
    assert "end +2.5" in text(sheet)
    assert ink_of(sheet, "end +2.5") == Ink.OVER
    column = sheet.lines()[5].index("╎")
    assert abs(column - (2.47 + 8) / 16 * SIZE[0]) <= 1


def test_a_log_curve_gets_a_longer_axis() -> None:
    now = complete()
    encoding = msgspec.structs.replace(now.reading.encoding, curve="acescct")
    shown = text(
        draw(
            StopsPanel,
            SIZE,
            msgspec.structs.replace(now, reading=msgspec.structs.replace(now.reading, encoding=encoding)),
        )
    )
    assert "end +10.3" in shown
    assert "+10" in shown


@pytest.mark.parametrize("look", [BRAILLE, PLAIN])
def test_without_a_curve_it_says_so(look: Look) -> None:
    shown = text(draw(StopsPanel, SIZE, snapshot(), look))
    assert "NO STOPS" in shown
    assert "no curve" in shown


def test_lost_blanks_it_and_nothing_shines_through() -> None:
    panel = StopsPanel(BRAILLE, "stops")
    for moment in (read(spread=at(-5)), snapshot("lost", with_picture=False), read(spread=at(2))):
        sheet = Sheet(*SIZE)
        panel.draw(sheet, judge(moment, 0.0))
        if moment.reading is None:
            assert not any("⠀" < character <= "⣿" for character in text(sheet))
    assert sheet.lines() == draw(StopsPanel, SIZE, read(spread=at(2))).lines()


def test_late_is_dim() -> None:
    now = complete()
    sheet = draw(StopsPanel, SIZE, msgspec.structs.replace(now, feed=msgspec.structs.replace(now.feed, state="late")))
    assert "LATE" in sheet.lines()[0]
    assert Ink.TRACE not in sheet.inks
    assert Ink.STALE in sheet.inks


def test_drawing_the_same_spread_twice_changes_nothing() -> None:
    panel, showing = StopsPanel(BRAILLE, "stops"), judge(read(spread=SPREAD), 0.0)
    first, second = Sheet(*SIZE), Sheet(*SIZE)
    panel.draw(first, showing)
    panel.draw(second, showing)
    assert second.changed_rows(first) == []


@pytest.mark.parametrize("size", [(1, 1), (5, 2), (16, 9), (17, 3), (27, 8), (200, 50)])
@pytest.mark.parametrize("look", [BRAILLE, PLAIN])
def test_any_size_can_be_drawn(size, look: Look) -> None:
    for now in (complete(), snapshot(), snapshot("lost", with_picture=False)):
        assert len(draw(StopsPanel, size, now, look).lines()) == size[1]
    assert text(draw(StopsPanel, size, complete(), PLAIN)).isascii()
