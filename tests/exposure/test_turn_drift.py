"""Slow changes of light on made-up maps, with the rate and the time to the clip as parameters."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.exposure.turn_drift import KEPT_POINTS
from analysis.model.light import COLUMNS, ROWS
from analysis.model.turn import Turn
from tests.exposure.turn_film import Film, Moment
from tests.exposure.turn_maps import Run, body_and_face, room
from tests.exposure.turn_runs import turns_of


def drift(
    a_minute: float,
    seconds: float,
    where: np.ndarray | float = 1.0,
    rest: float = 0.0,
    run: Run | None = None,
    clip: float = 6.0,
) -> tuple[Run, list[Turn]]:
    """Some light that goes so many stops a minute for so long, three seconds of rest before and ``rest`` after."""
    run = run or Run(rate=5.0)
    light, told = room(), list[Turn]()
    told += run.show(light, 3.0, clip=clip)
    for number in range(round(run.rate * seconds)):
        told += run.show(light + where * (a_minute / 60.0 * (number + 1) / run.rate), 1.0 / run.rate, clip=clip)
    told += run.show(light + where * (a_minute / 60.0 * seconds), rest, clip=clip)
    return run, told


@pytest.mark.parametrize("rate", [0.4, -0.8, 2.0, -6.0, 10.0])
def test_a_drift_is_told_once_with_its_rate_and_no_steps(rate: float) -> None:
    _, told = drift(rate, max(12.0, 40.0 / abs(rate)))
    assert [each.kind for each in told] == ["drift"]
    assert told[0].drift is not None and told[0].drift.of == "whole" and told[0].drift.stage == "begun"
    assert told[0].drift.stops_a_minute == pytest.approx(rate, rel=0.15)


def test_dusk_is_a_drift() -> None:
    _, told = drift(-0.06, 330.0, run=Run(rate=2.0))
    assert told and told[0].drift is not None
    assert told[0].drift.stops_a_minute == pytest.approx(-0.06, rel=0.25)


@pytest.mark.parametrize("rate", [1.2, -6.0])
def test_the_end_is_told_with_the_whole_amount_and_time(rate: float) -> None:
    seconds = 90.0 / abs(rate)
    _, told = drift(rate, seconds, rest=30.0)
    assert [each.drift.stage for each in told if each.drift] == ["begun", "ended"]
    end = told[-1]
    assert end.stops == pytest.approx(rate / 60.0 * seconds, abs=0.1)
    assert end.seconds == pytest.approx(seconds, abs=4.0)


def test_when_the_brightest_clips() -> None:
    light = room()
    brightest = float(np.sort(light.ravel())[-4])
    clip = brightest + 1.5
    _, told = drift(1.0, 75.0, clip=clip)
    rates = [each.drift for each in told if each.drift is not None]
    # Begun after the first 12 seconds with some 78 left, told again when the clip was less than a minute away.
    assert rates[0].seconds_to_clip == pytest.approx(78.0, abs=8.0)
    assert rates[1].stage == "changed" and rates[1].seconds_to_clip == pytest.approx(58.0, abs=4.0)


def test_falling_light_clips_nothing() -> None:
    _, told = drift(-1.0, 30.0)
    assert told[0].drift is not None and told[0].drift.seconds_to_clip is None


def test_the_view_through_the_window_alone() -> None:
    window = np.zeros((ROWS, COLUMNS))
    window[2:14, 2:18] = 1.0
    light = room()
    light[2:14, 2:18] = 2.5 + 0.3 * room(9)[2:14, 2:18]
    run = Run(rate=5.0)
    told = run.show(light, 3.0)
    for number in range(150):
        told += run.show(light + window * (1.5 / 60.0 * number / 5.0), 0.2)
    assert [each.kind for each in told] == ["drift"]
    assert told[0].drift is not None and told[0].drift.of == "background"
    assert told[0].drift.stops_a_minute == pytest.approx(1.5, rel=0.2)
    assert abs(told[0].sitter_stops or 0.0) < 0.05


def test_everything_but_the_sitter_is_of_the_background() -> None:
    _, told = drift(1.2, 25.0, where=~body_and_face())
    assert told[0].drift is not None and told[0].drift.of == "background"


def test_a_lamp_that_warms_up_is_of_the_sitter() -> None:
    _, told = drift(1.2, 25.0, where=body_and_face())
    assert told[0].drift is not None and told[0].drift.of == "sitter"
    assert told[0].drift.stops_a_minute == pytest.approx(1.2, rel=0.2)


def test_a_step_in_the_middle_is_a_turn_of_its_own_and_no_part_of_the_drift() -> None:
    run, light = Run(rate=5.0), room()
    told = run.show(light, 3.0)
    for number in range(200):
        now = number / 5.0
        told += run.show(light + 0.8 / 60.0 * now - (1.0 if now > 20.0 else 0.0), 0.2)
    assert [each.kind for each in told] == ["drift", "whole"]
    assert told[0].drift is not None and told[0].drift.stops_a_minute == pytest.approx(0.8, rel=0.2)
    assert told[1].stops == pytest.approx(-1.0, abs=0.1)


def test_another_rate_is_told_anew() -> None:
    run, light = Run(rate=5.0), room()
    told = run.show(light, 3.0)
    gone = 0.0
    for number in range(400):
        gone += (0.8 if number < 200 else 3.0) / 300.0
        told += run.show(light + gone, 0.2)
    stages = [(each.drift.stage, round(each.drift.stops_a_minute)) for each in told if each.drift is not None]
    assert stages[0] == ("begun", 1) and stages[-1] == ("changed", 3)
    assert len(stages) <= 4


def test_light_that_wavers_is_no_drift() -> None:
    run, light = Run(rate=5.0), room()
    for number in range(500):
        run.show(light + 0.08 * np.sin(2.0 * np.pi * number / 5.0 / 23.0), 0.2)
    assert not run.told


def test_what_is_remembered_is_bounded() -> None:
    run, light = Run(rate=2.0), room()
    run.show(light, 350.0)
    assert len(run.state.drift.points) <= KEPT_POINTS
    assert not run.told


@pytest.mark.parametrize(("change", "of"), [("whole", "whole"), ("ground", "background")])
def test_a_sitter_who_sways_drifts_with_the_ground_or_does_not(change: str, of: str) -> None:
    """Before the lake the face is lit differently from look to look."""

    def story(now: float) -> Moment:
        lean = round(14 * math.sin(1.7 * now + 1.0)), round(6 * math.sin(2.3 * now))
        return Moment(lean=lean, **{change: -1.5 / 60.0 * max(0.0, now - 3.0)})

    told = [each for _, each in turns_of(Film(story, "bt709"), 22.0, 5.0)]
    assert [each.drift.of for each in told if each.drift is not None] == [of] and len(told) == 1


def test_what_was_told_as_a_drift_is_not_told_as_a_turn_too() -> None:
    _, told = drift(-30.0, 4.0, rest=8.0)
    assert len({each.kind for each in told}) == 1
