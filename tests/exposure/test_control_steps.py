"""Stepping what is set: the series on the rings, the limits, the camera; locks bind only the planner."""

from __future__ import annotations

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.exposure.control_steps import CONTROL_OF, KNOBS, stepped, steps, toggled
from analysis.exposure.series import aperture_series, iso_series
from analysis.model.camera import CameraProfile
from analysis.model.controls import CONTROLS, ControlLimits, Controls

USUAL = ControlLimits()
CAMERA = CameraProfile(
    name="lake", snr=2.0, bits=10, range="narrow", matrix="bt709", iso_steps=(400.0, 800.0, 3200.0), nd_range=(2.0, 3.0)
)


def walk(knob, up: bool, now: Controls, limits=USUAL, camera=None, most: int = 400) -> list[float | None]:
    """Every value on the way to the end."""
    found = [getattr(now, knob)]
    for _ in range(most):
        after = stepped(knob, up, now, limits, camera)
        if after == now:
            return found
        now = after
        found.append(getattr(now, knob))
    raise AssertionError("it never ends")


def test_iso_goes_by_the_nominal_thirds() -> None:
    # Nominal values of ISO 12232:2019 speed ratings as cameras write them: thirds of a stop; from memory.
    assert walk("iso", True, Controls(iso=400.0))[:8] == [400, 500, 640, 800, 1000, 1250, 1600, 2000]
    assert walk("iso", False, Controls(iso=12800.0)) == [nominal for nominal, _ in reversed(iso_series())]


def test_apertures_go_by_the_nominal_thirds_and_end_in_not_said() -> None:
    down = walk("t_stop", False, Controls(t_stop=2.8))
    assert down[:7] == [2.8, 2.5, 2.2, 2.0, 1.8, 1.6, 1.4]
    assert down[-2:] == [1.0, None]
    assert walk("t_stop", True, Controls(t_stop=1.0)) == [nominal for nominal, _ in aperture_series()]


def test_filters_go_by_the_camera_then_by_the_limits() -> None:
    assert walk("nd_stops", True, Controls(nd_stops=2.0), USUAL, CAMERA) == pytest.approx([2.0, 7 / 3, 8 / 3, 3.0])
    own = ControlLimits(nd_steps=(0.0, 1.0, 6.0))
    assert walk("nd_stops", True, Controls(), own, CAMERA) == [0.0, 1.0, 6.0]
    assert walk("nd_stops", True, Controls())[:4] == [0.0, 2.0, 4.0, 6.0]


def test_iso_of_a_camera_and_a_range_around_it() -> None:
    assert walk("iso", True, Controls(iso=400.0), USUAL, CAMERA) == [400, 800, 3200]
    within = ControlLimits(iso_range=(400.0, 800.0))
    assert walk("iso", True, Controls(iso=400.0), within, CAMERA) == [400, 800]


def test_what_lies_between_two_steps_goes_to_the_next_one() -> None:
    assert stepped("iso", True, Controls(iso=850.0), USUAL).iso == 1000.0
    assert stepped("iso", False, Controls(iso=850.0), USUAL).iso == 800.0
    assert stepped("t_stop", False, Controls(t_stop=0.95), USUAL).t_stop is None


def test_angles_are_the_limits_own_or_the_usual_ones() -> None:
    assert walk("shutter_angle", True, Controls(), ControlLimits(shutter_angles=(90.0, 45.0, 180.0))) == [180.0]
    assert stepped("shutter_angle", False, Controls(), USUAL).shutter_angle == 172.8
    assert walk("shutter_angle", True, Controls())[-1] == 360.0


def test_a_key_begins_in_the_middle_and_can_be_untold() -> None:
    assert stepped("key_percent", True, Controls(), USUAL).key_percent == 50.0
    assert walk("key_percent", True, Controls(key_percent=85.0)) == [85, 90, 95, 100]
    assert walk("key_percent", False, Controls(key_percent=20.0)) == [20, 15, 10, 9, 8, 7, 6, 5, 4, 3, 2, 1, None]
    coarse = ControlLimits(key_step=25.0, key_range=(25.0, 100.0))
    assert walk("key_percent", True, Controls(key_percent=25.0), coarse) == [25, 50, 75, 100]


def test_distances_are_told_in_any_unit() -> None:
    assert stepped("key_distance", True, Controls(), USUAL).key_distance == 2.0
    assert stepped("key_distance", True, Controls(key_distance=2.0), USUAL).key_distance == pytest.approx(2.1)
    feet = ControlLimits(key_distances=(8.0, 4.0))
    assert walk("key_distance", True, Controls(key_distance=4.0), feet) == [4.0, 8.0]


def test_locks_bind_the_planner_and_not_the_operator() -> None:
    locked = msgspec.structs.replace(USUAL, locked=CONTROLS)
    for knob in KNOBS:
        assert steps(knob, Controls(), locked) == steps(knob, Controls(), USUAL)
        assert stepped(knob, False, Controls(t_stop=4.0, key_percent=50.0, key_distance=2.0), locked) != Controls()


@pytest.mark.parametrize("control", CONTROLS)
def test_a_lock_is_a_switch(control) -> None:
    once = toggled(USUAL, control)
    assert once.free(control) != USUAL.free(control)
    assert set(toggled(once, control).locked) == set(USUAL.locked)
    assert all(once.free(other) == USUAL.free(other) for other in CONTROLS if other != control)


def test_every_control_has_its_lock() -> None:
    assert set(CONTROL_OF.values()) == set(CONTROLS)
    assert set(CONTROL_OF) == set(KNOBS)


@given(
    st.sampled_from(KNOBS),
    st.builds(
        Controls,
        nd_stops=st.floats(0.0, 20.0),
        iso=st.floats(1.0, 1e6),
        t_stop=st.none() | st.floats(0.5, 64.0),
        shutter_angle=st.floats(0.1, 360.0),
        key_percent=st.none() | st.floats(0.0, 100.0),
        key_distance=st.none() | st.floats(0.01, 1000.0),
    ),
)
def test_a_step_goes_its_way_or_nowhere_and_touches_nothing_else(knob, now: Controls) -> None:
    before = getattr(now, knob)
    for up in (True, False):
        after = getattr(stepped(knob, up, now, USUAL), knob)
        if before is not None and after is not None:
            assert after >= before if up else after <= before
        rest = msgspec.structs.replace(stepped(knob, up, now, USUAL), **{knob: before})
        assert rest == now
