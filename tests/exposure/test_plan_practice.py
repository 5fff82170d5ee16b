"""Check values of the planner: common practice, no published source."""

from __future__ import annotations

import msgspec
import pytest

from analysis.exposure.plan import plan
from analysis.exposure.policy import BUILT_LIGHT, EVEN_LIGHT, OPEN_SKY, suggest
from analysis.exposure.predict import Outlook
from analysis.model.controls import ControlLimits, Controls
from analysis.model.plan import Planned
from analysis.settings.policy_files import load_policy
from tests.exposure.outdoors import CAMERA, INDOORS, LOG, OUTDOORS, reading, skin_aim

AIM = 0.8
OUTSIDE = Controls(nd_stops=6.0, iso=800.0, t_stop=2.8)
INSIDE = Controls(nd_stops=2.0, iso=800.0, t_stop=1.0)


def outside(high: float, **more: object) -> Planned:
    return plan(
        reading(AIM + high, *OUTDOORS), OUTSIDE, load_policy(OPEN_SKY, {}), LOG, (skin_aim(AIM),), camera=CAMERA, **more
    )


@pytest.mark.parametrize("high", [1 / 3, 0.4, 0.5, 0.6, 2 / 3])
def test_outdoors_with_a_bright_background(high: float) -> None:
    """Common practice, no published source: ISO 640 at ND 6, or ND 8 with ISO 2000 (net -2/3)."""
    found = outside(high)
    ways = [(each.controls.nd_stops, each.controls.iso) for each in found.plans]
    assert ways[:2] == [(6.0, 640.0), (8.0, 2000.0)]
    assert found.missing is None


def test_outdoors_the_wrong_ways_are_not_offered() -> None:
    """Common practice, no published source: ND 8 alone is too dark, ND 4 blows the background."""
    found = outside(0.5)
    assert (8.0, 800.0) not in [(each.controls.nd_stops, each.controls.iso) for each in found.plans]
    assert all(each.controls.nd_stops >= 6.0 for each in found.plans)
    # Even where ND 4 is all there is, it is refused: half of the picture would be lost.
    alone = outside(-2.0, limits=ControlLimits(nd_steps=(4.0,), locked=("iso", "t_stop", "shutter_angle")))
    assert alone.missing is not None and all(each.controls.nd_stops == 6.0 for each in alone.plans)


def test_more_nd_with_more_iso_keeps_the_highlights() -> None:
    low, high = outside(0.5).plans[:2]
    assert low.predicted.headroom_stops == pytest.approx(1.1, abs=0.05)  # ISO moves the clip with the picture
    assert high.predicted.headroom_stops == pytest.approx(3.1, abs=0.05)  # the sensor catches two stops less
    assert high.costs.noise_stops > 0.9 > 0.05 > low.costs.noise_stops


def test_highlights_at_risk_forbid_iso_below_native() -> None:
    """Common practice, no published source: never below native while highlights are at risk."""
    parts = ((50.0, -4.0, 1.0), (50.0, 2.5, 5.9))
    found = plan(reading(AIM + 0.5, *parts), OUTSIDE, load_policy(OPEN_SKY, {}), LOG, (skin_aim(AIM),), camera=CAMERA)
    assert (found.plans[0].controls.nd_stops, found.plans[0].controls.iso) == (8.0, 2000.0)
    assert all(each.controls.iso >= 800.0 for each in found.plans if each.controls.nd_stops <= 6.0)


def test_indoors_without_highlights() -> None:
    """Common practice, no published source: ND 2 with ISO 400, and never below 400."""
    found = plan(
        reading(AIM + 1.0, *INDOORS), INSIDE, load_policy(EVEN_LIGHT, {}), LOG, (skin_aim(AIM),), camera=CAMERA
    )
    first = found.plans[0]
    assert (first.controls.nd_stops, first.controls.iso, first.controls.t_stop) == (2.0, 400.0, 1.0)
    assert first.predicted.sitter_stops == pytest.approx(AIM)
    assert all(each.controls.iso >= 400.0 for each in found.plans)
    assert first.moves == ("ISO from 800 to 400 (1 stop down)",)


@pytest.mark.parametrize("high", [1.5, 2.0, 3.0])
def test_indoors_never_below_half_of_native(high: float) -> None:
    limits = ControlLimits(locked=("nd", "t_stop", "shutter_angle"))
    found = plan(
        reading(AIM + high, *INDOORS),
        INSIDE,
        load_policy(EVEN_LIGHT, {}),
        LOG,
        (skin_aim(AIM),),
        limits=limits,
        camera=CAMERA,
    )
    assert found.missing is not None
    assert found.plans[0].controls.iso == 400.0


def test_in_a_studio_the_background_comes_first_and_then_the_key() -> None:
    """Common practice, no published source: ND places the background, then the key brings the sitter up."""
    controls = Controls(nd_stops=0.0, iso=800.0, t_stop=4.0, key_percent=10.0)
    aims = (skin_aim(AIM), skin_aim(-2.0, "wall"))
    found = plan(
        reading(AIM + 1.0, *INDOORS, background=0.0),
        controls,
        load_policy(BUILT_LIGHT, {}),
        LOG,
        aims,
        camera=CAMERA,
    )
    first = found.plans[0]
    assert first.controls.nd_stops == 2.0 and first.controls.iso == 800.0
    # Two stops of ND take the sitter from one over to one under: the key doubles.
    assert first.controls.key_percent == 20.0
    assert first.moves[0].startswith("first the background: ND from 0 to 2")
    assert first.moves[1] == "then the key from 10 to 20 % (1 stop up)"
    assert first.predicted.background_stops == pytest.approx(-2.0)
    assert first.predicted.sitter_stops == pytest.approx(AIM)
    assert any("Lamps are hot" in each for each in found.cautions)


def test_a_background_without_an_aim_stays_and_only_the_key_moves() -> None:
    controls = Controls(nd_stops=2.0, key_percent=80.0)
    found = plan(
        reading(AIM + 1.0, *INDOORS, background=-1.0), controls, load_policy(BUILT_LIGHT, {}), LOG, (skin_aim(AIM),)
    )
    assert [each.moves for each in found.plans] == [("the key from 80 to 40 % (1 stop down)",)]


def test_a_key_that_is_not_strong_enough_says_so() -> None:
    controls = Controls(nd_stops=2.0, iso=800.0, key_percent=60.0)
    found = plan(
        reading(AIM - 2.0, *INDOORS, background=-1.0), controls, load_policy(BUILT_LIGHT, {}), LOG, (skin_aim(AIM),)
    )
    assert found.missing is not None and "more light" in found.missing
    assert found.missing.endswith("; a background spot with an aim would let ND and ISO move")
    assert found.plans[0].controls.key_percent == 100.0


def test_an_aim_between_two_filters_asks_for_no_more_nd() -> None:
    """Common practice, no published source: at ND 6 too bright, ND 8 alone too dark, and nothing else may move."""
    found = outside(0.6, limits=ControlLimits(nd_steps=(6.0, 8.0), locked=("iso", "t_stop", "shutter_angle")))
    assert found.missing == (
        "2/3 stop over at ND 6 and ISO 800, and the next step 1 1/3 stops under: finer steps, or another control"
    )
    assert [each.controls.nd_stops for each in found.plans] == [6.0]
    alone = outside(0.6, limits=ControlLimits(nd_steps=(6.0,), locked=("iso", "t_stop", "shutter_angle")))
    assert alone.missing == "2/3 stop over even at ND 6 and ISO 800: more ND, or less light"


def test_a_skin_that_is_clipped_is_at_least_so_far_over() -> None:
    """Lost highlights are never told as known: the light of a clipped skin is hidden."""
    limits = ControlLimits(locked=("nd", "iso", "t_stop", "shutter_angle"))
    for clipped, words in ((0.0, "2 stops over"), (30.0, "at least 2 stops over")):
        seen = reading(AIM + 2.0, *INDOORS)
        assert seen.sitters is not None
        lost = msgspec.structs.replace(seen.sitters[0], clipped=clipped)
        seen = msgspec.structs.replace(seen, sitters=(lost,))
        found = plan(seen, INSIDE, load_policy(EVEN_LIGHT, {}), LOG, (skin_aim(AIM),), limits=limits, camera=CAMERA)
        assert found.missing is not None and found.missing.startswith(words)


def test_an_impossible_aim_says_what_is_missing() -> None:
    limits = ControlLimits(iso_range=(400.0, 3200.0))
    controls = Controls(nd_stops=0.0, iso=800.0)
    found = plan(
        reading(AIM - 3.3, *INDOORS), controls, load_policy(EVEN_LIGHT, {}), LOG, (skin_aim(AIM),), limits=limits
    )
    assert found.missing == "1 1/3 stops short even at ISO 3200: more light"
    assert found.plans[0].reason == found.missing


@pytest.mark.parametrize(
    ("parts", "clipped", "key", "policy"),
    [
        (OUTDOORS, 0.0, None, OPEN_SKY),
        (INDOORS, 2.0, None, OPEN_SKY),
        (INDOORS, 0.0, None, EVEN_LIGHT),
        (INDOORS, 0.0, 50.0, BUILT_LIGHT),
    ],
)
def test_the_picture_suggests_a_policy(parts: tuple, clipped: float, key: float | None, policy: str) -> None:
    found = suggest(reading(AIM, *parts, clipped=clipped), LOG, Controls(key_percent=key))
    assert found.policy == policy
    assert found.why


def test_a_sensor_that_is_full_below_the_codes_makes_highlights_of_what_is_near_it() -> None:
    parts = ((90.0, -4.0, 1.0), (10.0, 4.2, 4.8))
    nominal = msgspec.structs.replace(reading(AIM, *parts), ceiling=None)
    clipped = msgspec.structs.replace(nominal.clipped, level=100.0, by="narrow")
    nominal = msgspec.structs.replace(nominal, clipped=clipped)
    bright_skin = msgspec.structs.replace(nominal, sitters=())
    assert suggest(bright_skin, LOG).policy == EVEN_LIGHT  # the codes go on to +10
    assert suggest(bright_skin, LOG, OUTSIDE, 6.0).policy == OPEN_SKY
    known = Outlook(nominal, OUTSIDE, LOG, camera=CAMERA).clips_at
    assert suggest(nominal, LOG, OUTSIDE, known).policy == OPEN_SKY
