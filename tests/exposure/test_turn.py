"""Turns on rendered film: the change is a parameter of the light before the camera, and must be told as it was.

The whole grid is ``python -m tests.exposure.turn_rates``; here are some of its cases and the pictures without a turn.
"""

from __future__ import annotations

import math

import pytest

from analysis.exposure import turn
from tests.exposure.turn_film import Film, Moment, ramp
from tests.exposure.turn_runs import TOLD_AS, Case, steady_stories, try_case, turns_of

CASES = [
    Case(kind="whole", stops=1 / 3),
    Case(kind="whole", stops=-1 / 3, curve="bt709", seconds=0.4),
    Case(kind="whole", stops=-4.0, noise=False),
    Case(kind="whole", stops=4.0, curve="hlg", bits=10),
    Case(kind="iso", stops=1.0, curve="pq", bits=10),
    Case(kind="sitter", stops=-0.5, curve="cineon"),
    Case(kind="sitter", stops=3.0, bits=10, seconds=1.0),
    Case(kind="key", stops=1.0),
    Case(kind="ground", stops=2 / 3, curve="bt709", bits=10),
    Case(kind="ground", stops=-3.0),
    Case(kind="window", stops=1.5, curve="hlg", seconds=0.4),
]


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.kind} {case.stops:+.2f} {case.curve} {case.bits}")
def test_a_turn_is_told_once_by_its_kind_within_a_tenth_of_a_stop(case: Case) -> None:
    outcome = try_case(case, 5.8)
    assert outcome.told == TOLD_AS[case.kind], outcome.turns
    assert outcome.error is not None and abs(outcome.error) <= 0.1
    told = outcome.turns[0]
    assert abs(told.at.monotonic - 3.03) <= 0.8
    assert abs(told.seconds - case.seconds) <= 0.45


@pytest.mark.parametrize("kind", ["whole", "sitter", "ground"])
def test_a_slow_pull_is_one_turn(kind: str) -> None:
    outcome = try_case(Case(kind=kind, stops=-1.5, seconds=3.0), 8.0)
    assert outcome.told == TOLD_AS[kind]
    assert abs(outcome.error or 1.0) <= 0.1
    assert 2.5 <= outcome.turns[0].seconds <= 3.5


@pytest.mark.parametrize("kind", ["whole", "key"])
def test_people_who_move_change_nothing(kind: str) -> None:
    outcome = try_case(Case(kind=kind, stops=1.0, people=True, seed=4), 9.0)
    assert outcome.told == TOLD_AS[kind], outcome.turns
    assert abs(outcome.error or 1.0) <= 0.1


def test_a_sitter_who_clips_is_told_as_at_least() -> None:
    case = Case(kind="sitter", stops=4.0, curve="bt709")
    told = try_case(case, 5.5).turns
    assert [each.kind for each in told] == ["sitter"]
    assert told[0].at_least and 1.0 < told[0].stops <= 4.0


@pytest.mark.parametrize("stops", [1.0, -1.0])
def test_a_face_of_which_a_part_clips_is_told_as_at_least_what_is_seen(stops: float) -> None:
    """The key takes the lit side out of the range: what is left of a face that moves shows too little of it."""
    outcome = try_case(Case(kind="key", stops=stops, curve="bt709", people=True, seed=3), 7.0)
    assert outcome.told == "sitter" and outcome.turns[0].at_least
    assert abs(outcome.error or 0.0) <= 0.1


def test_both_by_different_amounts() -> None:
    def story(now: float) -> Moment:
        return Moment(sitter=1.5, ground=-0.7) if now > 2.5 else Moment()

    (_, told), *more = turns_of(Film(story), 5.0)
    assert not more and told.kind == "mixed"
    assert told.sitter_stops == pytest.approx(1.5, abs=0.1)
    assert told.background_stops == pytest.approx(-0.7, abs=0.1)


def test_a_practical_lamp_and_the_sun_are_of_the_background() -> None:
    for change in ({"lamp": 1.0}, {"sun": 1.0}):
        told = [each for _, each in turns_of(Film(lambda now, c=change: Moment(**c) if now > 2.5 else Moment()), 5.0)]
        assert [each.kind for each in told] == ["background"] and told[0].stops > 0.3


def test_a_cut_to_other_shots() -> None:
    def story(now: float) -> Moment:
        return Moment(shot=0 if now < 2.5 else 1 if now < 5.0 else 2)

    told = [each for _, each in turns_of(Film(story), 7.5)]
    assert [each.kind for each in told] == ["cut", "cut"]
    assert [round(each.at.monotonic, 1) for each in told] == [2.4, 4.9]


def test_the_same_view_after_a_hand_passed_is_no_cut_and_a_filter_put_in_behind_it_is_told() -> None:
    def story(now: float) -> Moment:
        hidden = 1.0 - abs(now - 3.5) if 2.5 < now < 4.5 else 0.0
        return Moment(cover=hidden, whole=-1.0 if now > 3.5 else 0.0)

    told = [each for _, each in turns_of(Film(story), 7.0)]
    assert [each.kind for each in told] == ["whole"]
    assert told[0].stops == pytest.approx(-1.0, abs=0.1)


def test_a_hand_that_stays_before_the_lens_is_waited_for() -> None:
    told = turns_of(Film(lambda now: Moment(cover=1.0 if 2.5 < now < 5.0 else 0.0)), 7.0)
    assert not told


@pytest.mark.parametrize("name", [name for name in steady_stories() if name not in {"nothing moves", "sitter sways"}])
def test_no_turn_where_exposure_stays(name: str) -> None:
    story, how = steady_stories()[name]
    assert not turns_of(Film(story, **how), 5.0, 8.0)


def test_a_ceiling_that_is_only_found_later_makes_no_turn() -> None:
    film, state, told = Film(lambda now: Moment(whole=4.5)), turn.begin(), []
    for number in range(50):
        frame = film.frame(number / 10.0, number)
        clip = 100.0 if number < 20 else film.end()
        light = film.map_of(frame, clip)
        state, turns = turn.step(state, light, film.sitters(Moment()), frame.instant)
        told += turns
    assert not told


def test_a_step_is_told_right_while_the_ceiling_is_not_known() -> None:
    step = ramp(2.5, 0.0, 2.0)
    told = turns_of(Film(lambda now: Moment(whole=2.5 + step(now))), 5.0, clip=100.0)
    assert [each.kind for _, each in told] == ["whole"]
    assert told[0][1].stops == pytest.approx(2.0, abs=0.1)


def test_a_beat_that_is_known_raises_what_is_told() -> None:
    def story(now: float) -> Moment:
        return Moment(whole=0.15 * math.sin(2.0 * math.pi * 0.4 * now) - (1.0 if now > 3.0 else 0.0))

    told = turns_of(Film(story), 7.0, restless=0.3)
    assert [each.kind for _, each in told] == ["whole"]
    assert told[0][1].stops == pytest.approx(-1.0, abs=0.2)
