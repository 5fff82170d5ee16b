"""Where the headroom is heading: against SciPy's Theil-Sen, with noise, hands, clouds, gaps."""

from __future__ import annotations

import math
import random

import msgspec
import numpy as np
import pytest

from analysis.alarm.trend import MOST_MINUTES, Trend, minutes_left, noted
from tests.alarm.timeline import at


def fed(values: list[float | None], *, every: float = 5.0, trend: Trend | None = None, start: float = 0.0) -> Trend:
    trend = trend or Trend()
    for number, value in enumerate(values):
        trend = noted(trend, value, at(start + number * every))
    return trend


def test_a_straight_fall_is_foretold_exactly() -> None:
    """From 2 stops, 0.01 stop a second: after 120 s there are 0.8 stops left, which is 80 s."""
    trend = fed([2.0 - 0.01 * second for second in range(0, 121, 5)])
    assert minutes_left(trend) == pytest.approx(80 / 60, rel=1e-9)
    assert minutes_left(trend, floor=0.3) == pytest.approx(50 / 60, rel=1e-9)


def test_the_slope_is_theil_and_sens() -> None:
    """The reference: scipy.stats.theilslopes (Theil 1950, Sen 1968), median intercept, where SciPy is there."""
    stats = pytest.importorskip("scipy.stats")
    for seed in range(20):
        dice = random.Random(seed)
        values = [1.5 - 0.004 * second + dice.gauss(0, 0.02) for second in range(0, 200, 5)]
        trend = fed(list(values))
        slope, _, _, _ = stats.theilslopes(trend.values, trend.times)
        residual = np.median(np.asarray(trend.values) - slope * np.asarray(trend.times))
        expected = (residual + slope * trend.times[-1]) / -slope / 60
        assert minutes_left(trend) == pytest.approx(min(MOST_MINUTES, expected), rel=1e-9)


@pytest.mark.parametrize(
    "values",
    [
        [1.5] * 40,
        [1.0 + 0.005 * n for n in range(40)],
        [0.0] * 40,
        [1.5 + 0.05 * (n % 2) for n in range(40)],
    ],
    ids=["level", "rising", "clipping all the time", "jittering"],
)
def test_what_does_not_fall_is_not_in_sight_of_the_end(values: list[float | None]) -> None:
    assert minutes_left(fed(values)) == MOST_MINUTES


@pytest.mark.parametrize("period", [20.0, 45.0, 90.0, 150.0])
def test_light_that_swings_is_no_trend(period: float) -> None:
    """Passing clouds: a stop up and down. Nothing is foretold whenever one looks."""
    trend, least = Trend(), MOST_MINUTES
    for second in range(0, 1800, 5):
        trend = noted(trend, 1.2 + 0.5 * math.sin(2 * math.pi * second / period), at(second))
        if second >= 240:
            least = min(least, minutes_left(trend) or 0.0)
    assert least == MOST_MINUTES


def test_a_hand_before_the_lens_does_not_bend_it() -> None:
    clean: list[float | None] = [2.0 - 0.005 * second for second in range(0, 241, 5)]
    passed: list[float | None] = list(clean)
    for n in (20, 21, 22):
        passed[n] = 4.0
    assert minutes_left(fed(passed)) == pytest.approx(minutes_left(fed(clean)), rel=0.05)


def test_too_little_is_known_at_first_and_after_a_gap() -> None:
    fall: list[float | None] = [2.0 - 0.01 * second for second in range(0, 121, 5)]
    assert minutes_left(Trend()) is None
    assert minutes_left(fed(fall[:17])) is None
    known = fed(fall)
    assert minutes_left(known) is not None
    after = noted(known, 0.5, at(120.0 + 21.0))
    assert after.times == (141.0,)
    assert minutes_left(after) is None


def test_missing_values_change_nothing() -> None:
    trend = fed([2.0, None, float("nan"), float("inf")])
    assert (trend.times, trend.values) == ((0.0,), (2.0,))


def test_one_sample_is_kept_for_five_seconds_and_it_is_the_lowest() -> None:
    trend = Trend()
    for frame in range(25 * 600):
        trend = noted(trend, 1.0 + (frame % 7) / 10, at(frame / 25))
    assert len(trend.times) <= 50, "ten minutes at 25 pictures a second stay this small"
    assert set(trend.values) == {1.0}
    assert trend.times[-1] - trend.times[0] <= trend.settings.span


def test_once_it_fell_to_the_end_it_is_the_end_until_that_is_old_news() -> None:
    fall: list[float | None] = [max(0.0, 1.0 - 0.01 * second) for second in range(0, 106, 5)]
    assert minutes_left(fed(fall)) == pytest.approx(0.0, abs=0.05)
    later = fed([0.0] * 60, trend=fed(fall), start=110.0)
    assert minutes_left(later) == MOST_MINUTES


def test_a_trend_survives_a_restart_as_data() -> None:
    trend = fed([2.0 - 0.01 * second for second in range(0, 121, 5)])
    assert msgspec.json.decode(msgspec.json.encode(trend), type=Trend) == trend
