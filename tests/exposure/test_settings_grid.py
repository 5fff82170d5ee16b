"""What may be set: steps, ranges, locks, what is set now always among it."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.exposure.settings_grid import COMMON_FILTERS, MOST, allowed, iso_choices, nd_choices
from analysis.model.controls import ControlLimits, Controls
from analysis.settings.control_files import camera_named

NOW = Controls(nd_stops=3.0, iso=800.0, t_stop=2.8)


def test_common_steps_where_nobody_says_which() -> None:
    assert nd_choices(NOW, ControlLimits(), None) == tuple(sorted({3.0, *COMMON_FILTERS}))
    isos = iso_choices(NOW, ControlLimits(), None)
    assert isos[0] == 100.0 and isos[-1] == 12800.0 and len(isos) == 22


def test_the_camera_says_and_the_operator_says_first() -> None:
    camera = camera_named("large-sensor-log", {})
    assert nd_choices(NOW, ControlLimits(), camera) == (0.0, 2.0, 3.0, 4.0, 6.0, 8.0)
    assert nd_choices(NOW, ControlLimits(nd_steps=(1.0,)), camera) == (1.0, 3.0)
    assert iso_choices(NOW, ControlLimits(iso_range=(400.0, 1600.0)), camera) == (
        400.0, 500.0, 640.0, 800.0, 1000.0, 1250.0, 1600.0,
    )  # fmt: skip


def test_a_variable_filter_goes_by_thirds_from_end_to_end() -> None:
    found = nd_choices(NOW, ControlLimits(nd_range=(2.0, 4.5)), None)
    assert found[0] == 2.0 and found[-1] == 4.5 and max(np.diff(found)) <= 1 / 3 + 1e-9


def test_fixed_filters_within_a_range() -> None:
    assert nd_choices(NOW, ControlLimits(nd_steps=(0, 2, 4, 6), nd_range=(2.0, 4.0)), None) == (2, 3.0, 4)


def test_locked_controls_stay() -> None:
    every = allowed(NOW, ControlLimits(locked=("nd", "iso", "t_stop", "shutter_angle")))
    assert every.count == 1
    assert (every.nd[0], every.iso[0], every.angle[0]) == (3.0, 800.0, 180.0)
    assert every.t_stop[0] == pytest.approx(2.0**1.5)  # exact, not nominal


def test_free_aperture_and_shutter() -> None:
    limits = ControlLimits(t_range=(2.0, 4.0), shutter_angles=(90.0, 180.0), locked=("nd", "iso"))
    every = allowed(NOW, limits)
    assert every.count == 7 * 2
    assert set(every.angle.tolist()) == {90.0, 180.0}
    assert every.t_stop.min() == 2.0 and every.t_stop.max() == 4.0


def test_an_unknown_aperture_cannot_be_moved() -> None:
    every = allowed(Controls(), ControlLimits(locked=()))
    assert np.isnan(every.t_stop).all()


def test_too_many_settings_move_one_look_at_a_time() -> None:
    limits = ControlLimits(nd_range=(0.0, 20.0), shutter_angles=tuple(range(10, 360, 10)), locked=())
    every = allowed(NOW, limits)
    both = (np.abs(every.t_stop - 2.0**1.5) > 1e-6) & (every.angle != 180.0)
    assert not both.any() and every.count > MOST // 2


def test_however_long_the_lists_few_enough_are_tried() -> None:
    """Two hundred steps of everything would be sixteen million settings."""
    long = tuple(0.1 * number for number in range(1, 201))
    wide = ControlLimits(
        nd_steps=long, iso_steps=tuple(100.0 * each for each in long), t_steps=tuple(1.0 + each for each in long),
        shutter_angles=tuple(10.0 * each for each in long), locked=(),
    )  # fmt: skip
    now = Controls(nd_stops=3.33, iso=850.0, t_stop=2.8, shutter_angle=172.8)
    for most in (MOST, 5_000):
        every = allowed(now, wide, None, most)
        assert every.count <= most
        here = (every.nd == 3.33) & (every.iso == 850.0) & (every.angle == 172.8)
        assert here.any() and every.nd.max() == pytest.approx(20.0) and every.iso.max() == pytest.approx(2000.0)


def test_a_variable_filter_keeps_its_steps_when_looks_are_left_out() -> None:
    wide = ControlLimits(nd_range=(0.0, 10.0), nd_step=1 / 6, locked=(), shutter_angles=(45, 90, 144, 172.8, 180, 270))
    every = allowed(NOW, wide, camera_named("large-sensor-log", {}), 20_000)
    assert every.count <= 20_000 and np.unique(np.round(every.nd, 6)).size == 61
