"""Layouts: at every size boxes lie inside the terminal and never on one another."""

from __future__ import annotations

import itertools

import pytest

from tui.arrange import SMALLEST, Box, Choice, arrange, trace_kind

CHOICES = [Choice(t, p, w) for t in (None, "luma", "rgb", "both") for p in (True, False) for w in (True, False)]
CHOICES += [Choice(large=large, stops=stops) for large in ("corner", "main", "full") for stops in (None, True, False)]


def cells(box: Box) -> set[tuple[int, int]]:
    return {(x, y) for x in range(box.x, box.x + box.width) for y in range(box.y, box.y + box.height)}


@pytest.mark.parametrize("choice", CHOICES)
def test_boxes_never_overlap_and_never_leave(choice: Choice) -> None:
    widths = [1, 7, 20, 40, 59, 60, 61, 79, 80, 81, 100, 109, 110, 120, 159, 160, 169, 170, 200, 300]
    heights = [1, 2, 5, 12, 17, 18, 19, 24, 25, 26, 31, 32, 40, 49, 50, 60, 100]
    for width, height in itertools.product(widths, heights):
        boxes = arrange(width, height, choice)
        taken = 0
        for name, box in boxes.items():
            assert box.width >= 1, (width, height, name, box)
            assert box.height >= 1, (width, height, name, box)
            assert box.x >= 0
            assert box.y >= 0
            assert box.x + box.width <= width, (width, height, name, box)
            assert box.y + box.height <= height, (width, height, name, box)
            taken += box.width * box.height
        for one, other in itertools.combinations(boxes.values(), 2):
            apart = (
                one.x + one.width <= other.x
                or other.x + other.width <= one.x
                or one.y + one.height <= other.y
                or other.y + other.height <= one.y
            )
            assert apart, (width, height, one, other)
        assert taken <= width * height


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (200, 60), SMALLEST])
@pytest.mark.parametrize("choice", CHOICES)
def test_what_must_always_be_seen_is_placed(size: tuple[int, int], choice: Choice) -> None:
    boxes = arrange(*size, choice)
    assert {"status", "alarms", "keys", "numbers"} <= set(boxes)
    assert {"trace", "parts", "picture"} & set(boxes)
    assert boxes["alarms"].height >= 2


def test_trace_gets_most_of_the_room() -> None:
    for width, height in ((80, 24), (120, 40), (200, 60)):
        boxes = arrange(width, height, Choice("luma"))
        largest = max(boxes.values(), key=lambda box: box.width * box.height)
        assert largest == boxes["trace"]


@pytest.mark.parametrize(("width", "height"), [(59, 40), (120, 17), (1, 1), (40, 12), (20, 5)])
def test_small_terminals_get_the_mini_view(width: int, height: int) -> None:
    assert set(arrange(width, height, Choice())) == {"mini"}


def test_no_terminal_no_boxes() -> None:
    assert arrange(0, 10, Choice()) == {}


def test_wide_screens_show_luma_and_parts_side_by_side() -> None:
    assert trace_kind(120, 40, Choice()) == "luma"
    assert trace_kind(200, 60, Choice()) == "both"
    boxes = arrange(200, 60, Choice())
    assert boxes["trace"].y == boxes["parts"].y
    assert arrange(120, 40, Choice("both"))["parts"].x == 0


def test_picture_gives_its_room_back_when_hidden() -> None:
    assert "picture" not in arrange(120, 40, Choice(picture=False))
    assert arrange(120, 40, Choice(picture=False))["alarms"].width == 120


def test_wide_view_keeps_figures_and_alarms() -> None:
    boxes = arrange(120, 40, Choice(wide=True))
    assert boxes["trace"].width == 120
    assert boxes["numbers"].height == 1
    assert "timeline" not in boxes


def test_an_enlarged_picture_takes_the_place_of_the_trace_which_takes_its_corner() -> None:
    usual, larger = arrange(120, 40, Choice()), arrange(120, 40, Choice(large="main"))
    assert larger["picture"] == usual["trace"]
    assert larger["trace"] == usual["picture"]
    whole = arrange(120, 40, Choice(large="full"))["picture"]
    assert whole.width == 120
    assert whole.height > larger["picture"].height


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_stops_take_the_corner_when_asked_for_and_have_their_own_place_where_there_is_room(
    size: tuple[int, int],
) -> None:
    usual = arrange(*size, Choice())
    assert "stops" not in usual
    asked = arrange(*size, Choice(stops=True))
    assert asked["stops"] == usual["picture"]
    assert "picture" not in asked
    assert {"stops", "picture"} <= set(arrange(200, 60, Choice()))
    assert "stops" not in arrange(200, 60, Choice(stops=False))
