"""The timeline: the newest at the right, gaps and losses marked, what is drawn moves without changing."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from analysis.model.snapshot import TimelinePoint
from tests.tui.synthetic import snapshot, timeline
from tests.tui.widgets.drawing import PLAIN, draw, ink_of, text
from tui.palette import Ink
from tui.widgets.picture import PicturePanel
from tui.widgets.timeline import TimelinePanel


def point(second: int, **more) -> TimelinePoint:
    values = {"low": 5.0, "middle": 40.0, "high": 80.0, "clipped": 0.0, "crushed": 0.0, "feed": "live", "alarm": False}
    return TimelinePoint(second=second, **(values | more))


def past(*points: TimelinePoint):
    return snapshot(timeline=tuple(points))


def test_newest_second_is_at_the_right() -> None:
    lines = draw(TimelinePanel, (64, 8), past(point(100), point(101))).lines()
    assert any(line[-1] != " " for line in lines[2:])
    assert all(line[4:-1].strip() == "" for line in lines[2:])


@pytest.mark.parametrize(
    ("more", "glyph"),
    [
        ({"alarm": True}, "!"),
        ({"clipped": 0.5}, "▲"),
        ({"crushed": 0.5}, "▼"),
        ({"clipped": 0.5, "crushed": 0.5}, "▲"),
        ({"clipped": 0.5, "alarm": True}, "!"),
        ({"clipped": 0.01}, " "),
    ],
)
def test_marks(more: dict, glyph: str) -> None:
    assert draw(TimelinePanel, (64, 8), past(point(100), point(101, **more))).lines()[1][-1] == glyph


@pytest.mark.parametrize("state", ["lost", "frozen", "waiting", "opening"])
def test_a_gap_is_hatched_and_has_no_levels(state: str) -> None:
    gap = point(101, low=None, middle=None, high=None, clipped=None, crushed=None, feed=state)
    lines = draw(TimelinePanel, (64, 8), past(point(98), point(99), gap)).lines()
    assert all(line[-1] == "╱" for line in lines[2:])
    assert any("⠀" < line[-2] <= "⣿" for line in lines[2:])


def test_levels_stand_at_their_height() -> None:
    for middle, rows in ((95.0, range(2, 5)), (2.0, range(9, 12))):
        flat = [point(n, low=middle - 1, high=middle + 1, middle=middle) for n in range(60)]
        sheet = draw(TimelinePanel, (34, 12), past(*flat))
        drawn = {y for y in range(2, 12) if (sheet.codes[y, 4:] != 0x20).any()}
        assert drawn <= set(rows), (middle, drawn)
        assert drawn


def test_cells_only_move_as_time_goes_on() -> None:
    points = timeline(400)
    before = draw(TimelinePanel, (64, 8), past(*points[:300]))
    after = draw(TimelinePanel, (64, 8), past(*points[:304]))
    np.testing.assert_array_equal(before.codes[2:, 6:], after.codes[2:, 4:-2])


def test_a_second_that_is_not_complete_does_not_shift_the_rest() -> None:
    points = timeline(301)
    even = draw(TimelinePanel, (64, 8), past(*points[:299]))
    odd = draw(TimelinePanel, (64, 8), past(*points[:300]))
    np.testing.assert_array_equal(even.codes[2:, 4:-1], odd.codes[2:, 4:-1])


def test_nothing_yet() -> None:
    assert "nothing yet" in text(draw(TimelinePanel, (64, 8), past()))


def test_span_is_told_and_only_what_fits_is_drawn() -> None:
    sheet = draw(TimelinePanel, (94, 8), snapshot(timeline=timeline(2000)))
    assert "LAST 3 MIN" in sheet.lines()[0]
    assert ink_of(draw(TimelinePanel, (40, 8), past(point(1))), "LAST 72 S") == Ink.STRONG


def test_ascii_is_ascii() -> None:
    drawn = text(draw(TimelinePanel, (64, 8), snapshot(timeline=timeline(200, (50, 70))), PLAIN))
    assert drawn.isascii()
    assert "=" in drawn
    assert "/" in drawn


@pytest.mark.parametrize("size", [(1, 1), (4, 3), (8, 4), (300, 20)])
def test_any_size_can_be_drawn(size: tuple[int, int]) -> None:
    assert len(draw(TimelinePanel, size, snapshot()).lines()) == size[1]


def test_small_picture_is_gone_when_the_feed_is() -> None:
    assert "▀" in text(draw(PicturePanel, (35, 12), snapshot()))
    lost = text(draw(PicturePanel, (35, 12), snapshot("lost")))
    assert "▀" not in lost
    assert "no picture" in lost


def test_small_picture_says_when_it_is_late() -> None:
    assert "LATE" in draw(PicturePanel, (35, 12), snapshot("late")).lines()[0]


@pytest.mark.parametrize("shape", [(1, 1, 3), (2, 300, 3), (300, 2, 3)])
@pytest.mark.parametrize("size", [(1, 1), (2, 2), (46, 18)])
def test_small_pictures_of_odd_shapes(shape: tuple[int, int, int], size: tuple[int, int]) -> None:
    now = snapshot()
    view = msgspec.structs.replace(now.view, small=np.full(shape, 128, np.uint8))
    assert draw(PicturePanel, size, msgspec.structs.replace(now, view=view)).lines()
