"""The check values of the planner around their points: skin a third to two thirds high, highlights few and many, other
curves, depths and noise. Common practice, no published source."""

from __future__ import annotations

from functools import cache
from itertools import cycle

import msgspec
import numpy as np
import pytest

from analysis.exposure.plan import plan
from analysis.exposure.policy import BUILT_LIGHT, EVEN_LIGHT, OPEN_SKY, Policy, Weights
from analysis.model.controls import ControlLimits, Controls
from analysis.settings.policy_files import load_policy
from analysis.signal.curves import Curve
from tests.exposure.outdoors import CAMERA, INDOORS, reading_on, skin_aim
from tests.exposure.truth_grid import WRITTEN, coded

AIM = 0.8
CURVES = ("acescct", "acescc", "cineon", WRITTEN, "hlg")
SHARES = (0.1, 0.3, 1.0, 2.5, 5.0, 50.0)
OUTSIDE = Controls(nd_stops=6.0, iso=800.0, t_stop=2.8)
INSIDE = Controls(nd_stops=2.0, iso=800.0, t_stop=1.0)
ONLY_ND = ControlLimits(nd_steps=(4.0, 6.0, 8.0), locked=("iso", "t_stop", "shutter_angle"))


@cache
def policy(name: str) -> Policy:
    return load_policy(name, {})


def curve_of(name: str) -> Curve:
    return coded(name)


@pytest.mark.parametrize("name", CURVES)
@pytest.mark.parametrize("high", np.linspace(1 / 3, 2 / 3, 5).round(4).tolist())
def test_outdoors_the_two_ways_lead(name: str, high: float) -> None:
    """ISO 640 at ND 6, then ND 8 with ISO 2000: whatever the share of highlights, the depth and the noise."""
    how, others = curve_of(name), cycle([(8, 3.0, 0.0), (10, 1.5, 0.4), (10, 5.0, -0.4)])
    for share, (bits, snr, nearer) in zip(SHARES, others, strict=False):
        top = (3.7 if name == "hlg" else 4.9) + nearer  # HLG ends at +4.39 stops: 100 IRE is 12 times its middle grey's
        seen = reading_on(how, bits, AIM + high, (100.0 - share, -4.0, 1.0), (share, 2.5, top), snr=snr)
        found = plan(seen, OUTSIDE, policy(OPEN_SKY), how, (skin_aim(AIM),), camera=CAMERA)
        ways = [(each.controls.nd_stops, each.controls.iso) for each in found.plans]
        assert ways[:2] == [(6.0, 640.0), (8.0, 2000.0)], (share, bits, snr, ways)
        assert (8.0, 800.0) not in ways and found.missing is None


@pytest.mark.parametrize("name", CURVES)
def test_outdoors_nd_4_blows_the_background_and_nd_8_alone_is_too_dark(name: str) -> None:
    how = curve_of(name)
    for share in SHARES[2:]:
        seen = reading_on(how, 10, AIM + 0.5, (100.0 - share, -4.0, 1.0), (share, 4.0, 4.3 if name == "hlg" else 4.9))
        found = plan(seen, OUTSIDE, policy(OPEN_SKY), how, (skin_aim(AIM),), limits=ONLY_ND, camera=CAMERA)
        assert all(each.controls.nd_stops == 6.0 for each in found.plans)
        dim = reading_on(how, 10, AIM - 2.0, (100.0 - share, -4.0, 1.0), (share, 4.0, 4.3 if name == "hlg" else 4.9))
        refused = plan(dim, OUTSIDE, policy(OPEN_SKY), how, (skin_aim(AIM),), limits=ONLY_ND, camera=CAMERA)
        assert refused.missing is not None and "clip the highlights" in refused.missing
        assert all(each.controls.nd_stops == 6.0 for each in refused.plans)


@pytest.mark.parametrize("name", CURVES)
@pytest.mark.parametrize("high", [0.85, 0.95, 1.0, 1.1, 1.16])
def test_indoors_nd_2_with_half_the_native_iso(name: str, high: float) -> None:
    how = curve_of(name)
    for bits, snr in ((8, 3.0), (10, 1.5), (10, 5.0)):
        seen = reading_on(how, bits, AIM + high, *INDOORS, snr=snr)
        found = plan(seen, INSIDE, policy(EVEN_LIGHT), how, (skin_aim(AIM),), camera=CAMERA)
        first = found.plans[0].controls
        assert (first.nd_stops, first.iso, first.t_stop) == (2.0, 400.0, 1.0)


@pytest.mark.parametrize("high", np.linspace(0.2, 4.0, 12).tolist())
def test_indoors_never_below_half_of_native(high: float) -> None:
    how = curve_of("acescct")
    for limits in (ControlLimits(), ControlLimits(locked=("nd", "t_stop", "shutter_angle"))):
        seen = reading_on(how, 10, AIM + high, *INDOORS)
        found = plan(seen, INSIDE, policy(EVEN_LIGHT), how, (skin_aim(AIM),), limits=limits, camera=CAMERA)
        assert found.plans and all(each.controls.iso >= 400.0 for each in found.plans)


@pytest.mark.parametrize("name", CURVES)
@pytest.mark.parametrize(("high", "wall", "power"), [(1.0, 0.0, 10.0), (0.6, -0.1, 12.0), (1.3, 0.2, 20.0)])
def test_in_a_studio_the_background_first_and_then_the_key_by_name(
    name: str, high: float, wall: float, power: float
) -> None:
    """The wall has to come down to -2: two stops of ND; the key makes up for what that takes from the sitter."""
    how = curve_of(name)
    seen = reading_on(how, 10, AIM + high, *INDOORS, background=wall)
    controls = Controls(nd_stops=0.0, iso=800.0, t_stop=4.0, key_percent=power)
    aims = (skin_aim(AIM), skin_aim(-2.0, "wall"))
    found = plan(seen, controls, policy(BUILT_LIGHT), how, aims, camera=CAMERA)
    first = found.plans[0]
    assert first.moves[0].startswith("first the background: ND from 0 to 2")
    assert first.moves[-1].startswith("then the key from")
    assert first.controls.key_percent == pytest.approx(power * 2.0 ** (2.0 - high), abs=2.5)
    assert abs(first.costs.off_aim_stops) <= 1 / 3
    assert first.predicted.background_stops == pytest.approx(wall - 2.0)


@pytest.mark.parametrize("factor", [0.8, 1.2])
@pytest.mark.parametrize("weight", [field for field in Weights.__struct_fields__ if field != "aim"])
def test_no_weight_is_tuned_to_a_point(weight: str, factor: float) -> None:
    """A fifth more or less of any weight, against that of the aim: the check values stay what they are."""
    how = curve_of("acescct")

    def changed(name: str) -> Policy:
        made = policy(name)
        weights = msgspec.structs.replace(made.weights, **{weight: getattr(made.weights, weight) * factor})
        return msgspec.structs.replace(made, weights=weights)

    for high in (0.34, 0.5, 0.66):
        for share in (0.5, 5.0):
            seen = reading_on(how, 10, AIM + high, (100.0 - share, -4.0, 1.0), (share, 2.5, 4.9))
            found = plan(seen, OUTSIDE, changed(OPEN_SKY), how, (skin_aim(AIM),), camera=CAMERA)
            ways = [(each.controls.nd_stops, each.controls.iso) for each in found.plans]
            assert ways[:2] == [(6.0, 640.0), (8.0, 2000.0)], (high, share, ways)
    inside = plan(
        reading_on(how, 10, AIM + 1.0, *INDOORS), INSIDE, changed(EVEN_LIGHT), how, (skin_aim(AIM),), camera=CAMERA
    )
    assert (inside.plans[0].controls.nd_stops, inside.plans[0].controls.iso) == (2.0, 400.0)
    lit = Controls(nd_stops=0.0, iso=800.0, t_stop=4.0, key_percent=10.0)
    seen = reading_on(how, 10, AIM + 1.0, *INDOORS, background=0.0)
    studio = plan(seen, lit, changed(BUILT_LIGHT), how, (skin_aim(AIM), skin_aim(-2.0, "wall")), camera=CAMERA)
    assert (studio.plans[0].controls.nd_stops, studio.plans[0].controls.key_percent) == (2.0, 20.0)
