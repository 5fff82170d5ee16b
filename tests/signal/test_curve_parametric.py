"""The parametric log must become any published curve of its family, and come back exactly."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.signal.curves import curve
from analysis.signal.curves.parametric import LARGEST_STEP, ParametricLog

# Academy S-2016-001 section 4, as numbers of the form a*log2(b*x + c) + d over e*x + f.
ACESCCT = ParametricLog(
    base=2.0, slope=1 / 17.52, gain=1.0, shift=0.0, lift=9.72 / 17.52,
    cut=0.0078125, toe_slope=10.5402377416545, toe_lift=0.0729055341958355,
)  # fmt: skip
LIGHT = np.concatenate((np.linspace(-0.05, 0.05, 2001), np.geomspace(0.05, 100.0, 2000)))


def test_acescct_by_its_numbers() -> None:
    np.testing.assert_allclose(ACESCCT.encode(LIGHT), curve("acescct").encode(LIGHT), atol=1e-12)
    signal = np.linspace(-0.07, 1.1, 4001)
    np.testing.assert_allclose(ACESCCT.decode(signal), curve("acescct").decode(signal), rtol=1e-9, atol=1e-12)


@pytest.mark.parametrize("light,v", [(0.0, 0.0729055), (0.01, 0.1755790), (0.18, 0.4135884), (1.0, 0.5547945)])
def test_published_values_of_acescct(light: float, v: float) -> None:
    """Academy S-2016-001, values computed from its text."""
    assert float(ACESCCT.encode(np.array(light))) == pytest.approx(v, abs=6e-8)


def test_cineon_by_its_numbers_with_the_tangent_below_black() -> None:
    """Cineon printing density: black 95, white 685, 300 codes a decade; 18 % is 467.8 of 1023 (computed)."""
    k = 10.0 ** ((95 - 685) / 300)
    made = ParametricLog.with_tangent(slope=300 / 1023, gain=1 - k, shift=k, lift=685 / 1023, cut=0.0)
    np.testing.assert_allclose(made.encode(LIGHT), curve("cineon").encode(LIGHT), atol=1e-12)
    assert 1023 * float(made.encode(np.array(0.18))) == pytest.approx(467.8, abs=0.06)


def test_the_tangent_meets_value_and_slope() -> None:
    made = ParametricLog.with_tangent(slope=0.25, gain=5.0, shift=0.05, lift=0.4, cut=0.01)
    at = made.encode(np.array([0.01 - 1e-7, 0.01, 0.01 + 1e-7]))
    assert at[1] - at[0] == pytest.approx(at[2] - at[1], rel=1e-4)
    assert made.at_cut == pytest.approx(float(at[1]))


def test_comes_back_exactly_on_both_sides() -> None:
    made = ParametricLog.with_tangent(slope=0.3, gain=4.0, shift=0.02, lift=0.45, cut=0.005)
    np.testing.assert_allclose(made.decode(made.encode(LIGHT)), LIGHT, rtol=1e-9, atol=1e-12)


@pytest.mark.parametrize("step", [0.0015, -0.0015])
def test_a_rounded_join_never_turns_back(step: float) -> None:
    """Published constants are rounded: the two parts may miss each other a little."""
    plain = ParametricLog.with_tangent(slope=0.25, gain=5.0, shift=0.05, lift=0.4, cut=0.01)
    made = ParametricLog(
        slope=0.25, gain=5.0, shift=0.05, lift=0.4, cut=0.01,
        toe_slope=plain.toe_slope, toe_lift=plain.toe_lift + step,
    )  # fmt: skip
    signal = np.linspace(made.at_cut - 0.01, made.at_cut + 0.01, 2001)
    assert np.all(np.diff(made.decode(signal)) >= 0.0)


@pytest.mark.parametrize(
    "change,says",
    [
        ({"slope": 0.0}, "must be above zero"),
        ({"gain": -1.0}, "must be above zero"),
        ({"base": 1.0}, "above 1"),
        ({"shift": -0.1}, "nothing above zero to work on"),
        ({"toe_slope": 0.0}, "must rise"),
        ({"toe_lift": 0.5}, "at the cut the log gives"),
    ],
)
def test_numbers_that_make_no_curve(change: dict[str, float], says: str) -> None:
    good = {
        "slope": 1 / 17.52, "gain": 1.0, "shift": 0.0, "lift": 9.72 / 17.52, "base": 2.0,
        "cut": 0.0078125, "toe_slope": 10.5402377416545, "toe_lift": 0.0729055341958355,
    }  # fmt: skip
    with pytest.raises(ValueError, match=says):
        ParametricLog(**(good | change))


def test_the_step_that_is_let_pass_is_small() -> None:
    assert LARGEST_STEP <= 0.002, "a fifth of an IRE: less than half a code of 8 bits"


@pytest.mark.parametrize("shape", [(), (3,), (2, 3)])
def test_shape_is_kept(shape: tuple[int, ...]) -> None:
    light = np.full(shape, 0.18, np.float32)
    assert ACESCCT.encode(light).shape == ACESCCT.decode(light).shape == shape


def test_wild_input_stays_finite() -> None:
    wild = np.array([-1e6, -1.0, 0.0, 1e6])
    assert np.all(np.isfinite(ACESCCT.encode(wild))) and np.all(np.isfinite(ACESCCT.decode(wild)))
