"""Turns in other rooms than the boathouse, with a camera in the hand, grain, H.264 and few frames a second.

A few of the draws of ``python -m tests.exposure.turn_elsewhere``, chosen for what is in them.
"""

from __future__ import annotations

import pytest

from tests.exposure.turn_elsewhere import KINDS, STILL, WITHIN, Setting, drawn, try_setting

HARD = {
    28: "the hand and grain",
    49: "a key, people, the hand, H.264",
    105: "another room, the hand, 60 frames a second",
    128: "a window of which grain wears the structure away",
    70: "a window, people, five frames a second",
    15: "two people, somebody who crosses, five frames a second",
}


@pytest.mark.parametrize("seed", HARD, ids=lambda seed: HARD[seed])
def test_a_turn_is_told_for_what_it_is_within_a_tenth_of_a_stop(seed: int) -> None:
    found = try_setting(drawn(seed), 9.5)
    assert found.told in KINDS[found.setting.kind], found.turns
    assert abs(found.error or 0.0) <= WITHIN


@pytest.mark.parametrize("seed", [1086, 1003])
def test_nothing_is_told_where_exposure_stays(seed: int) -> None:
    assert not try_setting(drawn(seed, (STILL,)), 8.0).turns


def test_a_draw_is_the_same_each_time_and_they_differ() -> None:
    assert drawn(7) == drawn(7)
    drawn_ones: list[Setting] = [drawn(seed) for seed in range(200)]
    assert {each.kind for each in drawn_ones} == set(KINDS)
    assert len({(each.curve, each.bits) for each in drawn_ones}) >= 10
