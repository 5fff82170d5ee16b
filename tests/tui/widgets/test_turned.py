"""Turns on the main view: the newest first, with their age, in their own words, and gone when they are old."""

from __future__ import annotations

import msgspec

from analysis.model.instant import Instant
from analysis.model.turn import DriftRate, LampEffect, Turn
from tests.tui.measured import complete
from tests.tui.widgets.drawing import draw, text
from tui.turn_words import turn_words
from tui.widgets.blocks.turned import SHOWN_SECONDS
from tui.widgets.numbers import NumbersPanel

WIDE = (46, 37)


def turned(*ages: float):
    usual = complete()
    at = usual.at
    turns = tuple(
        Turn(kind="whole", at=Instant(at.monotonic - age, at.utc - age), stops=-age / 10, seconds=0.2, share=0.9)
        for age in sorted(ages, reverse=True)
    )
    return msgspec.structs.replace(usual, turns=turns)


def shown(*ages: float, size: tuple[int, int] = WIDE) -> list[str]:
    lines = text(draw(NumbersPanel, size, turned(*ages))).split("\n")
    start = next((place for place, line in enumerate(lines) if line.startswith("TURNS")), None)
    return [] if start is None else [line.strip() for line in lines[start + 1 :] if "whole picture" in line]


def test_nothing_is_said_where_nothing_turned() -> None:
    assert "TURNS" not in text(draw(NumbersPanel, WIDE, complete()))


def test_the_newest_stands_first_with_its_age_and_amount() -> None:
    assert shown(12.0, 45.0) == ["0:12 whole picture -1.2 stops", "0:45 whole picture -4.5 stops"]


def test_only_the_newest_few_are_shown_and_old_ones_go() -> None:
    assert len(shown(10.0, 20.0, 30.0, 40.0, 50.0)) == 3
    assert shown(SHOWN_SECONDS + 1.0) == []


def test_a_narrow_column_cuts_the_words_with_a_mark() -> None:
    lines = shown(12.0, size=(27, 30))
    assert all(len(line) <= 27 for line in lines)


def test_a_key_that_was_switched_says_what_it_adds() -> None:
    usual = turned(12.0)
    effect = LampEffect(sitter_stops=1.4, background_stops=0.1, key_share=0.6, ratio_stops=1.585)
    usual = msgspec.structs.replace(usual, turns=(msgspec.structs.replace(usual.turns[0], effect=effect),))
    assert "key adds +1.4, ground +0.1, ratio 3.0:1" in text(draw(NumbersPanel, WIDE, usual))


def test_where_a_drift_has_no_room_for_its_rate_it_tells_when_something_clips() -> None:
    usual = turned(12.0)
    rate = DriftRate(of="background", stage="begun", stops_a_minute=3.0, seconds_to_clip=41.0, clips="window")
    drift = msgspec.structs.replace(usual.turns[0], kind="drift", drift=rate)
    usual = msgspec.structs.replace(usual, turns=(drift,))
    assert "0:12 window clips in about 40 s" in text(draw(NumbersPanel, (36, 37), usual))
    assert turn_words(drift) in text(draw(NumbersPanel, (90, 37), usual))
