"""The desk of holds: kept, chosen, forgotten; what is told of the live picture, when, and what the alarm may judge."""

from __future__ import annotations

from typing import Any

import msgspec
import numpy as np
import pytest

from analysis.engine.matching import (
    AROUND_SECONDS,
    DOUBTED,
    NO_PICTURE,
    NOT_SAID,
    PLAN_SECONDS,
    STALE_SECONDS,
    MatchDesk,
    small_picture,
)
from analysis.exposure.match import difference
from analysis.exposure.match_light import Light, pixels_of
from analysis.exposure.plan_words import SUN
from analysis.model.controls import ControlLimits, Controls
from analysis.model.errors import SettingsError, StopkeeperError, UsageError
from analysis.model.hold import Hold
from analysis.model.instant import Instant
from analysis.model.reading import Measurement, Reading, View
from analysis.settings.hold_files import MOST_HOLDS, parse_hold, to_json
from tests.exposure.boathouse import renderer
from tests.exposure.match_scenes import measured
from tests.exposure.outdoors import OUTDOORS, reading

FEED = "scene:boathouse"
SET = Controls(nd_stops=6.0, iso=800.0)


def at(seconds: float) -> Instant:
    return Instant(seconds, 1_790_000_000.0 + seconds)


def kept(name: str, utc: float, skin: float = 0.8) -> Hold:
    return Hold(name=name, at=Instant(0.0, utc), feed=FEED, reading=reading(skin, *OUTDOORS))


def brighter(stops: float) -> Reading:
    """The picture of the holds with this much more light everywhere."""
    return reading(0.8 + stops, *((share, low + stops, high + stops) for share, low, high in OUTDOORS))


def view_of(value: int, shape: tuple[int, int] = (90, 160)) -> View:
    small = np.full((*shape, 3), value, np.uint8)
    return View(trace=np.zeros((2, 2), np.float32), trace_rgb=None, low=0.0, step=1.0, small=small)


@pytest.fixture
def desk() -> MatchDesk:
    return MatchDesk((kept("bench", 100.0), kept("doors", 300.0), kept("lamp", 200.0)))


def chosen(desk: MatchDesk, name: str = "bench") -> MatchDesk:
    desk.choose(name)
    return desk


def test_holds_of_earlier_sessions_are_listed_newest_first_and_none_is_chosen(desk: MatchDesk) -> None:
    found = desk.matching
    assert found.names == ("doors", "lamp", "bench")
    assert next((each.name, each.at.utc, each.feed) for each in found.marks) == ("doors", 300.0, FEED)
    assert found.hold is None and found.difference is None and found.moves == ()


def test_nothing_is_compared_until_a_hold_is_chosen(desk: MatchDesk) -> None:
    desk.look(reading(1.3, *OUTDOORS), None, at(0.0), controls=SET, planning_wanted=True)
    assert desk.matching.difference is None and desk.drift_stops() is None


def test_a_difference_outlives_a_dark_picture_by_two_seconds_only(desk: MatchDesk) -> None:
    chosen(desk)
    desk.look(reading(1.3, *OUTDOORS), None, at(0.0), controls=SET, planning_wanted=True)
    dark = msgspec.structs.replace(reading(1.3, *OUTDOORS), validity="suspect")
    desk.look(dark, None, at(STALE_SECONDS - 0.01), controls=SET, planning_wanted=True)
    assert desk.matching.difference is not None and desk.matching.planned is not None
    assert desk.drift_stops() is None
    for seconds in (STALE_SECONDS, STALE_SECONDS + 5.0):
        desk.look(dark, None, at(seconds), controls=SET, planning_wanted=True)
        found = desk.matching
        assert found.difference is None and found.planned is None and found.moves == () and found.trouble == DOUBTED
    desk.look(reading(1.3, *OUTDOORS), None, at(20.0), controls=SET, planning_wanted=True)
    assert desk.matching.difference is not None and desk.matching.trouble is None


def test_the_difference_stands_at_every_reading(desk: MatchDesk) -> None:
    chosen(desk)
    for number, skin in enumerate((1.3, 1.1, 0.4)):
        desk.look(reading(skin, *OUTDOORS), None, at(number * 0.04))
        found = desk.matching.difference
        assert found is not None and found.sitter is not None
        assert found.sitter.stops == pytest.approx(skin - 0.8)
        assert desk.drift_stops() == pytest.approx(skin - 0.8)


def test_keeping_compares_with_what_was_kept() -> None:
    desk = MatchDesk()
    live = reading(0.8, *OUTDOORS)
    made = desk.keep(None, live, view_of(90), FEED, at(5.0), SET)
    assert made.name == "hold 1 14.13"  # 1790000005 s is 14:13:25 UTC (POSIX, seconds since the epoch)
    assert made.controls == SET and made.feed == FEED and made.reading == live
    assert desk.matching.hold is made and desk.matching.names == (made.name,)
    desk.look(live, view_of(90), at(5.1))
    assert desk.matching.moves == ("nothing to move: it matches to within a sixth of a stop",)
    assert parse_hold(to_json(made), "x").name == made.name, "made names can be files"


def test_made_names_are_free_and_in_the_operators_time() -> None:
    desk = MatchDesk(utc_offset=-3600.0)
    names = [desk.keep(None, reading(0.8, *OUTDOORS), None, FEED, at(0.0)).name for _ in range(3)]
    assert names == ["hold 1 13.13", "hold 2 13.13", "hold 3 13.13"]
    desk.drop("hold 1 13.13")
    assert desk.keep(None, reading(0.8, *OUTDOORS), None, FEED, at(0.0)).name == "hold 4 13.13"


@pytest.mark.parametrize("name", ["bench", "BENCH", " bench  "])
def test_a_name_is_given_once(desk: MatchDesk, name: str) -> None:
    with pytest.raises(UsageError, match="there is a hold .* already; forget it first"):
        desk.keep(name, reading(0.8, *OUTDOORS), None, FEED, at(0.0))


def test_what_cannot_be_kept_is_refused_in_one_line(desk: MatchDesk) -> None:
    with pytest.raises(UsageError, match="there is no picture to keep"):
        desk.keep("x", None, None, FEED, at(0.0))
    bare = msgspec.structs.replace(reading(0.8, *OUTDOORS), luma=None)
    with pytest.raises(UsageError, match="there is no picture to keep"):
        desk.keep("x", bare, None, FEED, at(0.0))
    for validity in ("suspect", "priming"):
        doubtful = msgspec.structs.replace(reading(0.8, *OUTDOORS), validity=validity)
        with pytest.raises(UsageError, match=f"the picture is {validity}"):
            desk.keep("x", doubtful, None, FEED, at(0.0))
    with pytest.raises(SettingsError, match="is not a usable name"):
        desk.keep("a/b", reading(0.8, *OUTDOORS), None, FEED, at(0.0))
    assert len(desk.holds) == 3


def test_there_is_a_most(desk: MatchDesk) -> None:
    for _ in range(MOST_HOLDS - 3):
        desk.keep(None, reading(0.8, *OUTDOORS), None, FEED, at(0.0))
    with pytest.raises(UsageError, match="there are 100 holds; forget one first"):
        desk.keep(None, reading(0.8, *OUTDOORS), None, FEED, at(0.0))


def test_choosing_another_starts_afresh(desk: MatchDesk) -> None:
    chosen(desk).look(reading(1.3, *OUTDOORS), None, at(0.0), controls=SET, planning_wanted=True)
    assert desk.matching.planned is not None
    desk.choose("doors")
    assert desk.matching.hold is not None and desk.matching.hold.name == "doors"
    assert desk.matching.difference is None and desk.matching.planned is None and desk.matching.moves == ()
    desk.choose(None)
    assert desk.matching.hold is None and desk.drift_stops() is None
    with pytest.raises(UsageError, match="there is no hold porch; choose one of the list"):
        desk.choose("porch")


def test_forgetting(desk: MatchDesk) -> None:
    chosen(desk).look(reading(1.3, *OUTDOORS), None, at(0.0))
    assert desk.drop("lamp").name == "lamp"
    assert desk.matching.names == ("doors", "bench") == tuple(mark.name for mark in desk.matching.marks)
    assert desk.matching.difference is not None, "another one's end changes nothing"
    desk.drop("bench")
    assert desk.matching.hold is None and desk.matching.difference is None and desk.drift_stops() is None
    with pytest.raises(StopkeeperError):
        desk.drop("bench")


def test_plans_come_about_once_a_second_and_at_once_when_something_is_set_anew(desk: MatchDesk) -> None:
    chosen(desk)

    def look(seconds: float, skin: float, controls: Controls | None = SET, wanted: bool = True) -> Any:
        desk.look(brighter(skin), None, at(seconds), controls=controls, planning_wanted=wanted)
        return desk.matching.planned

    first = look(0.0, 1.0)
    assert first is not None and first.policy == "match"
    assert look(0.5, 2.0) is first and desk.matching.moves[0].startswith("close 1 stop")
    second = look(PLAN_SECONDS, 2.0)
    assert second is not first and desk.matching.moves[0].startswith("close 2 stops")
    other = look(PLAN_SECONDS + 0.04, 2.0, Controls(nd_stops=4.0, iso=800.0))
    assert other is not second and other.now.controls.nd_stops == 4.0
    assert look(PLAN_SECONDS + 0.08, 2.0, wanted=False) is None
    assert desk.matching.moves, "words are told whatever is planned"


def test_limits_and_camera_reach_the_plan(desk: MatchDesk) -> None:
    chosen(desk)
    locked = ControlLimits(locked=("nd", "t_stop", "shutter_angle"), iso_range=(800.0, 1600.0))
    desk.look(brighter(1.0), None, at(0.0), controls=SET, limits=locked, planning_wanted=True)
    assert desk.matching.planned is not None and desk.matching.planned.missing is not None


def test_where_nobody_said_what_is_set_there_are_words_and_the_reason(desk: MatchDesk) -> None:
    chosen(desk).look(brighter(1.0), None, at(0.0), planning_wanted=True)
    found = desk.matching
    assert found.planned is None and found.trouble == NOT_SAID
    assert found.moves[0].startswith("close 1 stop on everything") and found.cautions == ()


def test_advice_to_open_towards_bright_light_brings_its_caution(desk: MatchDesk) -> None:
    chosen(desk).look(brighter(-0.35), None, at(0.0))
    found = desk.matching
    assert found.moves[0].startswith("open 1/3 stop on everything")
    assert found.cautions == (SUN,)
    desk.forget()
    assert desk.matching.cautions == ()


def test_without_a_curve_it_says_why_nothing_is_told(desk: MatchDesk) -> None:
    live = brighter(1.0)
    bare = msgspec.structs.replace(live, encoding=msgspec.structs.replace(live.encoding, curve=None))
    chosen(desk).look(bare, None, at(0.0), controls=SET, planning_wanted=True)
    assert desk.matching.planned is None
    assert desk.matching.trouble == "stops need the curve of both pictures: this one does not say its own"
    assert desk.drift_stops() is None


def test_a_lost_picture_leaves_nothing_standing(desk: MatchDesk) -> None:
    chosen(desk).look(brighter(1.0), None, at(0.0), controls=SET, planning_wanted=True)
    desk.look(None, None, at(0.1), controls=SET, planning_wanted=True)
    found = desk.matching
    assert found.difference is None and found.planned is None and found.moves == ()
    assert found.trouble == NO_PICTURE and found.hold is not None
    assert desk.drift_stops() is None
    desk.look(brighter(1.0), None, at(0.2), controls=SET, planning_wanted=True)
    assert desk.matching.planned is not None and desk.matching.trouble is None


def test_a_damaged_frame_changes_nothing_but_no_alarm_may_judge_by_it(desk: MatchDesk) -> None:
    chosen(desk).look(brighter(1.0), None, at(0.0))
    before = desk.matching
    torn = msgspec.structs.replace(reading(5.0, *OUTDOORS), validity="suspect")
    desk.look(torn, None, at(0.04))
    assert desk.matching is before and desk.drift_stops() is None
    late = msgspec.structs.replace(brighter(1.0), validity="late")
    desk.look(late, None, at(0.08))
    assert desk.matching.difference is not None and desk.drift_stops() is None


def test_the_drift_is_the_skins_else_the_pictures_middle(desk: MatchDesk) -> None:
    live = msgspec.structs.replace(brighter(0.5), sitters=brighter(1.0).sitters)
    chosen(desk).look(live, None, at(0.0))
    assert desk.drift_stops() == pytest.approx(1.0)
    desk.look(msgspec.structs.replace(live, sitters=()), None, at(0.04))
    assert desk.drift_stops() == pytest.approx(0.5, abs=0.02)


def test_what_lies_around_the_sitters_is_looked_for_now_and_then(monkeypatch: pytest.MonkeyPatch) -> None:
    looks = []
    true = Light._look_around

    def counted(light: Light) -> Any:
        if light._pixels is not None:
            looks.append(light._pixels.shape)
        return true(light)

    monkeypatch.setattr(Light, "_look_around", counted)
    live = reading(0.8, *OUTDOORS)
    desk = MatchDesk()
    desk.keep("bench", live, view_of(90), FEED, at(0.0))
    for number in range(26):
        desk.look(live, view_of(120, (270, 480)), at(number * 0.04))
        found = desk.matching.difference
        assert found is not None and found.background_by == "surroundings"
    assert looks[0] == (90, 160, 3), "the hold's own picture, once"
    assert 1.04 / AROUND_SECONDS - 3 <= len(looks[1:]) <= 1.04 / AROUND_SECONDS + 1
    assert set(looks[1:]) == {(90, 160, 3)}, "a large picture is thinned out first"


def test_a_look_around_that_is_old_counts_no_more() -> None:
    live = reading(0.8, *OUTDOORS)
    desk = MatchDesk()
    desk.keep("bench", live, view_of(90), FEED, at(0.0))
    ways = []
    for seconds, view in ((0.0, view_of(90)), (1.0, None), (STALE_SECONDS + 0.1, None)):
        desk.look(live, view, at(seconds))
        assert desk.matching.difference is not None
        ways.append(desk.matching.difference.background_by)
    assert ways == ["surroundings", "surroundings", "rest"]


def test_the_desk_and_the_measurement_agree_on_a_rendered_scene() -> None:
    """One stop of ND (ISO 80000-7: a factor of two in light) through keeping, the file and the desk."""
    before, after = (measured(renderer(nd=nd, sun="off")) for nd in (3.5, 2.5))
    desk = MatchDesk()
    made = desk.keep("bench", before.reading, before.view, FEED, at(0.0))
    again = MatchDesk((parse_hold(to_json(made), "bench.json"),))
    again.choose("bench")
    again.look(after.reading, after.view, at(1.0), controls=Controls(nd_stops=2.5), planning_wanted=True)
    found = again.matching.difference
    assert found is not None
    for apart in (found.sitter, found.background, found.highlights, found.middle):
        assert apart is not None and apart.stops == pytest.approx(1.0, abs=0.05)
    assert again.matching.planned is not None and again.matching.moves[0].startswith("close 1 stop")
    assert close_to_direct(found, before, after)


def close_to_direct(found: Any, before: Measurement, after: Measurement) -> bool:
    direct = difference(_light(after), _light(before))
    return abs(found.background.stops - direct.background.stops) < 0.03


def _light(one: Measurement) -> Light:
    from analysis.measure.examiner import known_curve

    assert one.view is not None
    return Light(one.reading, known_curve(one.reading.encoding.curve), one.view.small)


def test_small_pictures_keep_their_proportions() -> None:
    tall = small_picture(np.zeros((1920, 1080, 3), np.uint8))
    assert (tall.width, tall.height) == (51, 90)
    tiny = np.arange(24, dtype=np.uint8).reshape(2, 4, 3)
    pixels = pixels_of(small_picture(tiny))
    assert pixels is not None and pixels.tolist() == tiny.tolist()
    sliver = small_picture(np.zeros((1, 4000, 3), np.uint8))
    assert (sliver.width, sliver.height) == (160, 1)


def test_a_reading_without_anything_measured_is_looked_at_in_peace(desk: MatchDesk) -> None:
    usual = reading(0.8, *OUTDOORS)
    bare = Reading(sequence=0, seconds=0.0, validity="good", encoding=usual.encoding, picture=usual.picture)
    chosen(desk).look(bare, None, at(0.0), controls=SET, planning_wanted=True)
    assert desk.matching.difference is not None and desk.matching.planned is None
    assert desk.matching.trouble is not None and desk.drift_stops() is None
