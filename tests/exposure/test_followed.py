"""What is told to move closes what is off: carried out on the scene, and read again with the face found in it."""

from __future__ import annotations

import pytest

from analysis.model.controls import Controls
from tests.exposure.followed import DECIDE, MATCH, decided, matched, set_to, whole

NEAR = 0.1
"""Stops within which the skin has to lie where it was told."""


@pytest.mark.parametrize("situation", ["lake in sun, too bright", "key and doors shut"])
def test_ways_to_the_aim_bring_the_skin_where_they_say(situation: str) -> None:
    told = list(decided(situation))
    assert told
    for line in told:
        assert abs(line.before[0]) > 1.0 and abs(line.after[0]) <= 1.0 / 3.0, line
        assert abs(line.missed[0]) <= NEAR and abs(line.missed[1]) <= 0.2, line


@pytest.mark.parametrize("situation", ["filter put in", "another curve and depth", "key moved away, filter"])
def test_the_way_to_a_hold_closes_the_difference(situation: str) -> None:
    for line in matched(situation):
        assert max(abs(value) for value in line.before) > 1.0, line
        assert max(abs(value) for value in line.after) <= NEAR, line


def test_every_situation_has_an_address_that_can_be_set() -> None:
    for address, *_ in (*DECIDE.values(), *MATCH.values()):
        after = set_to(address, Controls(nd_stops=1.5, iso=640.0, t_stop=4.0))
        assert "&nd=1.5" in after and "&iso=640" in after and "&t=4" in whole(after)
