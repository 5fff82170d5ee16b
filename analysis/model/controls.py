"""What is set on the camera and the key light, and how far each may be moved."""

from __future__ import annotations

from typing import Literal, get_args

import msgspec

Control = Literal["nd", "iso", "t_stop", "shutter_angle", "key"]
"""What may be locked; ``key`` is power and distance."""

CONTROLS: tuple[Control, ...] = get_args(Control)


class Controls(msgspec.Struct, frozen=True, kw_only=True):
    """What is set now. None is what nobody said: it cannot be moved, and nothing is told in its own terms.

    ``nd_stops`` in stops, ``shutter_angle`` in degrees at ``rate`` frames a second, ``key_percent`` the
    power of the key light on its dial, ``key_distance`` from the sitter in any one unit. ``key_share`` is the part of
    the light on the sitter's lit side that is the key's; 1 is a sitter lit by the key alone.

    >>> round(1.0 / Controls(shutter_angle=172.8, rate=24.0).seconds, 1)
    50.0
    """

    nd_stops: float = 0.0
    iso: float = 800.0
    t_stop: float | None = None
    shutter_angle: float = 180.0
    rate: float = 25.0
    key_percent: float | None = None
    key_distance: float | None = None
    key_share: float = 1.0

    @property
    def seconds(self) -> float:
        """Time the shutter is open."""
        return self.shutter_angle / (360.0 * self.rate)


class ControlLimits(msgspec.Struct, frozen=True, kw_only=True):
    """What may move, between what, in which steps.

    A list of steps that is empty is left to the camera profile, and where that says nothing to common ones: filters
    two stops apart, ISO and apertures in thirds. ``nd_range`` is a variable filter, in steps of ``nd_step``. A range
    bounds the steps of its control. ``locked`` controls stay as they are: by default aperture and
    shutter, which are looks. ``dimmer`` is the key's (percent on the dial, percent of full light), linear where empty.
    """

    nd_steps: tuple[float, ...] = ()
    nd_range: tuple[float, float] | None = None
    nd_step: float = 1.0 / 3.0
    iso_steps: tuple[float, ...] = ()
    iso_range: tuple[float, float] | None = None
    t_steps: tuple[float, ...] = ()
    t_range: tuple[float, float] | None = None
    shutter_angles: tuple[float, ...] = ()
    key_range: tuple[float, float] = (1.0, 100.0)
    key_step: float = 1.0
    key_distances: tuple[float, ...] = ()
    dimmer: tuple[tuple[float, float], ...] = ()
    locked: tuple[Control, ...] = ("t_stop", "shutter_angle")

    def free(self, control: Control) -> bool:
        """Whether a control may move.

        >>> ControlLimits().free("iso"), ControlLimits().free("t_stop")
        (True, False)
        """
        return control not in self.locked
