"""At most one flash a second. WCAG 2.2 success criterion 2.3.1 allows three; one is our own rule."""

from __future__ import annotations

import random
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tui.steady import BLINK_SECONDS, FLASH_SECONDS, Steady, SteadyRows, blinks_bright


def flashes_in_any_second(shown: list[tuple[float, bool]]) -> float:
    """The most pairs of opposing changes within less than a second of one another."""
    changes = [now for (_, before), (now, after) in pairwise(shown) if before != after]
    return max((sum(start <= other < start + 1.0 for other in changes) for start in changes), default=0) / 2


@given(st.lists(st.tuples(st.floats(0.0, 0.4), st.booleans()), max_size=200))
def test_whatever_is_wanted_there_is_one_flash_a_second_at_most(wanted: list[tuple[float, bool]]) -> None:
    place, now, shown = Steady(), 0.0, [(0.0, False)]
    for pause, bright in wanted:
        now += pause
        shown.append((now, place.show(bright, now)))
    assert flashes_in_any_second(shown) <= 1.0


def test_something_that_changes_every_frame_is_still_seen_to_change() -> None:
    place = Steady()
    shown = [(tick / 60, place.show(tick % 2 == 0, tick / 60)) for tick in range(600)]
    assert flashes_in_any_second(shown) == 1.0
    assert {bright for _, bright in shown} == {True, False}


def test_a_lone_change_shows_at_once_and_what_came_too_soon_shows_later() -> None:
    place = Steady()
    assert place.show(True, 5.0)
    assert not place.show(False, 5.0), "one flash is allowed"
    assert not place.show(True, 5.5)
    assert place.show(True, 5.0 + FLASH_SECONDS)


@pytest.mark.parametrize("rate", [2.0, 8.0, 29.97])
def test_the_blink_of_priority_one_is_slower_than_once_a_second_at_any_update_rate(rate: float) -> None:
    rnd = random.Random(3)
    place, shown, now = Steady(), [], 0.0
    for _ in range(400):
        now += 1 / rate + rnd.uniform(-0.2, 0.2) / rate
        shown.append((now, place.show(blinks_bright(now, 0.0), now)))
    assert 0.5 <= flashes_in_any_second(shown) <= 1.0
    assert BLINK_SECONDS >= 2 * FLASH_SECONDS


def test_rows_are_judged_each_by_itself_and_forgotten_with_the_room_for_them() -> None:
    rows = SteadyRows()
    assert rows.show(frozenset({1}), 4, 0.0) == {1}
    assert rows.show(frozenset({2}), 4, 0.1) == {2}
    assert rows.show(frozenset({1}), 4, 0.2) == frozenset(), "row 1 may flash again only a second after it began"
    assert rows.show(frozenset({1}), 4, 1.0) == {1}
    assert rows.show(frozenset({3}), 2, 1.1) == frozenset(), "there is no such row now"
