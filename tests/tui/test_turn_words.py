"""Turns as lines: every kind has one, short enough for a row, without a number that was not measured."""

from __future__ import annotations

from typing import get_args

import pytest

from analysis.model.instant import Instant
from analysis.model.turn import DriftOf, DriftRate, DriftStage, LampEffect, Turn, TurnKind
from tui.turn_words import effect_words, turn_words


def turn(kind: TurnKind, stops: float, seconds: float = 0.0, **more: object) -> Turn:
    return Turn(kind=kind, at=Instant(0.0, 0.0), stops=stops, seconds=seconds, share=1.0, **more)


@pytest.mark.parametrize("kind", get_args(TurnKind))
def test_every_kind_has_a_line(kind: TurnKind) -> None:
    rate = DriftRate(of="whole", stage="begun", stops_a_minute=0.4) if kind == "drift" else None
    line = turn_words(turn(kind, 0.7, drift=rate))
    assert line and "\n" not in line and len(line) <= 60
    assert "None" not in line


@pytest.mark.parametrize("of", get_args(DriftOf))
@pytest.mark.parametrize("stage", get_args(DriftStage))
def test_every_drift_has_a_line(of: DriftOf, stage: DriftStage) -> None:
    line = turn_words(turn("drift", -0.6, 95.0, drift=DriftRate(of=of, stage=stage, stops_a_minute=-0.4)))
    assert line.startswith("drift") and len(line) <= 70
    assert ("over" in line) == (stage == "ended")


def test_lines_as_they_are_read() -> None:
    assert turn_words(turn("whole", -2.0, 2.4)) == "whole picture -2.0 stops over 2.4 s"
    assert turn_words(turn("sitter", 1.1, sitter_stops=1.1, background_stops=0.0)) == "sitter only +1.1"
    assert turn_words(turn("background", -0.7, sitter_stops=0.3)) == "background -0.7 (sitter +0.3)"
    assert turn_words(turn("background", -0.7)) == "background -0.7"
    assert turn_words(turn("mixed", 1.5, background_stops=-0.7)) == "sitter +1.5, background -0.7"
    assert turn_words(turn("part", 0.9)) == "part of the picture +0.9"
    assert turn_words(turn("cut", 0.01)) == "cut to another shot"
    assert turn_words(turn("sitter", 2.4, at_least=True)) == "sitter only at least +2.4"


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(2.0, "clips now"), (13.0, "in about 15 s"), (38.0, "in about 40 s"), (118.0, "in about 2 min 00 s")],
)
def test_the_time_to_the_clip_is_round(seconds: float, words: str) -> None:
    rate = DriftRate(of="background", stage="begun", stops_a_minute=0.9, seconds_to_clip=seconds, clips="window")
    assert turn_words(turn("drift", 0.3, drift=rate)).endswith(f"the window clips {words.removeprefix('clips ')}")


def test_what_clips_without_a_name_is_the_brightest_part() -> None:
    rate = DriftRate(of="whole", stage="begun", stops_a_minute=0.9, seconds_to_clip=41.0)
    assert "the brightest part clips in about 40 s" in turn_words(turn("drift", 0.3, drift=rate))


def test_a_key_without_sides_or_background() -> None:
    line = effect_words(LampEffect(sitter_stops=1.0, background_stops=None, key_share=0.5))
    assert line == "key adds +1.0 to the sitter; 50 % of the light there"
