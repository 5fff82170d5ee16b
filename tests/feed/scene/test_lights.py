"""Weather and movement: slow, bounded, and a pure function of seed and time."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.feed.scene.controls import SceneControls
from analysis.feed.scene.lights import BREAK_EVERY, FIRST_BREAK, LUMINANCE, colours, levels, sway

HOUR = np.arange(0.0, 3600.0, 0.5)


@given(seed=st.integers(0, 2**32 - 1), seconds=st.floats(0.0, 1e6))
def test_levels_are_bounded_and_repeatable(seed: int, seconds: float) -> None:
    controls = SceneControls(seed=seed)
    now = levels(controls, seconds)
    assert 0.85 < now.sky < 1.15
    assert 0.0 <= now.sun <= 1.0
    assert now.lamp == 0.0
    assert now == levels(controls, seconds)


@given(seed=st.integers(0, 1000), seconds=st.floats(0.0, 1e5))
def test_light_never_jumps(seed: int, seconds: float) -> None:
    controls = SceneControls(seed=seed)
    one, two = levels(controls, seconds), levels(controls, seconds + 0.04)
    assert abs(two.sky / one.sky - 1.0) < 0.002
    assert abs(two.sun - one.sun) <= 0.04 / 3.0 + 1e-9


@pytest.mark.parametrize("seed", [1, 2, 77])
def test_the_sun_breaks_through_once_every_few_minutes(seed: int) -> None:
    sun = np.array([levels(SceneControls(seed=seed), t).sun for t in HOUR])
    rises = np.count_nonzero((sun[1:] > 0.5) & (sun[:-1] <= 0.5))
    assert 17 <= rises <= 22
    assert 0.05 < np.mean(sun > 0.5) < 0.12
    longest = max(len(run) for run in "".join("x" if s > 0.5 else " " for s in sun).split())
    assert 12.0 <= longest / 2.0 <= 20.0


def test_the_first_break_comes_within_a_minute() -> None:
    first = next(t for t in HOUR if levels(SceneControls(), t).sun > 0.5)
    assert FIRST_BREAK <= first < 60.0 < BREAK_EVERY


def test_seeds_make_different_weather() -> None:
    days = {tuple(round(levels(SceneControls(seed=s), t).sky, 6) for t in (1.0, 50.0)) for s in range(20)}
    assert len(days) == 20


@pytest.mark.parametrize("sun,expected", [("on", 1.0), ("off", 0.0), ("auto", 0.0)])
def test_without_clouds_the_light_stands_still(sun: str, expected: float) -> None:
    controls = SceneControls(clouds=False, sun=sun)  # type: ignore[arg-type]
    assert {levels(controls, t) for t in (0.0, 50.0, 1e4)} == {levels(controls, 0.0)}
    assert levels(controls, 0.0).sun == expected
    assert levels(controls, 0.0).sky == 1.0


@pytest.mark.parametrize("sun,expected", [("on", {1.0}), ("off", {0.0})])
def test_the_sun_can_be_held_under_clouds(sun: str, expected: set[float]) -> None:
    controls = SceneControls(sun=sun)  # type: ignore[arg-type]
    assert {levels(controls, float(t)).sun for t in range(300)} == expected


def test_lamp() -> None:
    assert levels(SceneControls(lamp=True, lamp_power=0.7), 0.0).lamp == 0.7
    assert levels(SceneControls(lamp=False, lamp_power=0.7), 0.0).lamp == 0.0


def test_turns_change_all_light_at_once_and_stay() -> None:
    controls = SceneControls(clouds=False, sun="on", lamp=True, turns=((8.0, -2.0), (20.0, 3.0)))
    for seconds, factor in ((7.9, 1.0), (8.0, 0.25), (19.9, 0.25), (20.0, 2.0), (500.0, 2.0)):
        light = levels(controls, seconds)
        assert (light.sky, light.sun, light.lamp) == pytest.approx((factor, factor, factor))


def test_the_lamp_is_switched_at_its_times() -> None:
    for begins in (False, True):
        controls = SceneControls(clouds=False, lamp=begins, switch=(10.0, 30.0))
        lit = [levels(controls, seconds).lamp > 0.0 for seconds in (0.0, 9.9, 10.0, 29.9, 30.0)]
        assert lit == [begins, begins, not begins, not begins, begins]


@pytest.mark.parametrize("height", [180, 720, 1080])
def test_sway_is_small_and_steady(height: int) -> None:
    moves = np.array([sway(SceneControls(), t, height) for t in np.arange(0.0, 60.0, 0.04)])
    assert np.abs(moves).max() <= 0.006 * height + 1
    assert np.abs(np.diff(moves, axis=0)).max() <= 1 + height // 1000
    assert len(np.unique(moves, axis=0)) > 2
    assert sway(SceneControls(sway=False), 3.0, height) == (0, 0)


def test_every_light_has_luminance_one() -> None:
    """A card's true level is its reflectance times the strength of the light (BT.709-6 item 3.2 weights)."""
    for tint in colours().values():
        assert float(tint @ LUMINANCE) == pytest.approx(1.0, abs=1e-6)
