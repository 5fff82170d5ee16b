"""A quick change of the whole picture ends what came and went; a cloud, or a change of the sitter alone, does not."""

from __future__ import annotations

import msgspec
import pytest

from analysis.engine.anew import HEEDED_SECONDS, ExposedAnew
from analysis.model.instant import Instant
from analysis.model.turn import Turn
from tests.tui.synthetic import alarm

LULL = msgspec.structs.replace(alarm("highlights", "active-acknowledged"), lull=True)
THERE = alarm("shadows", "active-unacknowledged")


def at(seconds: float) -> Instant:
    return Instant(seconds, seconds)


def turn(**parts) -> Turn:
    usual = {"kind": "whole", "at": at(0.0), "stops": -2.0, "seconds": 0.3, "share": 0.9}
    return Turn(**(usual | parts))


@pytest.mark.parametrize("parts", [{}, {"stops": 0.34}, {"kind": "cut", "stops": 0.0, "seconds": 0.0}])
def test_exposing_anew_or_another_shot_ends_what_is_away_and_nothing_else(parts) -> None:
    anew = ExposedAnew()
    anew.saw((turn(**parts),), at(0.0))
    assert [reset.alarm for reset in anew.ended((LULL, THERE), at(3.0))] == ["highlights"]


@pytest.mark.parametrize(
    "parts",
    [
        {"seconds": 2.5},
        {"kind": "background"},
        {"kind": "sitter"},
        {"kind": "drift", "seconds": 20.0},
        {"stops": 0.1},
    ],
)
def test_clouds_lamps_and_drifts_end_nothing(parts) -> None:
    anew = ExposedAnew()
    anew.saw((turn(**parts),), at(0.0))
    assert anew.ended((LULL,), at(1.0)) == ()


def test_what_goes_away_much_later_has_another_cause() -> None:
    anew = ExposedAnew()
    anew.saw((turn(),), at(0.0))
    assert anew.ended((LULL,), at(HEEDED_SECONDS)) == ()


def test_shots_that_alternate_end_nothing_until_they_rest() -> None:
    anew, cut = ExposedAnew(), turn(kind="cut", stops=0.0, seconds=0.0)
    heeded = []
    for seconds in (0.0, 30.0, 60.0, 90.0, 690.0):
        anew.saw((cut,), at(seconds))
        heeded.append(anew.heeding(at(seconds)))
    assert heeded == [True, True, False, False, True]
    anew.saw((turn(),), at(700.0))
    assert anew.heeding(at(700.0)), "a filter counts whatever was cut"
