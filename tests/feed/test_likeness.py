from __future__ import annotations

import pytest

from analysis.feed.likeness import Likeness
from tests.support.pictures import form, picture


def test_different_pictures_have_different_numbers_and_a_run_has_one() -> None:
    like = Likeness()
    numbers = [like.of(picture(seed=seed)) for seed in (1, 2, 3, 3, 3, 3, 4)]
    assert len({numbers[0], numbers[1], numbers[2], numbers[6]}) == 4
    assert numbers[3] == numbers[4] == numbers[5]


@pytest.mark.parametrize("layout", ["yuv420p", "yuyv422", "nv12", "bgr24", "yuv422p10le"])
def test_one_code_in_any_row_is_a_difference(layout: str) -> None:
    like = Likeness()
    shape = form(64, 48, layout)
    same = picture(shape, seed=1)
    steady = [like.of(same) for _ in range(3)][-1]
    for row in (0, 1, 7, 8, 47):
        other = picture(shape, seed=1)
        other.planes[0][row, 5] += 1
        assert like.of(other) != steady
        assert [like.of(same) for _ in range(3)][-1] == steady


def test_the_first_picture_of_a_new_life_can_be_compared_with_the_last_of_the_old() -> None:
    old, new = Likeness(), Likeness()
    frozen = [old.of(picture(seed=9)) for _ in range(4)][-1]
    assert new.of(picture(seed=9)) == frozen
    assert Likeness().of(picture(seed=8)) != frozen


def test_a_picture_of_one_pixel() -> None:
    like = Likeness()
    assert like.of(picture(form(1, 1), seed=None)) == like.of(picture(form(1, 1), seed=None))
