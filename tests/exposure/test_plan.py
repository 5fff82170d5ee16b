"""What holds of every plan, whatever the picture, the controls and the limits; and what it refuses."""

from __future__ import annotations

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.exposure.aims import level_of
from analysis.exposure.plan import DEARER, TRIFLE, plan
from analysis.exposure.plan_words import LAMPS, SUN, cautions, costs_in_words, gains_in_words, moves, short
from analysis.exposure.policy import BUILT_LIGHT, EVEN_LIGHT, OPEN_SKY, above_native
from analysis.model.controls import CONTROLS, ControlLimits, Controls
from analysis.model.errors import UsageError
from analysis.model.plan import Costs, Planned
from analysis.model.sitter import Aim
from analysis.settings.policy_files import load_policy
from analysis.signal.curves import curve
from tests.exposure.outdoors import CAMERA, INDOORS, LOG, OUTDOORS, reading, skin_aim

POLICIES = {name: load_policy(name, {}) for name in (OPEN_SKY, EVEN_LIGHT, BUILT_LIGHT)}


def way_of(now: Controls, to: Controls) -> tuple[object, ...]:
    pairs = [
        (to.nd_stops, now.nd_stops), (to.iso, now.iso), (to.t_stop or 0, now.t_stop or 0),
        (to.shutter_angle, now.shutter_angle), (to.key_percent or 0, now.key_percent or 0),
    ]  # fmt: skip
    return tuple((a > b) - (a < b) for a, b in pairs)


@settings(max_examples=60, deadline=None)
@given(
    skin=st.floats(-4.0, 5.0),
    aim=st.floats(-1.0, 2.0),
    policy=st.sampled_from(sorted(POLICIES)),
    nd=st.sampled_from((0.0, 2.0, 3.5, 6.0, 8.0)),
    iso=st.sampled_from((200.0, 400.0, 800.0, 1250.0, 3200.0)),
    key=st.one_of(st.none(), st.floats(0.0, 100.0)),
    share=st.floats(0.0, 1.0),
    lock=st.lists(st.sampled_from(CONTROLS), unique=True),
    behind=st.one_of(st.none(), st.floats(-4.0, 3.0)),
    camera=st.booleans(),
)
def test_what_holds_of_every_plan(
    skin: float, aim: float, policy: str, nd: float, iso: float, key: float | None, share: float,
    lock: list, behind: float | None, camera: bool,
) -> None:  # fmt: skip
    now = Controls(nd_stops=nd, iso=iso, t_stop=4.0, key_percent=key, key_share=share)
    limits = ControlLimits(locked=tuple(lock), t_range=(2.8, 5.6), shutter_angles=(90.0, 180.0))
    chosen = POLICIES[policy]
    found = plan(
        reading(skin, *OUTDOORS, background=behind), now, chosen, LOG, (skin_aim(aim), skin_aim(-1.0, "wall")),
        limits=limits, camera=CAMERA if camera else None,
    )  # fmt: skip
    assert len(found.plans) <= 3 and found.policy == policy
    assert found.plans or found.missing
    ways = [way_of(now, each.controls) for each in found.plans]
    assert len(set(ways)) == len(ways)
    totals = [each.costs.total for each in found.plans]
    assert totals == sorted(totals) and (not totals or totals[-1] <= totals[0] + DEARER)
    for each in found.plans:
        to, seen = each.controls, each.predicted
        assert each.moves and each.reason
        for name, same in (
            ("nd", to.nd_stops == nd), ("iso", to.iso == iso), ("t_stop", to.t_stop == 4.0),
            ("shutter_angle", to.shutter_angle == 180.0), ("key", to.key_percent == now.key_percent or key is None),
        ):  # fmt: skip
            assert same or name not in lock
        assert 0.0 <= seen.clipped <= seen.clipped_at_most <= 100.0 and 0.0 <= seen.crushed <= 100.0
        assert to.key_percent is None or 0.0 <= to.key_percent <= 100.0
        said = costs_in_words(each.costs)
        if to.iso > iso:
            assert "noise" in said and "noise" in each.reason + str(found.missing and "noise"), said
        if to.t_stop != 4.0:
            assert "focus" in said and abs(each.costs.depth_of_field_stops) >= TRIFLE
        if to.shutter_angle != 180.0:
            assert "motion" in said and abs(each.costs.motion_stops) >= TRIFLE
        if to.nd_stops > nd and to.iso <= iso and to.t_stop == 4.0 and to.shutter_angle == 180.0:
            assert "more noise" in said
        if found.missing is None and to != now:
            assert abs(each.costs.off_aim_stops) <= 1 / 3 + 0.051
        if to.iso != iso:
            natives = (800.0,) if camera else (iso,)
            assert above_native(to.iso, natives) >= -chosen.iso_below_native - 0.051
    assert msgspec.json.decode(msgspec.json.encode(found), type=Planned) == found


def test_staying_is_a_way_where_the_sitter_lies_right() -> None:
    found = plan(reading(0.8, *INDOORS), Controls(nd_stops=2.0), POLICIES[OPEN_SKY], LOG, (skin_aim(0.8),))
    assert found.plans[0].moves == ("stay as you are",) and found.plans[0].controls == Controls(nd_stops=2.0)


def test_a_way_that_gains_nothing_is_not_told() -> None:
    found = plan(
        reading(0.8, *INDOORS), Controls(nd_stops=2.0), POLICIES[OPEN_SKY], LOG, (skin_aim(0.8),), camera=CAMERA
    )
    for each in found.plans[1:]:
        assert each.predicted.headroom_stops > found.plans[0].predicted.headroom_stops or each.costs.noise_stops < 0


def test_a_free_aperture_is_told_with_its_focus() -> None:
    limits = ControlLimits(locked=("nd", "iso", "shutter_angle"))
    found = plan(
        reading(1.8, *INDOORS), Controls(t_stop=2.8), POLICIES[EVEN_LIGHT], LOG, (skin_aim(0.8),), limits=limits
    )
    first = found.plans[0]
    assert first.controls.t_stop in {3.5, 4.0} and first.costs.depth_of_field_stops > 0.6
    assert first.moves[0].startswith("aperture from T2.8 to T") and "closed" in first.moves[0]
    assert "deeper focus" in first.reason


def test_a_shutter_is_told_with_its_motion() -> None:
    limits = ControlLimits(locked=("nd", "iso", "t_stop"), shutter_angles=(90.0, 180.0))
    found = plan(reading(1.8, *INDOORS), Controls(), POLICIES[EVEN_LIGHT], LOG, (skin_aim(0.8),), limits=limits)
    first = found.plans[0]
    assert first.controls.shutter_angle == 90.0 and first.costs.motion_stops == -1.0
    assert first.moves == ("shutter from 180 to 90 degrees (1/100 s, 1 stop shorter)",)
    assert "crisper motion" in first.reason


def test_a_key_that_is_moved_closer() -> None:
    """Inverse square: from 2 to 1.414 is one stop."""
    limits = ControlLimits(key_range=(100.0, 100.0), key_distances=(1.0, 1.4142, 2.0))
    now = Controls(nd_stops=2.0, key_percent=100.0, key_distance=2.0)
    found = plan(reading(-0.2, *INDOORS), now, POLICIES[BUILT_LIGHT], LOG, (skin_aim(0.8),), limits=limits)
    assert found.plans[0].controls.key_distance == 1.4142
    assert found.plans[0].moves == ("the key from 2 to 1.4142 away (1 stop more)",)
    assert LAMPS in found.cautions


def test_a_dimmer_curve_is_followed() -> None:
    square = tuple((float(dial), dial**2 / 100.0) for dial in range(0, 101, 10))
    now = Controls(nd_stops=2.0, key_percent=50.0)
    limits = ControlLimits(dimmer=square)
    found = plan(reading(-1.2, *INDOORS), now, POLICIES[BUILT_LIGHT], LOG, (skin_aim(0.8),), limits=limits)
    assert found.plans[0].controls.key_percent == 100.0  # twice the dial is four times the light


@pytest.mark.parametrize("sitters", [None, ()])
def test_nobody_is_refused_in_one_line(sitters: tuple | None) -> None:
    seen = msgspec.structs.replace(reading(0.0, *INDOORS), sitters=sitters)
    with pytest.raises(UsageError, match="no sitter is read"):
        plan(seen, Controls(), POLICIES[OPEN_SKY], LOG, (skin_aim(),))


def test_no_aim_is_refused_in_one_line() -> None:
    with pytest.raises(UsageError, match="no aim for sitter 1"):
        plan(reading(0.0, *INDOORS), Controls(), POLICIES[OPEN_SKY], LOG, (skin_aim(0.0, "window"),))
    black = Aim(target="sitter", value=-9.0, tolerance=1.0)
    with pytest.raises(UsageError, match="cannot be placed"):
        plan(reading(0.0, *INDOORS), Controls(), POLICIES[OPEN_SKY], LOG, (black,))


def test_cautions_stand_where_they_belong() -> None:
    sky, now = POLICIES[OPEN_SKY], Controls(nd_stops=4.0, t_stop=4.0, key_percent=50.0, key_distance=2.0)
    change = msgspec.structs.replace
    assert cautions(now, [now], sky) == ()
    assert cautions(now, [change(now, key_percent=60.0)], sky) == (LAMPS,)
    assert cautions(now, [change(now, key_percent=40.0)], sky) == ()
    assert cautions(now, [change(now, nd_stops=2.0)], sky) == (SUN,)
    assert cautions(now, [change(now, t_stop=2.8)], sky) == (SUN,)
    assert cautions(now, [change(now, nd_stops=2.0)], POLICIES[EVEN_LIGHT]) == ()
    assert cautions(now, [], sky, "1 stop short even at ISO 800: more light") == (LAMPS,)


def test_words_for_what_is_missing() -> None:
    free = {"nd": True, "iso": True}
    assert short(-1.0, Controls(iso=3200.0), (3200.0,), free, True).endswith("more light on the sitter alone")
    assert short(-0.1, Controls(iso=800.0), (800.0, 1600.0), free, False).startswith("less than 1/3 stop short")
    assert moves(Controls(key_percent=0.0), Controls(key_percent=40.0), POLICIES[OPEN_SKY]) == (
        "the key from 0 to 40 %",
    )


def test_what_a_range_costs_and_gains_is_told_as_its_end() -> None:
    none = {"off_aim_stops": 0.0, "noise_stops": 0.0, "depth_of_field_stops": 0.0, "motion_stops": 0.0}
    more, less = (Costs(**none, clipped=each, below_native_stops=0.0, total=0.0) for each in (8.15, -1.54))
    assert costs_in_words(more) == "8.15 % more clipped"
    assert costs_in_words(more, ranged=True) == "up to 8.15 % more clipped"
    assert gains_in_words(less) == "1.54 % less clipped"
    assert gains_in_words(less, ranged=True) == "at least 1.54 % less clipped"


def test_a_look_is_not_touched_for_a_trifle() -> None:
    """172.8 degrees is a seventeenth of a stop from 180: nothing for the exposure."""
    limits = ControlLimits(nd_range=(0.0, 10.0), shutter_angles=(90.0, 172.8, 180.0), locked=())
    for high in (-1.5, 0.1, 0.7):
        seen, now = reading(0.8 + high, *OUTDOORS), Controls(nd_stops=6.0, t_stop=2.8)
        found = plan(seen, now, POLICIES[OPEN_SKY], LOG, (skin_aim(0.8),), limits=limits, camera=CAMERA)
        assert found.plans and all(each.controls.shutter_angle != 172.8 for each in found.plans)


def test_a_way_far_dearer_than_the_best_is_not_told() -> None:
    """ND closed by two stops with ISO up by more than three would reach the aim as well."""
    now = Controls(nd_stops=2.0, t_stop=2.8)
    found = plan(reading(-0.9, *INDOORS), now, POLICIES[EVEN_LIGHT], LOG, (skin_aim(0.8),), camera=CAMERA)
    assert len(found.plans) >= 2
    assert all(each.controls.iso <= 4000.0 for each in found.plans)


def test_staying_is_no_way_while_the_background_is_off_its_aim() -> None:
    """The sitter within a wide aim, the wall two stops over its own: the background comes first."""
    wide = Aim(target="sitter", value=0.8, tolerance=1.0, unit="stops")
    now = Controls(nd_stops=0.0, key_percent=20.0, key_share=0.9)
    found = plan(
        reading(0.7, *INDOORS, background=0.0), now, POLICIES[BUILT_LIGHT], LOG, (wide, skin_aim(-2.0, "wall")),
        camera=CAMERA,
    )  # fmt: skip
    assert found.missing is None and all(each.controls != now for each in found.plans)
    assert found.plans[0].moves[0].startswith("first the background: ND from 0 to 2")
    weak = plan(
        reading(0.7, *INDOORS, background=0.0), msgspec.structs.replace(now, key_percent=100.0), POLICIES[BUILT_LIGHT],
        LOG, (wide, skin_aim(-3.0, "wall")), camera=CAMERA,
    )  # fmt: skip
    assert weak.missing is not None and len(weak.plans) == 1
    assert "the key at 100 %" in weak.missing


def test_a_key_that_cannot_lift_anything_to_the_clip_leaves_nothing_in_doubt() -> None:
    """Five stops of room, and a key that gains less than one: nothing of the picture can clip."""
    now = Controls(nd_stops=2.0, key_percent=30.0)
    dim, near = ((70.0, -6.0, 0.5), (30.0, 0.5, 1.0)), ((70.0, -6.0, 0.5), (30.0, 4.8, 5.7))
    for parts, doubt in ((dim, False), (near, True)):
        found = plan(reading(0.0, *parts), now, POLICIES[BUILT_LIGHT], LOG, (skin_aim(0.8),), camera=CAMERA)
        assert found.plans[0].controls.key_percent > 30.0 and found.plans[0].predicted.at_least is doubt
        assert ("at least" in found.plans[0].reason or "what is lost" in found.plans[0].reason) is doubt


def test_what_is_gained_is_not_told_as_a_cost() -> None:
    """More ND with more ISO: noise is what it costs, later clipping what it gains."""
    found = plan(
        reading(1.3, *OUTDOORS), Controls(nd_stops=6.0), POLICIES[OPEN_SKY], LOG, (skin_aim(0.8),), camera=CAMERA
    )
    less, more = (each.costs for each in found.plans[:2])
    assert "signal clips 0.3 stops lower" in costs_in_words(less) and gains_in_words(less) == ""
    assert "later" not in costs_in_words(more) and gains_in_words(more) == "light clips 2.0 stops later"


def test_less_noise_is_not_said_where_the_shadows_lose_by_the_way() -> None:
    found = plan(
        reading(2.6, *INDOORS), Controls(nd_stops=2.0), POLICIES[EVEN_LIGHT], LOG, (skin_aim(0.0),), camera=CAMERA
    )
    darker = [each for each in found.plans if each.costs.noise_stops > 0.1]
    assert darker and darker[0].costs.below_native_stops > 0.1
    for each in darker:
        assert "less noise" not in each.reason and "highlights are kept" not in each.reason


def test_a_clip_is_not_called_lower_where_the_codes_end_first() -> None:
    """BT.709 ends 2.5 stops over grey, the sensor 6: a third less ISO leaves the end of the signal where it is."""
    curve_ = curve("bt709")
    log = reading(0.9, (99.9, -6.0, 2.0), (0.1, 2.0, 2.4))
    whole = msgspec.structs.replace(log.clipped, level=100.0, by="narrow", any=0.0)
    encoding = msgspec.structs.replace(log.encoding, curve="bt709")
    seen = msgspec.structs.replace(log, encoding=encoding, clipped=whole, ceiling=None)
    sitter = msgspec.structs.replace(seen.sitters[0], level=level_of(0.9, curve_), low=None, high=None)
    seen = msgspec.structs.replace(seen, sitters=(sitter,))
    found = plan(seen, Controls(nd_stops=6.0), POLICIES[OPEN_SKY], curve_, (skin_aim(0.6),), camera=CAMERA)
    lower = next(each for each in found.plans if each.controls.iso == 640.0)
    assert lower.costs.below_native_stops == pytest.approx(1 / 3, abs=0.02)
    assert "lower" not in costs_in_words(lower.costs) and "lowers the clip" not in lower.reason
    assert "later" in gains_in_words(lower.costs)


def test_opening_in_light_that_is_built_is_cautioned_where_a_sky_is_seen() -> None:
    now = Controls(nd_stops=4.0, t_stop=4.0)
    opened = [msgspec.structs.replace(now, nd_stops=2.0)]
    assert cautions(now, opened, POLICIES[BUILT_LIGHT], sky=True) == (SUN,)
    assert cautions(now, opened, POLICIES[BUILT_LIGHT]) == ()
