"""The desk that plans in a watch: paced, at once when something is set anew, never from an old picture."""

from __future__ import annotations

import msgspec
import pytest

from analysis.engine.planning import CONVINCED, DOUBTED, EVERY, STALE, PlanDesk, steadied, untold
from analysis.exposure.subject import MIDDLE
from analysis.model.controls import ControlLimits, Controls
from analysis.model.errors import UsageError
from analysis.model.instant import Instant
from analysis.model.plan import Planned
from analysis.model.sitter import Spot
from analysis.settings.control_files import ControlFile, parse_controls
from analysis.signal.curves import curve
from tests.exposure.outdoors import CAMERA, INDOORS, LOG, OUTDOORS, reading, skin_aim
from tests.tui.deciding import AIM, POLICIES, moment

OUTSIDE = ControlFile(controls=Controls(nd_stops=6.0, iso=800.0))
AIMS = (skin_aim(),)
BRIGHT, EVEN = reading(1.3, *OUTDOORS), reading(1.8, *INDOORS)


def at(seconds: float) -> Instant:
    return Instant(1000.0 + seconds, 1.79e9 + seconds)


def asked(file: ControlFile | None = OUTSIDE, camera=CAMERA) -> PlanDesk:
    desk = PlanDesk(file, policies=POLICIES, camera=camera)
    desk.ask(True)
    return desk


def looked(desk: PlanDesk, made=BRIGHT, seconds: float = 0.0, **more) -> PlanDesk:
    desk.look(made, LOG, AIMS, at(seconds), **more)
    return desk


def ways(desk: PlanDesk) -> list[tuple[float, float]]:
    planned = desk.planning.planned
    assert planned is not None, desk.planning.trouble
    return [(way.controls.nd_stops, way.controls.iso) for way in planned.plans]


def test_nothing_is_planned_before_it_is_asked_for() -> None:
    desk = looked(PlanDesk(OUTSIDE, policies=POLICIES, camera=CAMERA))
    assert desk.planning.planned is None
    assert desk.planning.trouble is None
    assert not desk.asked
    assert desk.planning.said
    assert desk.planning.controls == OUTSIDE.controls
    assert desk.planning.profile is CAMERA
    assert set(desk.planning.policies) == set(POLICIES)


def test_outdoors_the_leading_ways_are_those_of_practice() -> None:
    # Common practice, no published source: ISO 640 at ND 6, or ND 8 with ISO 2000.
    desk = looked(asked())
    assert ways(desk)[:2] == [(6.0, 640.0), (8.0, 2000.0)] or ways(desk)[:2] == [(8.0, 2000.0), (6.0, 640.0)]
    told = desk.planning
    assert told.suggested == "open-sky"
    assert told.policy is None
    assert "clip" in told.why
    assert told.title == POLICIES["open-sky"].title
    assert told.subject == "sitter 1"
    assert told.at == at(0.0)
    assert told.targets == ("sitter 1", MIDDLE)


def test_on_a_rendered_boathouse_the_plan_says_where_the_skin_will_be() -> None:
    """A picture from the renderer, all the way: the same plan as the planner alone makes of it."""
    seen, _, file, camera = moment(nd=1.0)
    desk = PlanDesk(file, policies=POLICIES, camera=camera)
    desk.ask(True)
    desk.look(seen, curve("acescct"), (AIM,), at(0.0))
    planned = desk.planning.planned
    assert planned is not None
    assert planned.now.sitter_level == pytest.approx(seen.sitters[0].level)
    best = planned.plans[0]
    assert abs(best.costs.off_aim_stops) <= 1.0 / 3.0 + 0.05
    # The scene is rendered with that setting, and its skin lies where the plan said: within a tenth of a stop.
    after = moment(nd=best.controls.nd_stops, iso=best.controls.iso)[0]
    assert after.sitters[0].stops == pytest.approx(best.predicted.sitter_stops, abs=0.1)


def test_headroom_now_is_reckoned_as_that_of_the_ways() -> None:
    """The end that a camera profile knows of counts for how things are as it does for every way."""
    seen, _, file, camera = moment(nd=2.0)
    desk = PlanDesk(file, policies=POLICIES, camera=camera)
    desk.ask(True)
    desk.look(seen, curve("acescct"), (AIM,), at(0.0))
    planned, now = desk.planning.planned, desk.planning.headroom_stops
    assert planned is not None
    assert now is not None
    assert seen.headroom_stops is not None
    assert now < seen.headroom_stops - 1.0, "the codes go on where the sensor is full already"
    for way in planned.plans:
        nd = way.controls.nd_stops - file.controls.nd_stops
        if way.controls.t_stop == file.controls.t_stop and way.predicted.headroom_stops:
            # ND moves what the sensor catches; ISO moves the end of the signal along with the picture.
            assert way.predicted.headroom_stops == pytest.approx(now + nd, abs=0.1)


def test_a_plan_outlives_a_dark_picture_by_two_seconds_only() -> None:
    desk = looked(asked())
    before = desk.planning
    desk.doubt(at(STALE - 0.01))
    assert desk.planning is before
    desk.doubt(at(STALE))
    assert desk.planning.planned is None and desk.planning.trouble == DOUBTED
    assert desk.planning.suggested == before.suggested
    looked(desk, seconds=9.0)
    assert desk.planning.planned is not None and desk.planning.trouble is None


def test_nothing_is_said_of_a_dark_picture_where_no_plan_is_asked_for() -> None:
    desk = PlanDesk(OUTSIDE, policies=POLICIES, camera=CAMERA)
    desk.doubt(at(9.0))
    assert desk.planning.trouble is None


def test_plans_are_made_twice_a_second_at_most() -> None:
    desk = looked(asked())
    first = desk.planning
    looked(desk, EVEN, EVERY - 0.01)
    assert desk.planning is first
    looked(desk, EVEN, EVERY)
    assert desk.planning is not first
    assert desk.planning.at == at(EVERY)


def test_other_aims_and_spots_are_planned_at_once() -> None:
    desk = looked(asked())
    desk.look(BRIGHT, LOG, (skin_aim(0.2),), at(0.04))
    assert desk.planning.at == at(0.04)
    spot = Spot(name="wall", kind="background", x=0, y=0, width=0.1, height=0.1)
    desk.look(BRIGHT, LOG, (skin_aim(0.2),), at(0.08), spots=(spot,))
    assert desk.planning.at == at(0.08)
    assert "wall" in desk.planning.targets


def test_what_is_set_anew_is_planned_from_at_once_with_the_last_picture() -> None:
    desk = looked(asked())
    desk.set_controls(msgspec.structs.replace(OUTSIDE.controls, nd_stops=8.0))
    planned = desk.planning.planned
    assert planned is not None
    assert planned.now.controls.nd_stops == desk.planning.controls.nd_stops == 8.0
    assert desk.file.controls.nd_stops == 8.0


def test_limits_stay_where_none_are_given() -> None:
    desk = asked()
    limits = ControlLimits(locked=("nd",))
    desk.set_controls(OUTSIDE.controls, limits)
    desk.set_controls(Controls(nd_stops=4.0))
    assert desk.planning.limits == limits
    looked(desk)
    assert {nd for nd, _ in ways(desk)} == {4.0}


def test_a_policy_of_the_operator_is_followed_and_the_suggestion_still_told() -> None:
    desk = looked(asked())
    desk.set_policy("even-light")
    told = desk.planning
    assert told.planned is not None
    assert told.planned.policy == told.policy == "even-light"
    assert told.suggested == "open-sky"
    desk.set_policy(None)
    assert desk.planning.planned is not None
    assert desk.planning.planned.policy == "open-sky"
    with pytest.raises(UsageError, match="use built-light, even-light, open-sky"):
        desk.set_policy("sky")
    assert desk.planning.policy is None


def test_a_policy_that_is_not_there_is_refused_from_the_start() -> None:
    with pytest.raises(UsageError):
        PlanDesk(ControlFile(policy="mine"), policies=POLICIES)


def test_another_policy_is_suggested_only_when_the_picture_has_called_for_it_a_while() -> None:
    desk = looked(asked())
    seconds = 0.0
    while seconds < CONVINCED:
        seconds += EVERY
        looked(desk, EVEN, seconds)
        if seconds < CONVINCED:
            assert desk.planning.suggested == "open-sky", seconds
    looked(desk, EVEN, seconds + EVERY)
    assert desk.planning.suggested == "even-light"
    looked(desk, BRIGHT, seconds + 2 * EVERY)
    looked(desk, EVEN, seconds + 3 * EVERY)
    looked(desk, EVEN, seconds + 4 * EVERY)
    assert desk.planning.suggested == "even-light", "one bright moment changes nothing"


def test_a_key_that_is_told_of_is_light_you_build_at_once() -> None:
    desk = looked(asked())
    desk.set_controls(msgspec.structs.replace(OUTSIDE.controls, key_percent=50.0))
    assert desk.planning.suggested == "built-light"
    desk.set_controls(OUTSIDE.controls)
    assert desk.planning.suggested == "open-sky"


def test_without_what_is_set_ways_are_steps_and_the_desk_says_so() -> None:
    desk = looked(asked(None))
    told = desk.planning
    assert not told.said
    assert desk.controls is None
    assert told.planned is not None
    assert told.planned.now.controls == untold(ControlLimits(), CAMERA)
    assert told.controls == Controls()
    desk.set_controls(Controls(nd_stops=6.0))
    assert desk.planning.said
    assert desk.controls == Controls(nd_stops=6.0)


def test_untold_controls_have_room_both_ways_within_the_camera() -> None:
    assert untold(ControlLimits(), None).nd_stops == 6.0
    webcam = msgspec.structs.replace(CAMERA, nd_steps=(0.0,))
    assert untold(ControlLimits(), webcam).nd_stops == 0.0
    assert untold(ControlLimits(nd_steps=(0.0, 1.0, 2.0)), CAMERA).nd_stops == 1.0
    assert untold(ControlLimits(), CAMERA).iso == CAMERA.natives[0].iso


def test_sentences_name_what_is_planned_for() -> None:
    desk = looked(asked())
    assert desk.planning.planned is not None
    assert "the sitter" in desk.planning.planned.plans[0].reason
    seen, _, file, camera = moment(nd=3.0)
    desk = PlanDesk(file, policies=POLICIES, camera=camera)
    desk.ask(True)
    desk.plan_for(MIDDLE)
    desk.look(seen, curve("acescct"), (AIM,), at(0.0))
    planned = desk.planning.planned
    assert planned is not None
    assert "the middle" in planned.plans[0].reason and "sitter" not in planned.plans[0].reason
    assert desk.planning.why.endswith("brighter than the middle")


def test_what_is_missing_is_told_in_steps_where_nothing_was_said() -> None:
    dark = reading(-12.0, (100.0, -10.0, -8.0))
    told = looked(asked(None), dark).planning.planned
    assert told is not None
    assert told.missing is not None
    assert told.missing.endswith("short even so: more light")
    told = looked(asked(), dark).planning.planned
    assert told is not None
    assert told.missing is not None
    assert "ISO" in told.missing


@pytest.mark.parametrize(
    ("made", "how", "words"),
    [
        (BRIGHT, None, "stops need the curve of this feed; start the watch with --curve NAME"),
        (msgspec.structs.replace(BRIGHT, clipped=None), LOG, "this picture is not measured yet"),
        (msgspec.structs.replace(BRIGHT, sitters=()), LOG, "no face is seen; place a spot on the skin"),
    ],
)
def test_trouble_is_one_line_and_there_is_no_plan(made, how, words: str) -> None:
    desk = looked(asked())
    desk.look(made, how, AIMS, at(1.0))
    assert desk.planning.planned is None
    assert (desk.planning.trouble or "").startswith(words)
    assert desk.planning.subject is None
    looked(desk, BRIGHT, 2.0)
    assert desk.planning.trouble is None
    assert desk.planning.planned is not None


def test_without_an_aim_it_says_where_to_write_one() -> None:
    desk = asked()
    desk.look(BRIGHT, LOG, (), at(0.0))
    assert desk.planning.trouble == "there is no aim for sitter 1; write [aims.sitter] in your settings"


def test_a_picture_that_is_gone_takes_its_plan_with_it() -> None:
    desk = looked(asked())
    desk.look(None, LOG, AIMS, at(0.04))
    assert desk.planning.planned is None
    assert desk.planning.trouble == "there is no picture to plan from"
    desk.set_controls(Controls(nd_stops=4.0))
    assert desk.planning.planned is None, "nothing is planned from a picture of before"
    looked(desk, BRIGHT, 0.08)
    assert desk.planning.planned is not None


def test_planning_ends_when_it_is_no_longer_asked_for() -> None:
    desk = looked(asked())
    desk.ask(False)
    assert desk.planning.planned is None
    looked(desk, BRIGHT, 1.0)
    desk.forget()
    assert desk.planning.planned is None
    assert desk.planning.trouble is None


def test_the_operator_may_plan_for_another_part_of_the_picture() -> None:
    desk = looked(asked())
    desk.plan_for(MIDDLE)
    assert desk.planning.subject == MIDDLE
    assert desk.planning.target == MIDDLE
    assert desk.planning.planned is not None
    desk.plan_for("bench")
    assert desk.planning.trouble == "bench is not in the picture; choose what to plan for"
    desk.plan_for(None)
    assert desk.planning.subject == "sitter 1"


def test_the_rate_of_the_feed_stands_in_for_the_usual_one() -> None:
    desk = looked(asked(), rate=24.0)
    assert desk.planning.controls.rate == 24.0
    desk.set_controls(desk.planning.controls)
    assert desk.file.controls.rate == 25.0, "what nobody said is not kept as if it had been"
    assert desk.planning.controls.rate == 24.0
    own = looked(asked(ControlFile(controls=Controls(rate=50.0))), rate=24.0)
    assert own.planning.controls.rate == 50.0


def shuffled(planned: Planned, totals: dict[int, float]) -> Planned:
    """The plans with other costs, in the order of those."""
    plans = [
        msgspec.structs.replace(way, costs=msgspec.structs.replace(way.costs, total=totals.get(place, way.costs.total)))
        for place, way in enumerate(planned.plans)
    ]
    return msgspec.structs.replace(planned, plans=tuple(sorted(plans, key=lambda way: way.costs.total)))


def test_ways_of_nearly_one_worth_do_not_change_places() -> None:
    planned = looked(asked()).planning.planned
    assert planned is not None
    assert len(planned.plans) >= 2
    best = planned.plans[0].costs.total
    near, far = shuffled(planned, {1: best - 0.1}), shuffled(planned, {1: best - 0.5})
    assert [way.controls for way in near.plans] != [way.controls for way in planned.plans]
    assert [way.controls for way in steadied(near, planned).plans] == [way.controls for way in planned.plans]
    assert steadied(far, planned) is far
    assert steadied(near, None) is near
    other = msgspec.structs.replace(planned, policy="even-light")
    assert steadied(near, other) is near


def test_a_shutter_time_is_not_taken_for_an_angle_at_another_rate() -> None:
    desk = looked(asked(parse_controls("[controls]\nshutter = '1/50'\nnd_stops = 6", "x.toml")), rate=50.0)
    assert desk.planning.controls.shutter_angle == 360.0 and desk.planning.controls.seconds == pytest.approx(0.02)
    desk.set_controls(msgspec.structs.replace(desk.planning.controls, shutter_angle=180.0))
    assert desk.planning.controls.shutter_angle == 180.0  # from now on the angle is what was told
