"""Placing and changing spots: whatever is asked, a spot stays in the picture and its name its own."""

from __future__ import annotations

from math import inf, nan

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.measure.spot_edit import (
    KINDS,
    LONGEST_NAME,
    MOST_SPOTS,
    SMALLEST,
    after,
    at,
    find,
    free_name,
    grow,
    move,
    move_to,
    next_kind,
    place,
    place_between,
    remove,
    rename,
    turn_into,
    usable_name,
)
from analysis.model.errors import UsageError
from analysis.model.sitter import Spot

DOORS = place((), "doors", "let go", 0.6, 0.1, 0.3, 0.5)
TWO = place(DOORS, "lamp", "watch", 0.7, 0.2, 0.1, 0.1)


def box(spot: Spot) -> tuple[float, float, float, float]:
    return tuple(round(value, 9) for value in (spot.x, spot.y, spot.width, spot.height))


def inside(spot: Spot) -> bool:
    return (
        spot.width >= SMALLEST - 1e-12
        and spot.height >= SMALLEST - 1e-12
        and spot.x >= 0.0
        and spot.y >= 0.0
        and spot.x + spot.width <= 1.0 + 1e-12
        and spot.y + spot.height <= 1.0 + 1e-12
    )


def test_moving_stops_at_the_edge_and_keeps_the_size() -> None:
    assert box(move(DOORS, "doors", -0.1, 0.05)[0]) == (0.5, 0.15, 0.3, 0.5)
    assert box(move(DOORS, "doors", 9.0, 9.0)[0]) == (0.7, 0.5, 0.3, 0.5)
    assert box(move(DOORS, "doors", -9.0, -9.0)[0]) == (0.0, 0.0, 0.3, 0.5)
    assert box(move_to(DOORS, "doors", 0.5, 0.5)[0]) == (0.35, 0.25, 0.3, 0.5)
    assert box(move_to(DOORS, "doors", 1.0, 0.0)[0]) == (0.7, 0.0, 0.3, 0.5)


def test_growing_is_about_the_centre() -> None:
    grown = grow(DOORS, "doors", 0.02, -0.1)[0]
    assert box(grown) == (0.59, 0.15, 0.32, 0.4)
    assert box(grow(DOORS, "doors", -5.0, -5.0)[0]) == (0.745, 0.345, SMALLEST, SMALLEST)
    assert box(grow(DOORS, "doors", 5.0, 5.0)[0]) == (0.0, 0.0, 1.0, 1.0)


def test_growing_and_shrinking_again_comes_back() -> None:
    there = grow(DOORS, "doors", 0.1, 0.1)
    assert box(grow(there, "doors", -0.1, -0.1)[0]) == box(DOORS[0])


def test_dragging_works_in_every_direction() -> None:
    corners = [((0.2, 0.3), (0.5, 0.4)), ((0.5, 0.4), (0.2, 0.3)), ((0.2, 0.4), (0.5, 0.3)), ((0.5, 0.3), (0.2, 0.4))]
    for one, other in corners:
        assert box(place_between((), None, "watch", one, other)[0]) == (0.2, 0.3, 0.3, 0.1)
    click = place_between((), None, "watch", (0.5, 0.5), (0.5, 0.5))[0]
    assert inside(click) and click.width == SMALLEST


def test_only_the_named_spot_changes() -> None:
    for changed in (
        move(TWO, "lamp", 0.01, 0.0),
        grow(TWO, "lamp", 0.01, 0.0),
        rename(TWO, "lamp", "work lamp"),
        turn_into(TWO, "lamp", "let go"),
    ):
        assert changed[0] is TWO[0] and changed[1] != TWO[1] and len(changed) == 2
    assert remove(TWO, "doors") == TWO[1:]
    assert [spot.name for spot in TWO] == ["doors", "lamp"], "the old ones are as they were"


def test_names_are_found_whatever_their_capitals_and_stay_unique() -> None:
    assert find(TWO, " LAMP ").name == "lamp"
    for bad in ("Doors", "DOORS ", "  doors"):
        with pytest.raises(UsageError, match="there is a spot of that name already"):
            place(TWO, bad, "watch", 0, 0, 0.1, 0.1)
        with pytest.raises(UsageError, match="there is a spot of that name already"):
            rename(TWO, "lamp", bad)
    assert rename(TWO, "lamp", "Lamp")[1].name == "Lamp", "its own name in other letters"


@pytest.mark.parametrize(
    "name", ["", "   ", "a" * (LONGEST_NAME + 1), "\x1b[31m", "a\x00b", "-", "white\u202ecard", "tab\x07"]
)
def test_names_that_could_not_be_shown_are_refused(name: str) -> None:
    with pytest.raises(UsageError) as caught:
        usable_name(name)
    line = caught.value.line()
    assert "not a usable name for a spot" in line and "\n" not in line and len(line) < 160


@pytest.mark.parametrize("name", ["sitter", "Sitter 2", "SITTER  12"])
def test_names_of_sitters_are_theirs(name: str) -> None:
    with pytest.raises(UsageError, match="belongs to a sitter"):
        place((), name, "watch", 0, 0, 0.1, 0.1)


@pytest.mark.parametrize(
    "name", ["window", "lac gelé", "3rd lamp", "hull (no)"[:4], "sitter's chair", "sitter two", "ф"]
)
def test_names_in_any_writing_are_welcome(name: str) -> None:
    assert place((), name, "watch", 0, 0, 0.1, 0.1)[0].name == name


def test_no_such_spot_names_those_there_are() -> None:
    with pytest.raises(UsageError, match="lmap: no such spot; known: doors, lamp"):
        move(TWO, "lmap", 0, 0)
    with pytest.raises(UsageError, match="no such spot; place one first"):
        remove((), "lamp")


def test_there_are_only_so_many() -> None:
    spots: tuple[Spot, ...] = ()
    for _ in range(MOST_SPOTS):
        spots = place(spots, None, "watch", 0.1, 0.1, 0.1, 0.1)
    assert len({spot.name for spot in spots}) == MOST_SPOTS
    with pytest.raises(UsageError, match="remove one first"):
        place(spots, None, "watch", 0, 0, 0.1, 0.1)


def test_a_free_name_fills_a_gap() -> None:
    spots = place(place((), None, "watch", 0, 0, 0.1, 0.1), None, "watch", 0, 0, 0.1, 0.1)
    assert free_name(remove(spots, "spot 1")) == "spot 1" and free_name(spots) == "spot 3"


def test_kinds_go_round() -> None:
    kind, seen = KINDS[0], []
    for _ in KINDS:
        seen.append(kind)
        kind = next_kind(kind)
    assert tuple(seen) == KINDS and kind == KINDS[0]
    with pytest.raises(UsageError, match="use watch, let go, background"):
        turn_into(TWO, "lamp", "loud")  # type: ignore[arg-type]


def test_a_click_picks_the_smallest() -> None:
    assert at(TWO, 0.75, 0.25).name == "lamp"
    assert at(TWO, 0.62, 0.5).name == "doors"
    assert at(TWO, 0.1, 0.1) is None and at((), 0.5, 0.5) is None


def test_going_from_one_to_the_next() -> None:
    assert [after(TWO, name).name for name in (None, "doors", "lamp", "gone")] == ["doors", "lamp", "doors", "doors"]
    assert after((), None) is None


@pytest.mark.parametrize("bad", [nan, inf, -inf])
def test_what_is_no_number_is_refused(bad: float) -> None:
    with pytest.raises(UsageError, match="place and a size in numbers"):
        place((), "boat", "watch", bad, 0, 0.1, 0.1)
    with pytest.raises(UsageError, match="place and a size in numbers"):
        move(DOORS, "doors", 0.0, bad)


reach = st.floats(min_value=-3, max_value=3, allow_nan=False)
steps = st.lists(st.tuples(st.sampled_from(["move", "grow", "to"]), reach, reach), max_size=12)


@given(steps, reach, reach, reach, reach)
def test_no_way_out_of_the_picture(moves: list, x: float, y: float, width: float, height: float) -> None:
    spots = place((), "boat", "watch", x, y, width, height)
    for kind, one, other in moves:
        spots = {"move": move, "grow": grow, "to": move_to}[kind](spots, "boat", one, other)
        assert inside(spots[0])
    assert spots[0].name == "boat" and msgspec.json.decode(msgspec.json.encode(spots[0]), type=Spot) == spots[0]
