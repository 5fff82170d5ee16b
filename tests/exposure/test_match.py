"""The match against the truth: rendered scenes whose settings differ by known stops, through curves of all kinds.

Stops of ND, aperture, shutter and ISO are log2 of the light (and gain) they pass: ISO 80000-7 and the exposure
series of ISO 2720; the key's by the scene's own truth of the cheek.
"""

from __future__ import annotations

from itertools import permutations
from typing import Any

import msgspec
import numpy as np
import pytest

from analysis.exposure.match import difference
from analysis.exposure.match_light import Light, pixels_of
from analysis.measure.examiner import known_curve
from analysis.model.hold import Apart, Difference, SmallPicture
from analysis.model.reading import Reading
from analysis.signal.curves import curve
from tests.exposure.match_scenes import lit
from tests.exposure.outdoors import OUTDOORS, reading

CODINGS: list[dict[str, Any]] = [
    {"curve": "bt709"},
    {"curve": "bt709", "layout": "yuv422p10le", "range": "full"},
    {"curve": "hlg", "layout": "yuv422p10le"},
    {"curve": "acescct", "layout": "yuv422p10le"},
    {"curve": "acescct"},
]
ROOM: dict[str, Any] = {"sun": "off", "doors": "shut", "lamp": True, "lamp_at": "key", "lake": 0.3}


def name_of(coding: dict[str, Any]) -> str:
    return f"{coding['curve']}-{'10' if 'layout' in coding else '8'}-{coding.get('range', 'narrow')}"


def stops(apart: Apart | None) -> float:
    assert apart is not None
    return apart.stops


@pytest.mark.parametrize("coding", CODINGS, ids=name_of)
@pytest.mark.parametrize("change", [-2.0, -1.0 / 3.0, 0.5, 1.0])
def test_nd_moves_everything_by_its_stops(coding: dict[str, Any], change: float) -> None:
    _, hold = lit(**coding, nd=3.5, sun="off")
    _, live = lit(**coding, nd=3.5 - change, sun="off")
    found = difference(live, hold)
    for part in (found.sitter, found.background, found.highlights, found.middle):
        # Two stops down, 8-bit BT.709 has the middle of the picture on its straight part: a code is a tenth of a stop.
        assert stops(part) == pytest.approx(change, abs=0.05 if change > -2.0 else 0.1)
        assert part is not None and not part.at_least
    assert stops(found.ratio) == pytest.approx(0.0, abs=0.05 if change > -2.0 else 0.1)
    assert stops(found.side_ratio) == pytest.approx(0.0, abs=0.06)
    assert found.background_by == "surroundings" and found.notes == ()
    for part in (found.sitter, found.background, found.highlights, found.middle, found.ratio, found.side_ratio):
        assert part is not None and part.live is not None and part.hold is not None
        assert part.live - part.hold == pytest.approx(part.stops)


@pytest.mark.parametrize("coding", CODINGS[::3], ids=name_of)
def test_iso_aperture_and_shutter_count_as_nd_does(coding: dict[str, Any]) -> None:
    _, hold = lit(**coding, nd=3.5, sun="off")
    for setting in ({"iso": 1600.0}, {"t_stop": 2.8 / 2.0**0.5}, {"shutter": 360.0}):
        found = difference(lit(**coding, nd=3.5, sun="off", **setting)[1], hold)
        assert stops(found.sitter) == pytest.approx(1.0, abs=0.05), setting
        assert stops(found.middle) == pytest.approx(1.0, abs=0.05), setting


@pytest.mark.parametrize("coding", CODINGS[::2], ids=name_of)
@pytest.mark.parametrize("power", [0.125, 0.7, 1.0])
def test_the_key_moves_the_sitter_and_the_ratio(coding: dict[str, Any], power: float) -> None:
    before, hold = lit(True, **coding, **ROOM, lamp_power=0.5)
    after, live = lit(True, **coding, **ROOM, lamp_power=power)
    skin = after.truth(0.0).skin.stops - before.truth(0.0).skin.stops
    sides = after.truth(0.0).key_over_fill - before.truth(0.0).key_over_fill
    found = difference(live, hold)
    assert stops(found.sitter) == pytest.approx(skin, abs=0.05)
    assert found.background_by == "spot"
    # The wall is far from the key: what spills on it is less than a third of what the sitter gets.
    assert abs(stops(found.background)) < 0.45 * abs(skin)
    assert stops(found.ratio) == pytest.approx(skin - stops(found.background), abs=0.05)
    assert abs(stops(found.side_ratio)) == pytest.approx(abs(sides), abs=0.1)


@pytest.mark.parametrize("coding", CODINGS[::2], ids=name_of)
def test_three_ways_to_read_the_background_agree(coding: dict[str, Any]) -> None:
    before, after = {**ROOM, "lamp_power": 0.5}, {**ROOM, "lamp_power": 1.0}
    by_spot = difference(lit(True, **coding, **after)[1], lit(True, **coding, **before)[1])
    around = difference(lit(**coding, **after)[1], lit(**coding, **before)[1])
    bare = [Light(each.reading, each.curve) for each in (lit(**coding, **after)[1], lit(**coding, **before)[1])]
    rest = difference(*bare)
    assert [found.background_by for found in (by_spot, around, rest)] == ["spot", "surroundings", "rest"]
    assert stops(around.background) == pytest.approx(stops(by_spot.background), abs=0.1)
    assert stops(rest.background) == pytest.approx(stops(by_spot.background), abs=0.1)


def test_a_moving_sitter_leaves_the_surroundings_alone() -> None:
    _, hold = lit(nd=3.5, sun="off")
    _, live = lit(nd=3.5, sun="off", begin=1.8, sway=True)
    found = difference(live, hold)
    assert stops(found.background) == pytest.approx(0.0, abs=0.03)
    assert stops(found.sitter) == pytest.approx(0.0, abs=0.1)


@pytest.mark.parametrize("light", [{"nd": 3.5, "sun": "on"}, {"nd": 2.0, "sun": "off"}, {**ROOM, "lamp_power": 0.7}])
def test_the_same_light_is_the_same_through_every_curve(light: dict[str, Any]) -> None:
    for one, other in permutations(CODINGS, 2):
        found = difference(lit(**one, **light)[1], lit(**other, **light)[1])
        told = (name_of(one), name_of(other), found)
        for part in (found.sitter, found.background, found.highlights, found.middle, found.ratio):
            assert stops(part) == pytest.approx(0.0, abs=0.06), told
        assert stops(found.side_ratio) == pytest.approx(0.0, abs=0.15), told


def test_across_curves_a_known_change_is_still_found() -> None:
    for one, other in permutations(CODINGS, 2):
        found = difference(lit(**one, nd=2.5, sun="off")[1], lit(**other, nd=3.5, sun="off")[1])
        for part in (found.sitter, found.background, found.middle):
            assert stops(part) == pytest.approx(1.0, abs=0.08), (name_of(one), name_of(other))


def test_what_the_clip_hides_is_at_least_so_far_away() -> None:
    _, hold = lit(nd=2.0, sun="off")
    _, live = lit(nd=0.0, sun="off")
    found = difference(live, hold)
    assert found.highlights is not None and found.highlights.at_least
    assert 0.2 < found.highlights.stops < 2.0
    assert found.clipped is not None and found.clipped > 1.0
    back = difference(hold, live)
    assert back.highlights is not None and back.highlights.at_least
    assert back.highlights.stops == pytest.approx(-found.highlights.stops)
    both = difference(live, lit(nd=0.5, sun="off")[1])
    assert both.highlights is None
    assert "highlights clipped in both" in both.notes


def test_points_of_the_clipped_and_crushed_share() -> None:
    _, hold = lit(nd=2.0, sun="off")
    before, after = lit(nd=1.0, sun="off")[1].reading, hold.reading
    assert before.clipped is not None and after.clipped is not None
    found = difference(before, after)
    assert found.clipped == pytest.approx(before.clipped.any - after.clipped.any)
    assert difference(before, before).crushed == 0.0


def test_without_a_curve_there_are_no_stops_and_it_says_so() -> None:
    _, hold = lit(nd=2.0, sun="off")
    bare = msgspec.structs.replace(hold.reading, encoding=msgspec.structs.replace(hold.reading.encoding, curve=None))
    for found, who in ((difference(bare, hold.reading), "this one"), (difference(hold.reading, bare), "the hold")):
        assert found.sitter is found.background is found.highlights is found.middle is found.ratio is None
        assert found.clipped == 0.0
        assert found.notes == (f"stops need the curve of both pictures: {who} does not say its own",)


def test_a_curve_that_is_said_later_stands_before_the_one_that_was_recorded() -> None:
    """Stops measured through another curve are not used: levels go through the right one again."""
    _, hold = lit(curve="hlg", layout="yuv422p10le", nd=3.5, sun="off")
    _, live = lit(curve="hlg", layout="yuv422p10le", nd=2.5, sun="off")
    encoding = msgspec.structs.replace(live.reading.encoding, curve="bt709")
    mistaken = msgspec.structs.replace((live.reading.sitters or ())[0], stops=4.0)
    wrong = msgspec.structs.replace(live.reading, encoding=encoding, sitters=(mistaken,))
    assert stops(difference(wrong, hold.reading).sitter) > 3.0
    found = difference(wrong, hold.reading, curve=curve("hlg"))
    assert stops(found.sitter) == pytest.approx(1.0, abs=0.15)
    assert stops(found.highlights) == pytest.approx(1.0, abs=0.15)
    assert stops(found.middle) == pytest.approx(1.0, abs=0.3)  # luma through the curve, not luminance


def test_skin_beyond_the_clip_is_at_least_so_much_over() -> None:
    live, hold = reading(1.3, *OUTDOORS), reading(0.8, *OUTDOORS)
    gone = msgspec.structs.replace(
        (live.sitters or ())[0], state="clipped", level=None, low=None, high=None, stops=None, clipped=None
    )
    lost = msgspec.structs.replace(live, sitters=(gone,))
    found = difference(lost, hold).sitter
    assert found is not None and found.at_least
    assert found.stops == pytest.approx(6.0 - 0.8, abs=0.2)  # the ceiling of the made-up reading lies at 6 stops
    under = difference(hold, lost).sitter
    assert under is not None and under.at_least and under.stops == pytest.approx(-found.stops)


def test_a_sitter_too_dark_to_read_is_not_told() -> None:
    live, hold = reading(1.3, *OUTDOORS), reading(0.8, *OUTDOORS)
    gone = msgspec.structs.replace((live.sitters or ())[0], state="too dark", level=None, stops=None, clipped=None)
    found = difference(msgspec.structs.replace(live, sitters=(gone,)), hold)
    assert found.sitter is None and found.ratio is None and found.middle is not None


def test_the_main_sitter_is_compared_whatever_the_names() -> None:
    hold = reading(0.8, *OUTDOORS)
    one = (hold.sitters or ())[0]
    second = msgspec.structs.replace(one, name="sitter 7", stops=1.8)
    first = msgspec.structs.replace(one, main=False)
    live = msgspec.structs.replace(hold, sitters=(first, second))
    assert stops(difference(live, hold).sitter) == pytest.approx(1.0)


def test_a_ratio_that_could_be_anything_is_not_told() -> None:
    hold = reading(0.0, *OUTDOORS, background=0.0)
    live = reading(1.0, *OUTDOORS, background=2.0)
    spots = {name: msgspec.structs.replace(spot, clipped=50.0) for name, spot in (live.spots or {}).items()}
    hidden = msgspec.structs.replace(live, spots=spots)
    found = difference(hidden, hold)
    assert found.background is not None and found.background.at_least
    # The sitter stands out at least a stop less: the background may be brighter still.
    assert found.ratio is not None and found.ratio.at_least and found.ratio.stops == pytest.approx(-1.0)
    assert (found.ratio.live, found.ratio.hold) == (pytest.approx(-1.0), pytest.approx(0.0))
    bright = msgspec.structs.replace(hidden, sitters=reading(3.0, *OUTDOORS).sitters)
    assert difference(bright, hold).ratio is None


def test_nobody_in_the_picture_leaves_its_middle_and_highlights() -> None:
    _, hold = lit(nd=3.5, sun="off")
    _, live = lit(nd=2.5, sun="off")
    empty = msgspec.structs.replace(live.reading, sitters=())
    found = difference(empty, hold.reading)
    assert found.sitter is None and found.background is None and found.background_by is None
    assert stops(found.middle) == pytest.approx(1.0, abs=0.05)
    assert stops(found.highlights) == pytest.approx(1.0, abs=0.05)


def test_a_reading_that_was_not_measured_differs_in_nothing() -> None:
    hold = reading(0.8, *OUTDOORS)
    bare = Reading(sequence=0, seconds=0.0, validity="suspect", encoding=hold.encoding, picture=hold.picture)
    assert difference(bare, hold) == Difference()


def test_a_picture_full_of_people_has_no_surroundings() -> None:
    _, live = lit(nd=3.5, sun="off")
    sitter = msgspec.structs.replace((live.reading.sitters or ())[0], box=(0, 0, 640, 360))
    crowd = msgspec.structs.replace(live.reading, sitters=(sitter,))
    assert Light(crowd, live.curve, np.zeros((90, 160, 3), np.uint8)).surroundings() is None


def test_surroundings_lost_in_black_or_white_are_said_to_be() -> None:
    _, live = lit(nd=3.5, sun="off")
    for value, end in ((0, "below"), (255, "above")):
        found = Light(live.reading, live.curve, np.full((90, 160, 3), value, np.uint8)).surroundings()
        assert found is not None and found.hidden == end


def test_pixels_of_a_small_picture() -> None:
    picture = SmallPicture(width=2, height=1, rgb=bytes(range(6)))
    found = pixels_of(picture)
    assert found is not None and found.tolist() == [[[0, 1, 2], [3, 4, 5]]]
    assert pixels_of(None) is None
    assert pixels_of(SmallPicture(width=3, height=1, rgb=bytes(6))) is None
    assert known_curve("bt709") is not None
