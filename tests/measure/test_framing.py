"""Where the view lies: displaced by known parts of a cell, whatever the light does and whoever walks through."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from analysis.measure.framing import FARTHEST, FINER, LOST_LOOKS, Framing
from analysis.model.light import COLUMNS, ROWS

HIGH, WIDE, EDGE = FINER * ROWS, FINER * COLUMNS, 20


def scenery(seed: int = 1) -> np.ndarray:
    """Stops of a place larger than the picture, ten times as fine as its cells."""
    dice = np.random.default_rng(seed)
    coarse = dice.normal(0.0, 2.0, ((HIGH + 2 * EDGE) // 3, (WIDE + 2 * EDGE) // 3)).astype(np.float32)
    size = 5 * (WIDE + 2 * EDGE), 5 * (HIGH + 2 * EDGE)
    return np.asarray(cv2.resize(coarse, size, interpolation=cv2.INTER_LINEAR), np.float32)


def picture(fine: np.ndarray, down: float = 0.0, right: float = 0.0) -> np.ndarray:
    """What a camera sees of it whose view has moved by so many cells in the picture."""
    top, left = round(5 * (EDGE - FINER * down)), round(5 * (EDGE - FINER * right))
    part = fine[top : top + 5 * HIGH, left : left + 5 * WIDE]
    return np.asarray(cv2.resize(part, (WIDE, HIGH), interpolation=cv2.INTER_AREA), np.float32)


@pytest.mark.parametrize("moved", [(0.3, 0.0), (-0.5, 0.7), (1.2, -2.1), (0.1, 0.1)])
@pytest.mark.parametrize("stops", [0.0, 1.0, -3.0])
def test_a_view_that_moved_is_found_to_a_few_hundredths_of_a_cell(moved: tuple[float, float], stops: float) -> None:
    fine, framing = scenery(), Framing()
    framing.see(picture(fine))
    assert framing.see(picture(fine, *moved) + stops) == pytest.approx(moved, abs=0.06)


def test_a_view_that_stays_is_not_followed_into_the_noise() -> None:
    view, dice, framing = picture(scenery()), np.random.default_rng(3), Framing()
    for _ in range(20):
        noise = dice.normal(0.0, 0.05, view.shape).astype(np.float32)
        assert framing.see(view + noise) == (0.0, 0.0)


def test_somebody_who_walks_through_takes_nothing_along() -> None:
    view, framing = picture(scenery()), Framing()
    for place in range(0, 60, 2):
        crossed = view.copy()
        crossed[10:, place : place + 20] = picture(scenery(2))[10:, :20]
        assert framing.see(crossed) == (0.0, 0.0)


def test_light_on_a_part_moves_nothing() -> None:
    view, framing = picture(scenery()), Framing()
    framing.see(view)
    lit = view.copy()
    lit[:30, :40] += 2.0
    assert framing.see(lit) == (0.0, 0.0)


def test_a_pan_begins_another_view_when_little_is_left_of_it() -> None:
    fine, framing = scenery(), Framing()
    shifts = [framing.see(picture(fine, 0.0, 0.25 * step)) for step in range(int(4 * FARTHEST[1]) + 8)]
    assert max(right for _, right in shifts) > FARTHEST[1] - 0.5
    assert any(right < 0.3 for _, right in shifts[int(4 * FARTHEST[1]) :])


def test_a_cut_is_given_up_after_a_few_looks() -> None:
    framing = Framing()
    framing.see(picture(scenery()))
    other = scenery(9)
    for _ in range(LOST_LOOKS):
        framing.see(picture(other))
    assert framing.see(picture(other)) == (0.0, 0.0)
    assert framing.see(picture(other, 0.5, 0.0)) == pytest.approx((0.5, 0.0), abs=0.06)


def test_a_plain_wall_has_nowhere_to_go() -> None:
    framing, wall = Framing(), np.zeros((HIGH, WIDE), np.float32)
    assert framing.see(wall) == framing.see(wall + 1.0) == (0.0, 0.0)
