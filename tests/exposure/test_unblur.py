"""What noise spread is gathered again: against spreads made here from known scenes by drawing noise."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.exposure.crushed import Grain
from analysis.exposure.unblur import CHANNEL, Unblurred, noisy_light
from analysis.model.reading import StopsSpread
from analysis.signal.curves import MIDDLE_GREY, curve

LOW, STEP = -6.0, 1.0 / 32.0
GRAIN = Grain(shot=2e-4, read=1e-6)


def spread(light: np.ndarray) -> StopsSpread:
    stops = np.log2(np.maximum(light, 1e-9) / MIDDLE_GREY)
    edges = LOW + STEP * np.arange(1, 400)
    counts = np.bincount(np.searchsorted(edges, stops), minlength=400) * (100.0 / light.size)
    return StopsSpread(low=LOW, step=STEP, counts=tuple(counts.tolist()))


def noisy(light: np.ndarray) -> np.ndarray:
    sigma = CHANNEL * np.sqrt(GRAIN.shot * light + GRAIN.read)
    return light + sigma * np.random.default_rng(7).standard_normal(light.size)


def test_an_edge_that_noise_blurred_is_sharp_again() -> None:
    light = MIDDLE_GREY * 2.0 ** np.concatenate([np.full(80000, -3.6), np.full(20000, -3.0)])
    table = Unblurred(spread(noisy(light)), GRAIN)
    at = np.array([-3.4])
    as_is = 100.0 * np.mean(noisy(light) >= MIDDLE_GREY * 2.0**-3.4)
    change = float(table.change(at, np.array([8.0]))[0])
    assert abs(as_is - 20.0) > 3.0  # the noise matters
    assert abs(as_is + change - 20.0) < 0.4 * abs(as_is - 20.0)


def test_gain_alone_changes_nothing() -> None:
    light = MIDDLE_GREY * 2.0 ** np.linspace(-5.0, 0.0, 20000)
    table = Unblurred(spread(noisy(light)), GRAIN)
    at = np.linspace(-5.0, 0.0, 11)
    assert table.change(at, np.zeros(11)) == pytest.approx(np.zeros(11))
    assert table.change(at, np.full(11, -2.0)) == pytest.approx(np.zeros(11))


@pytest.mark.parametrize(("table", "grain"), [(None, GRAIN), (spread(np.full(10, 0.1)), None)])
def test_without_a_table_or_noise_nothing_is_changed(table: StopsSpread | None, grain: Grain | None) -> None:
    assert Unblurred(table, grain).change(np.array([-3.0]), np.array([4.0])) == pytest.approx([0.0])


def test_the_light_that_had_a_noise_is_told_on_a_straight_toe_alone() -> None:
    """BT.709-6 item 1.2: V = 4.5 L below 0.018, so 1 IRE is 0.00222 of light."""
    assert noisy_light(1.5, 1.0, curve("bt709")) == pytest.approx(1.5 * 0.01 / 4.5, rel=0.05)
    assert noisy_light(1.5, 1.0, curve("hlg")) is None
    assert noisy_light(1.5, 1.0, curve("acescc")) is None


def test_an_edge_in_noise_is_in_doubt_and_the_truth_lies_within() -> None:
    light = MIDDLE_GREY * 2.0 ** np.concatenate([np.full(80000, -3.6), np.full(20000, -3.0)])
    table = Unblurred(spread(noisy(light)), GRAIN)
    at, more, fine = np.array([-3.4]), np.array([8.0]), np.array([0.001])
    told = 100.0 * np.mean(noisy(light) >= MIDDLE_GREY * 2.0**-3.4) + float(table.change(at, more)[0])
    doubt = float(table.doubt(at, more, fine)[0])
    assert abs(told - 20.0) <= doubt < 10.0


def test_doubt_is_where_the_edge_is_and_grows_with_the_code() -> None:
    light = MIDDLE_GREY * 2.0 ** np.concatenate([np.full(80000, -3.6), np.full(20000, -3.0)])
    table, gain = Unblurred(spread(light), None), np.zeros(2)
    at = np.array([-3.0, -1.0])
    narrow, wide = table.doubt(at, gain, np.full(2, 0.02)), table.doubt(at, gain, np.full(2, 0.08))
    assert narrow[1] == wide[1] == pytest.approx(0.0)
    assert wide[0] == pytest.approx(4.0 * narrow[0]) and narrow[0] > 0.1


def test_light_below_the_clip_with_room_is_in_no_doubt() -> None:
    light = MIDDLE_GREY * 2.0 ** np.linspace(-5.0, 0.0, 20000)
    table = Unblurred(spread(light), GRAIN)
    assert table.doubt(np.array([2.0]), np.array([3.0]), np.array([0.05])) == pytest.approx([0.0], abs=1e-9)
