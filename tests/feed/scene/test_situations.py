"""What may be arranged in the boathouse: doors shut, dusk, and the lamp as a key that is dimmed and moved."""

from __future__ import annotations

from functools import cache
from math import log2
from typing import Any

import pytest

from analysis.feed.scene.controls import SceneControls
from analysis.feed.scene.lights import levels
from analysis.feed.scene.query import parse
from analysis.feed.scene.renderer import Renderer
from analysis.feed.scene.truth import Truth
from analysis.feed.source import FeedOptions
from analysis.model.errors import UsageError
from tests.feed.scene.pictures import SMALL, STILL


@cache
def seen(**arranged: Any) -> Truth:
    return Renderer(SceneControls(**{**SMALL, **STILL, "curve": "acescct", **arranged})).truth(0.0)


def test_shut_doors_take_the_highlights_and_leave_the_sitter() -> None:
    open_, shut = seen(sun="on"), seen(sun="on", doors="shut")
    assert open_.regions["sky"].stops > 3.0 and shut.regions["sky"].stops < -1.5
    assert shut.regions["card"].stops == pytest.approx(0.0, abs=0.02)
    assert open_.skin.stops - shut.skin.stops == pytest.approx(log2(1.1), abs=0.03)  # a tenth more by the sun
    assert shut.saturated < 0.02
    assert levels(SceneControls(doors="shut", sun="on", clouds=False), 0.0).sun == 0.0


@pytest.mark.parametrize("lake", [0.1, 0.5, 2.0])
def test_the_lake_light_is_as_strong_as_it_is_said(lake: float) -> None:
    day, then = seen(), seen(lake=lake)
    for name in ("card", "sky", "cheek", "hull"):
        assert then.regions[name].stops - day.regions[name].stops == pytest.approx(log2(lake), abs=0.01)
    assert levels(SceneControls(lake=lake), 50.0).sky == pytest.approx(lake * levels(SceneControls(), 50.0).sky)


def test_the_lamp_as_a_key_gives_the_sitter_what_the_lake_gives() -> None:
    day, night = seen(), seen(lake=0.0, lamp=True, lamp_at="key")
    assert night.skin.scene[1] == pytest.approx(0.955 / 0.9863 * day.skin.scene[1], rel=0.06)  # its colour is warmer
    assert night.regions["sky"].stops < day.regions["sky"].stops - 4.0


@pytest.mark.parametrize(("power", "distance", "stops"), [(0.5, 2.0, -1.0), (1.0, 4.0, -2.0), (0.25, 1.0, 0.0)])
def test_a_key_goes_by_its_power_and_the_inverse_square(power: float, distance: float, stops: float) -> None:
    full = seen(lake=0.0, lamp=True, lamp_at="key")
    moved = seen(lake=0.0, lamp=True, lamp_at="key", lamp_power=power, lamp_distance=distance)
    assert moved.skin.stops - full.skin.stops == pytest.approx(stops, abs=1e-3)


def test_a_key_adds_to_the_lake_on_the_lit_side_alone() -> None:
    without, lit = seen(lake=0.25), seen(lake=0.25, lamp=True, lamp_at="key")
    assert lit.skin.stops - without.skin.stops == pytest.approx(log2(5.0), abs=0.15)
    gained = lit.regions["shade-cheek"].stops - without.regions["shade-cheek"].stops
    assert 0.0 <= gained < 1.0 and lit.key_over_fill > without.key_over_fill + 1.0


def test_the_lamp_over_the_bench_does_not_move() -> None:
    far = SceneControls(lamp=True, lamp_distance=8.0, clouds=False)
    assert levels(far, 0.0).lamp == 1.0


def test_an_address_arranges_it() -> None:
    asked = {"doors": "shut", "lake": "0.2", "lamp": "0.5", "lamp_at": "key", "distance": "1.5"}
    made = parse("boathouse", asked, FeedOptions())
    assert (made.doors, made.lake, made.lamp, made.lamp_power) == ("shut", 0.2, True, 0.5)
    assert (made.lamp_at, made.lamp_distance) == ("key", 1.5)


@pytest.mark.parametrize(
    ("key", "value", "says"),
    [
        ("doors", "ajar", "open or shut"), ("lamp_at", "sky", "bench or key"),
        ("distance", "0", "distance=0"), ("lake", "-1", "lake=-1"),
    ],
)  # fmt: skip
def test_what_cannot_be_arranged_is_refused(key: str, value: str, says: str) -> None:
    with pytest.raises(UsageError, match=says):
        parse("boathouse", {key: value}, FeedOptions())
