"""Turns on made-up maps: what the recogniser holds to, whatever the picture."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.exposure.turn import KEPT_LOOKS, REMEMBERED
from analysis.exposure.turn_compare import compare, look_at, most_common, shift_between, shifted, structure_kept
from analysis.exposure.turn_region import changed_region
from analysis.exposure.turn_unseen import unseen_change
from analysis.exposure.turn_zones import light_in, zones_of
from analysis.model.light import COLUMNS, ROWS, SeenSitter
from tests.exposure.turn_maps import FACE, SITTER, Run, body_and_face, room, seen


@settings(deadline=None, max_examples=15)
@given(stops=st.floats(0.3, 4.0), up=st.booleans(), seed=st.integers(0, 1000))
def test_whatever_the_room_one_amount_everywhere_is_the_whole_picture(stops: float, up: bool, seed: int) -> None:
    amount = stops if up else -stops
    run, light = Run(), room(seed)
    assert not run.show(light, 1.5)
    (told,) = run.show(light + amount, 1.5)
    assert told.kind == "whole" and told.stops == pytest.approx(amount, abs=0.05)


@settings(deadline=None, max_examples=10)
@given(stops=st.floats(0.3, 3.0), up=st.booleans(), seed=st.integers(0, 1000))
def test_the_sitter_alone_and_all_but_the_sitter(stops: float, up: bool, seed: int) -> None:
    amount = stops if up else -stops
    cells = body_and_face()
    for where, kind in ((cells, "sitter"), (~cells, "background")):
        run, light = Run(), room(seed)
        run.show(light, 1.5)
        (told,) = run.show(light + amount * where, 2.5)
        assert told.kind == kind and told.stops == pytest.approx(amount, abs=0.1)


def test_light_that_comes_back_is_no_turn() -> None:
    run, light = Run(), room()
    run.show(light, 1.5)
    run.show(light - 2.0, 0.3)
    run.show(light, 2.0)
    assert not run.told


def test_there_and_back_are_two_turns() -> None:
    run, light = Run(), room()
    for amount in (0.0, 1.0, 0.0):
        run.show(light + amount, 2.0)
    assert [round(each.stops, 1) for each in run.told] == [1.0, -1.0]


def test_everything_gone_beyond_the_clip_is_at_least_so_much() -> None:
    run, light = Run(), room()
    run.show(light, 1.5)
    (told,) = run.show(light + 12.0, 1.5)
    assert told.kind == "whole" and told.at_least
    assert 8.0 <= told.stops <= 12.0
    run.show(light, 1.5)
    assert run.told[-1].at_least and run.told[-1].stops < -8.0


def test_unseen_needs_most_of_the_picture() -> None:
    light = room()
    half = light + np.where(np.arange(COLUMNS) < COLUMNS // 2, 12.0, 0.0)
    assert unseen_change(look_at(seen(light, 0.0), ()), look_at(seen(half, 1.0), ())) is None


def test_a_thing_put_down_is_no_light_and_a_lit_wall_is() -> None:
    light = room()
    thing, lit = light.copy(), light.copy()
    thing[3:13, 2:14] = room(7)[3:13, 2:14] + 1.5
    lit[3:13, 2:14] += 1.5
    before = look_at(seen(light, 0.0), ())
    assert changed_region(before, look_at(seen(thing, 1.0), ()), 0.0) is None
    found = changed_region(before, look_at(seen(lit, 1.0), ()), 0.0)
    assert found is not None and found.stops == pytest.approx(1.5, abs=0.05)
    assert found.share == pytest.approx(120 / (ROWS * COLUMNS), abs=0.02)


def test_a_lit_wall_without_a_sitter_is_a_part() -> None:
    run, light = Run(), room()
    run.show(light, 1.5, sitters=())
    lit = light.copy()
    lit[3:13, 2:14] += 1.5
    (told,) = run.show(lit, 2.5, sitters=())
    assert told.kind == "part" and told.stops == pytest.approx(1.5, abs=0.05) and told.sitter_stops is None


def test_a_lamp_that_reaches_the_ground_unevenly_is_told_by_the_middle_of_it() -> None:
    run, light = Run(), room()
    run.show(light, 1.5)
    spill = np.where(np.arange(COLUMNS) < 0.3 * COLUMNS, 0.0, np.linspace(0.4, 1.6, COLUMNS))
    lit = light + np.where(body_and_face(), 2.0, spill)
    (told,) = run.show(lit, 2.5)
    assert told.kind == "mixed" and told.sitter_stops == pytest.approx(2.0, abs=0.1)
    ground = spill[None, :].repeat(ROWS, 0)[zones_of(SITTER).ground]
    assert told.background_stops == pytest.approx(float(np.median(ground)), abs=0.1)


def test_a_view_moved_by_cells_is_found_again() -> None:
    one = look_at(seen(room(), 0.0), SITTER)
    two = look_at(seen(np.roll(room(), (2, -4), (0, 1)), 1.0), SITTER)
    down, right, fit = shift_between(one.light, two.light)
    assert (down, right) == (2, -4) and fit > 0.9
    assert compare(shifted(one, down, right), two).kept > 0.8  # type: ignore[operator]
    assert compare(one, two).kept < 0.4  # type: ignore[operator]


def test_structure_does_not_change_with_light_and_does_with_the_picture() -> None:
    one, two, other = seen(room(), 0.0), seen(room() + 2.0, 1.0), seen(room(5), 2.0)
    kept = structure_kept(one, two, one.trusted & two.trusted)
    assert kept is not None and kept > 0.9
    assert (structure_kept(one, other, one.trusted & other.trusted) or 0.0) < 0.3
    flat = seen(np.zeros((ROWS, COLUMNS)), 0.0)
    assert structure_kept(flat, flat, flat.trusted) is None


def test_the_commonest_change_needs_cells_and_minds_no_others() -> None:
    assert most_common(np.zeros(5, np.float32)) is None
    mixed = np.concatenate([np.full(60, 0.37), np.linspace(-3.0, 3.0, 60)]).astype(np.float32)
    assert most_common(mixed) == pytest.approx(0.37, abs=0.02)


def test_zones_and_light_within_a_box() -> None:
    zones = zones_of(SITTER)
    assert not (zones.face & zones.body).any() and not (zones.face & zones.ground).any()
    assert zones_of(()).ground.all()
    tiny = zones_of((SeenSitter(box=(0.501, 0.301, 0.002, 0.004)),))
    assert tiny.face.sum() == 1
    even = seen(np.full((ROWS, COLUMNS), 1.0), 0.0)
    lit = light_in(even, FACE)
    assert lit is not None and lit.stops == pytest.approx(1.0, abs=0.02) and lit.end == 0
    bright = light_in(seen(np.full((ROWS, COLUMNS), 9.0), 0.0), FACE)
    assert bright is not None and bright.end == 1
    assert light_in(even, (1.2, 0.1, 0.1, 0.1)) is None


def test_another_life_of_the_feed_and_a_gap_begin_afresh() -> None:
    run, light = Run(), room()
    run.show(light, 2.0)
    assert not run.show(light + 1.0, 2.0, generation=2)
    run.now += 5.0
    assert not run.show(light - 1.0, 2.0, generation=2)


def test_what_is_remembered_is_bounded() -> None:
    run, light = Run(rate=60.0), room()
    run.show(light, 8.0)
    assert len(run.state.looks) <= KEPT_LOOKS and len(run.state.stills) <= REMEMBERED


@pytest.mark.parametrize("rate", [4.0, 8.0, 12.0, 25.0])
def test_how_often_maps_come_changes_nothing(rate: float) -> None:
    run, light = Run(rate), room()
    run.show(light, 2.0)
    (told,) = run.show(light - 1.0, 3.0)
    assert told.kind == "whole" and told.stops == pytest.approx(-1.0, abs=0.05)
    assert abs(told.at.monotonic - 2.0) <= 1.5 / rate + 0.05 and told.seconds <= 1.0 / rate + 0.1
