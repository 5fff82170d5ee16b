"""One step of one control at a time: what an operator does to tell the program what is set.

Steps follow the limits, the camera profile and the nominal series. Locks bind only the planner: what the operator
has set may always be told. ND, ISO, aperture, angle and distance rise with a step up; so do the numbers on the rings.
"""

from __future__ import annotations

from typing import Literal, get_args

import msgspec

from analysis.exposure.series import aperture_series
from analysis.exposure.settings_grid import iso_choices, nd_choices
from analysis.model.camera import CameraProfile
from analysis.model.controls import CONTROLS, Control, ControlLimits, Controls

Knob = Literal["nd_stops", "iso", "t_stop", "shutter_angle", "key_percent", "key_distance"]
"""What is set by itself: the key has two, its power and its distance."""

KNOBS: tuple[Knob, ...] = get_args(Knob)

CONTROL_OF: dict[Knob, Control] = {
    "nd_stops": "nd",
    "iso": "iso",
    "t_stop": "t_stop",
    "shutter_angle": "shutter_angle",
    "key_percent": "key",
    "key_distance": "key",
}
"""What is locked with each."""

COMMON_ANGLES = (11.25, 22.5, 45.0, 60.0, 72.0, 90.0, 120.0, 144.0, 172.8, 180.0, 216.0, 270.0, 300.0, 360.0)
"""Shutter angles where the limits name none; common practice, no published source."""
_BEGIN: dict[Knob, float] = {"t_stop": 2.8, "key_percent": 50.0, "key_distance": 2.0}
"""Where a control begins that nobody has told of."""
_SAME = 1e-6


def stepped(
    knob: Knob, up: bool, now: Controls, limits: ControlLimits, camera: CameraProfile | None = None
) -> Controls:
    """The controls with one of them a step up or down; the same where there is no further step.

    A control that nobody has told of begins at a usual value with a step up; one step below the least of an aperture
    or a key is untold again.

    >>> small = ControlLimits(nd_steps=(0.0, 2.0, 4.0))
    >>> stepped("nd_stops", True, Controls(nd_stops=2.0), small).nd_stops
    4.0
    >>> stepped("iso", False, Controls(iso=800), ControlLimits()).iso
    640.0
    >>> stepped("t_stop", True, Controls(), ControlLimits()).t_stop
    2.8
    """
    value: float | None = getattr(now, knob)
    if value is None:
        after: float | None = _nearest(_BEGIN[knob], steps(knob, now, limits, camera)) if up else None
    else:
        every = steps(knob, now, limits, camera)
        beyond = [each for each in every if (each > value + _SAME if up else each < value - _SAME)]
        if beyond:
            after = min(beyond) if up else max(beyond)
        else:
            after = None if knob in _BEGIN and not up else value
    return msgspec.structs.replace(now, **{knob: after})


def steps(knob: Knob, now: Controls, limits: ControlLimits, camera: CameraProfile | None = None) -> tuple[float, ...]:
    """Every value a control may be told to have, ascending.

    >>> steps("key_distance", Controls(), ControlLimits(key_distances=(2.0, 1.0)))
    (1.0, 2.0)
    """
    free = msgspec.structs.replace(limits, locked=())
    if knob == "nd_stops":
        return nd_choices(now, free, camera)
    if knob == "iso":
        return tuple(float(each) for each in iso_choices(now, free, camera))
    if knob == "t_stop":
        low, high = limits.t_range or (0.0, 64.0)
        return _within(limits.t_steps or tuple(nominal for nominal, _ in aperture_series()), low, high)
    if knob == "shutter_angle":
        return tuple(sorted(limits.shutter_angles or COMMON_ANGLES))
    if knob == "key_percent":
        return _powers(limits)
    return tuple(sorted(limits.key_distances or _DISTANCES))


def toggled(limits: ControlLimits, control: Control) -> ControlLimits:
    """The limits with a control locked that was free, or free that was locked.

    >>> toggled(ControlLimits(), "t_stop").locked, toggled(ControlLimits(), "nd").locked
    (('shutter_angle',), ('nd', 't_stop', 'shutter_angle'))
    """
    locked = set(limits.locked) ^ {control}
    return msgspec.structs.replace(limits, locked=tuple(each for each in CONTROLS if each in locked))


_DISTANCES = (
    *(round(0.3 + 0.1 * number, 1) for number in range(27)),
    *(3.0 + 0.25 * number for number in range(12)),
    *(6.0 + 0.5 * number for number in range(29)),
)
"""Distances where the limits name none: finer nearby, where a step counts for more. Any unit."""


def _powers(limits: ControlLimits) -> tuple[float, ...]:
    """Powers of a key: by fives where the dial is finer, by ones (or the dial's own step) below ten."""
    low, high = limits.key_range
    fine, coarse = max(limits.key_step, 1.0), max(limits.key_step, 5.0)
    count = int(100.0 / fine) + 1
    every = [fine * number for number in range(count) if fine * number < 10.0]
    every += [coarse * number for number in range(int(100.0 / coarse) + 1) if coarse * number >= 10.0]
    return tuple(sorted({low, high, *_within(tuple(every), low, high)}))


def _within(values: tuple[float, ...], low: float, high: float) -> tuple[float, ...]:
    return tuple(sorted(each for each in values if low - _SAME <= each <= high + _SAME))


def _nearest(value: float, every: tuple[float, ...]) -> float:
    return min(every, key=lambda each: abs(each - value)) if every else value
