"""Every setting that the controls allow, as arrays of one length: what the planner tries."""

from __future__ import annotations

from collections.abc import Iterable

import msgspec
import numpy as np
import numpy.typing as npt

from analysis.exposure.series import aperture_series, exact_aperture, iso_series
from analysis.model.camera import CameraProfile
from analysis.model.controls import ControlLimits, Controls

Floats = npt.NDArray[np.float64]

COMMON_FILTERS = (0.0, 2.0, 4.0, 6.0, 8.0, 10.0)
"""ND in stops where neither limits nor camera say which there are; common practice, no published source."""
COMMON_ISO = (100.0, 12800.0)
COMMON_T = (1.0, 22.0)
MOST = 50_000
"""Settings beyond which aperture and shutter, both looks, are not moved together but one at a time."""


class Settings(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """Camera settings, one a place: stops of ND, ISO, exact T numbers (NaN where not known), degrees."""

    nd: Floats
    iso: Floats
    t_stop: Floats
    angle: Floats

    @property
    def count(self) -> int:
        """How many there are."""
        return int(self.nd.size)


def allowed(now: Controls, limits: ControlLimits, camera: CameraProfile | None = None) -> Settings:
    """All that may be set, what is set now among it.

    >>> small = ControlLimits(nd_steps=(2.0, 4.0), iso_steps=(400.0, 800.0))
    >>> every = allowed(Controls(nd_stops=2.0), small)
    >>> sorted(zip(every.nd.tolist(), every.iso.tolist()))
    [(2.0, 400.0), (2.0, 800.0), (4.0, 400.0), (4.0, 800.0)]
    """
    nd = nd_choices(now, limits, camera)
    iso = iso_choices(now, limits, camera)
    lens = _lens_choices(now, limits)
    angles = _angle_choices(now, limits)
    if len(nd) * len(iso) * len(lens) * len(angles) <= MOST:
        return _grid(nd, iso, lens, angles)
    one, other = _grid(nd, iso, lens, (now.shutter_angle,)), _grid(nd, iso, (now.t_stop,), angles)
    return Settings(
        **{name: np.concatenate([getattr(one, name), getattr(other, name)]) for name in Settings.__struct_fields__}
    )


def _grid(
    nd: tuple[float, ...], iso: tuple[float, ...], lens: tuple[float | None, ...], angles: tuple[float, ...]
) -> Settings:
    exact = [np.nan if each is None else exact_aperture(each) for each in lens]
    every = np.meshgrid(nd, iso, exact, angles, indexing="ij")
    flat = [np.asarray(each, np.float64).ravel() for each in every]
    return Settings(nd=flat[0], iso=flat[1], t_stop=flat[2], angle=flat[3])


def nd_choices(now: Controls, limits: ControlLimits, camera: CameraProfile | None) -> tuple[float, ...]:
    """Stops of ND that may be set."""
    if not limits.free("nd"):
        return (now.nd_stops,)
    steps = limits.nd_steps
    reach = limits.nd_range
    if not steps and reach is None and camera is not None:
        steps, reach = camera.nd_steps, camera.nd_range
    if reach is not None and not steps:
        count = int((reach[1] - reach[0]) / limits.nd_step + 1e-6)
        steps = (*(reach[0] + limits.nd_step * number for number in range(count + 1)), reach[1])
    elif reach is not None:
        steps = tuple(each for each in steps if reach[0] - 1e-6 <= each <= reach[1] + 1e-6)
    return _with(now.nd_stops, steps or COMMON_FILTERS)


def iso_choices(now: Controls, limits: ControlLimits, camera: CameraProfile | None) -> tuple[float, ...]:
    """ISO values that may be set, by their nominal numbers."""
    if not limits.free("iso"):
        return (now.iso,)
    steps = limits.iso_steps or (camera.iso_steps if camera is not None else ())
    low, high = limits.iso_range or ((0.0, 1e9) if steps else COMMON_ISO)
    return _with(now.iso, (each for each in steps or (n for n, _ in iso_series()) if low <= each <= high))


def _lens_choices(now: Controls, limits: ControlLimits) -> tuple[float | None, ...]:
    if not limits.free("t_stop") or now.t_stop is None:
        return (now.t_stop,)
    low, high = limits.t_range or COMMON_T
    steps = limits.t_steps or tuple(nominal for nominal, _ in aperture_series())
    return _with(now.t_stop, (each for each in steps if low <= each <= high))


def _angle_choices(now: Controls, limits: ControlLimits) -> tuple[float, ...]:
    if not limits.free("shutter_angle") or not limits.shutter_angles:
        return (now.shutter_angle,)
    return _with(now.shutter_angle, limits.shutter_angles)


def _with(own: float, steps: Iterable[float]) -> tuple[float, ...]:
    return tuple(sorted({own, *steps}))
