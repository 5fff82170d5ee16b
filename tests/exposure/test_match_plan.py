"""What to move to match: planned, carried out on the rendered camera, and looked at again."""

from __future__ import annotations

from typing import Any

import msgspec
import pytest

from analysis.exposure.match import difference
from analysis.exposure.match_light import Light
from analysis.exposure.match_plan import MATCH, to_match
from analysis.exposure.match_words import MATCHED, UNTOLD, asked, far, match_cautions, what_to_move
from analysis.exposure.plan_words import LAMPS, SUN
from analysis.feed.scene.renderer import Renderer
from analysis.model.controls import ControlLimits, Controls
from analysis.model.errors import UsageError
from analysis.model.hold import Apart, Difference
from analysis.model.plan import Plan
from tests.exposure.boathouse import controls_of, profile
from tests.exposure.match_scenes import lit
from tests.exposure.outdoors import OUTDOORS, reading

CODINGS: list[dict[str, Any]] = [
    {"curve": "bt709"},
    {"curve": "hlg", "layout": "yuv422p10le"},
    {"curve": "acescct", "layout": "yuv422p10le"},
]
ROOM: dict[str, Any] = {"sun": "off", "doors": "shut", "lamp": True, "lamp_at": "key", "lake": 0.3}
VARIABLE = ControlLimits(nd_range=(0.0, 8.0))
FULL = 2.0
"""The lamp's power at 100 % of its dial."""


def stops(apart: Apart | None) -> float:
    assert apart is not None
    return apart.stops


def moved(way: Plan, setting: dict[str, Any]) -> dict[str, Any]:
    """The scene's settings after a way."""
    after = {**setting, "nd": way.controls.nd_stops, "iso": way.controls.iso}
    if way.controls.key_percent is not None:
        after["lamp_power"] = FULL * way.controls.key_percent / 100.0
    return after


def key_share(scene: Renderer, coding: dict[str, Any], setting: dict[str, Any]) -> float:
    """The part of the light on the cheek that is the key's, by the scene's truth with it on and off."""
    off = lit(**coding, **{**setting, "lamp": False})[0]
    return 1.0 - 2.0 ** (off.truth(0.0).skin.stops - scene.truth(0.0).skin.stops)


@pytest.mark.parametrize("coding", CODINGS, ids=lambda each: each["curve"])
@pytest.mark.parametrize(("now", "was"), [(3.0, 2.0), (4.0, 2.0), (1.0, 3.0), (2.0, 2.67)])
def test_the_whole_picture_comes_back(coding: dict[str, Any], now: float, was: float) -> None:
    _, hold = lit(**coding, nd=was, sun="off")
    scene, live = lit(**coding, nd=now, sun="off")
    found = to_match(live, hold, controls_of(scene), limits=VARIABLE, camera=profile(scene))
    assert found.policy == MATCH and found.missing is None and found.plans
    for way in found.plans:
        _, after = lit(**coding, **moved(way, {"nd": now, "sun": "off"}))
        left = difference(after, hold)
        assert abs(stops(left.sitter)) <= 1.0 / 6.0 + 0.05, way
        assert abs(stops(left.background)) <= 1.0 / 6.0 + 0.05, way
        assert way.reason.startswith("Brings the skin to the hold; and the background too")


@pytest.mark.parametrize("coding", CODINGS[::2], ids=lambda each: each["curve"])
@pytest.mark.parametrize(("now", "was"), [((1.0, 0.25), (2.0, 1.0)), ((3.0, 1.5), (2.0, 0.5))])
def test_background_with_nd_and_sitter_with_the_key(
    coding: dict[str, Any], now: tuple[float, float], was: tuple[float, float]
) -> None:
    setting = {**ROOM, "nd": now[0], "lamp_power": now[1]}
    _, hold = lit(True, **coding, **ROOM, nd=was[0], lamp_power=was[1])
    for _ in range(3):  # what the key spills on the wall is seen only when it is done: look again, as it says
        scene, live = lit(True, **coding, **setting)
        share = key_share(scene, coding, setting)
        controls = msgspec.structs.replace(
            controls_of(scene), key_percent=100.0 * setting["lamp_power"] / FULL, key_share=share
        )
        found = to_match(live, hold, controls, limits=VARIABLE, camera=profile(scene))
        assert found.missing is None
        setting = moved(found.plans[0], setting)
    left = difference(lit(True, **coding, **setting)[1], hold)
    assert abs(stops(left.sitter)) <= 1.0 / 6.0 + 0.05
    assert abs(stops(left.background)) <= 1.0 / 6.0 + 0.1  # a little of the last move of the key is on the wall too
    assert abs(stops(left.ratio)) <= 1.0 / 3.0


def test_of_ways_to_the_same_picture_the_one_that_touches_least_leads() -> None:
    _, hold = lit(nd=2.0, sun="off")
    for now in (2.67, 3.0, 1.33):
        scene, live = lit(nd=now, sun="off")
        found = to_match(live, hold, controls_of(scene), limits=VARIABLE, camera=profile(scene))
        assert len(found.plans[0].moves) == 1 and found.plans[0].moves[0].startswith("ND from")


def test_a_key_that_is_raised_brings_its_caution_and_comes_after_the_background() -> None:
    scene, live = lit(**ROOM, nd=1.0, lamp_power=0.25)
    _, hold = lit(**ROOM, nd=2.0, lamp_power=1.0)
    controls = msgspec.structs.replace(controls_of(scene), key_percent=12.5, key_share=0.45)
    found = to_match(live, hold, controls, limits=VARIABLE, camera=profile(scene))
    first, *_, last = found.plans[0].moves
    assert first.startswith("first the background: ") and last.startswith("then the key from 12.5 to")
    assert LAMPS in found.cautions


def test_opening_towards_the_sky_brings_its_caution() -> None:
    scene, live = lit(nd=3.0, sun="off")
    _, hold = lit(nd=2.0, sun="off")
    assert SUN in to_match(live, hold, controls_of(scene), limits=VARIABLE).cautions
    assert SUN not in to_match(hold, live, controls_of(scene), limits=VARIABLE).cautions


def test_who_matches_already_is_told_to_stay_and_nothing_else() -> None:
    for made in ({"sun": "off"}, {"sun": "on"}):
        scene, live = lit(nd=2.0, **made)
        found = to_match(live, live, controls_of(scene), camera=profile(scene))
        assert [way.moves for way in found.plans] == [("stay as you are",)]
        assert found.plans[0].reason == "The skin lies as in the hold; and the background too."
        assert found.cautions == () and found.missing is None


def test_across_curves() -> None:
    _, hold = lit(curve="hlg", layout="yuv422p10le", nd=2.0, sun="off")
    scene, live = lit(curve="acescct", layout="yuv422p10le", nd=3.0, sun="off")
    way = to_match(live, hold, controls_of(scene), limits=VARIABLE).plans[0]
    _, after = lit(curve="acescct", layout="yuv422p10le", **moved(way, {"nd": 3.0, "sun": "off"}))
    assert abs(stops(difference(after, hold).sitter)) <= 1.0 / 6.0 + 0.05


def test_without_a_sitter_the_middle_of_the_picture_is_matched() -> None:
    scene, live = lit(nd=3.0, sun="off")
    _, hold = lit(nd=2.0, sun="off")
    empty = Light(msgspec.structs.replace(live.reading, sitters=()), live.curve)
    found = to_match(empty, hold, controls_of(scene), limits=VARIABLE)
    assert found.plans[0].controls.nd_stops == pytest.approx(2.0, abs=0.2)
    assert found.plans[0].reason.startswith("Brings the middle of the picture to the hold")
    assert "skin" not in found.plans[0].reason


def test_what_cannot_be_reached_is_said_in_stops() -> None:
    scene, live = lit(nd=3.0, sun="off")
    _, hold = lit(nd=2.0, sun="off")
    stuck = ControlLimits(locked=("nd", "t_stop", "shutter_angle"), iso_range=(400.0, 800.0))
    found = to_match(live, hold, controls_of(scene), limits=stuck)
    assert found.missing is not None and "1 stop short" in found.missing


def test_clipped_skin_is_matched_from_where_it_clips_and_a_clipped_hold_is_said() -> None:
    bright, usual = lit(nd=-1.5, sun="off"), lit(nd=2.0, sun="off")
    lost = bright[1].skin()
    assert lost is not None and lost.hidden == "above"
    down = to_match(bright[1], usual[1], controls_of(bright[0]), limits=VARIABLE)
    assert down.plans[0].predicted.sitter_at_least
    up = to_match(usual[1], bright[1], controls_of(usual[0]), limits=VARIABLE)
    assert any("it was at least so bright" in each for each in up.cautions)


def test_what_has_no_curve_is_refused_in_one_line() -> None:
    hold = reading(0.8, *OUTDOORS)
    bare = msgspec.structs.replace(hold, encoding=msgspec.structs.replace(hold.encoding, curve=None))
    with pytest.raises(UsageError, match="stops need the curve of both pictures; name it with --curve"):
        to_match(bare, hold, Controls())


def test_what_cannot_be_compared_is_refused_in_one_line() -> None:
    hold = reading(0.8, *OUTDOORS)
    blank = msgspec.structs.replace(hold, sitters=(), spread=None, luma=None)
    with pytest.raises(UsageError, match="neither skin nor picture can be compared"):
        to_match(blank, hold, Controls())


def apart(skin: float, behind: float, **more: Any) -> Difference:
    """A difference of skin and background and what follows from them."""
    return Difference(
        sitter=Apart(stops=skin), background=Apart(stops=behind), ratio=Apart(stops=skin - behind), **more
    )


def test_words_for_everything_then_the_key() -> None:
    assert what_to_move(apart(-1.0, -0.65)) == (
        "open 2/3 stop on everything: that brings the background to the hold",
        "then the key up by 1/3 stop of skin",
    )
    assert what_to_move(apart(0.7, 0.0)) == ("the key down by 2/3 stop of skin",)


def test_words_where_the_clip_hides_the_skin() -> None:
    lost = Difference(sitter=Apart(stops=1.8, at_least=True), background=Apart(stops=2.0))
    assert what_to_move(lost) == (
        "close 2 stops on everything: that brings the background to the hold",
        "then look again: what the clip hides may ask for the key too",
    )
    more = Difference(
        sitter=Apart(stops=2.0, at_least=True), background=Apart(stops=1.0), ratio=Apart(stops=1.0, at_least=True)
    )
    assert what_to_move(more)[1] == "then the key down by at least 1 stop of skin"


def test_words_where_little_is_known() -> None:
    assert what_to_move(Difference()) == (UNTOLD,)
    assert what_to_move(Difference(middle=Apart(stops=0.02))) == (MATCHED,)
    assert what_to_move(Difference(middle=Apart(stops=1.0, at_least=True))) == (
        "close at least 1 stop on everything: that brings the middle of the picture to the hold",
    )


def test_sides_are_told_when_the_key_stands_where_it_did() -> None:
    still = apart(0.0, 0.0, side_ratio=Apart(stops=-0.7))
    assert what_to_move(still) == (
        "the right of the face stands out 2/3 stop more: light the left by that, or the right less",
    )
    keyed = apart(-1.0, 0.0, side_ratio=Apart(stops=-0.7))
    assert what_to_move(keyed) == ("the key up by 1 stop of skin",)


def test_words_and_light_agree() -> None:
    """What is asked for, carried out in stops on the scene, closes the difference."""
    _, hold = lit(nd=2.0, sun="off")
    _, live = lit(nd=2.67, sun="off")
    wish = asked(difference(live, hold))
    assert wish.whole is not None and wish.whole == pytest.approx(0.67, abs=0.05)
    _, after = lit(nd=round(2.67 - wish.whole, 3), sun="off")
    assert abs(stops(difference(after, hold).sitter)) < 0.05


def test_cautions_of_words() -> None:
    assert match_cautions(apart(-1.0, 0.0), sky=True) == (LAMPS,)
    assert match_cautions(apart(-1.0, -1.0), sky=True) == (SUN,)
    assert match_cautions(apart(-1.0, -1.0), sky=False) == ()
    assert match_cautions(apart(1.0, 1.0), sky=True) == ()


def test_distances_said_aloud() -> None:
    assert far(Apart(stops=-1.34)) == "1 1/3 stops under"
    assert far(Apart(stops=0.0, at_least=True)) == "alike at least"
