"""Turns in coded video: rendered film through H.264 and the program's own file feed."""

from __future__ import annotations

from pathlib import Path

import pytest

from analysis.exposure import turn
from analysis.model.turn import Turn
from tests.exposure.turn_film import Film, Moment
from tests.exposure.turn_video import frames_in, write

RATE = 10
FEW_BITS = {"b": "600000"}
"""So few bits a second that noise is gone and edges are soft."""


def turns_in(path: Path, film: Film) -> list[Turn]:
    """The turns told of a file read as a feed reads it."""
    state, told = turn.begin(), list[Turn]()
    for number, light in frames_in(path, film, RATE):
        state, turns = turn.step(state, light, film.sitters(film.story(number / RATE)), light.at)
        told += turns
    return told


@pytest.mark.parametrize(
    ("change", "kind", "stops", "name"),
    [
        ({"whole": -1.0}, "whole", -1.0, "bt709"),
        ({"whole": 1 / 3}, "whole", 1 / 3, "acescct"),
        ({"sitter": 1.0}, "sitter", 1.0, "acescct"),
        ({"window": -0.7}, "background", -0.7, "hlg"),
    ],
)
def test_turns_in_coded_video(tmp_path: Path, change: dict[str, float], kind: str, stops: float, name: str) -> None:
    film = Film(lambda now: Moment(**change) if now > 2.45 else Moment(), name)
    path = tmp_path / "film.mp4"
    write(path, film, 5.0, FEW_BITS, RATE)
    told = turns_in(path, film)
    assert [each.kind for each in told] == [kind]
    assert told[0].stops == pytest.approx(stops, abs=0.1)


def test_a_cut_in_coded_video(tmp_path: Path) -> None:
    film = Film(lambda now: Moment(shot=1 if now > 2.45 else 0))
    path = tmp_path / "film.mp4"
    write(path, film, 4.5, FEW_BITS, RATE)
    assert [each.kind for each in turns_in(path, film)] == ["cut"]
