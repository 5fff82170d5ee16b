"""Every setting that the controls allow, as arrays of one length: what the planner tries."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TypeVar

import msgspec
import numpy as np
import numpy.typing as npt

from analysis.exposure.series import aperture_series, exact_aperture, iso_series
from analysis.model.camera import CameraProfile
from analysis.model.controls import ControlLimits, Controls

T = TypeVar("T", float, float | None)
Floats = npt.NDArray[np.float64]

COMMON_FILTERS = (0.0, 2.0, 4.0, 6.0, 8.0, 10.0)
"""ND in stops where neither limits nor camera say which there are; common practice, no published source."""
COMMON_ISO = (100.0, 12800.0)
COMMON_T = (1.0, 22.0)
MOST = 40_000
"""Settings beyond which aperture and shutter, both looks, are not moved together but one at a time; where that is
still too many, every second value of the longest list is left out."""
FEW_LOOKS = 6
"""Values of aperture or of shutter that are kept before steps of ND and ISO are left out."""


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


def allowed(now: Controls, limits: ControlLimits, camera: CameraProfile | None = None, most: int = MOST) -> Settings:
    """All that may be set, what is set now among it; of very long lists only so much as makes ``most`` settings.

    >>> small = ControlLimits(nd_steps=(2.0, 4.0), iso_steps=(400.0, 800.0))
    >>> every = allowed(Controls(nd_stops=2.0), small)
    >>> sorted(zip(every.nd.tolist(), every.iso.tolist()))
    [(2.0, 400.0), (2.0, 800.0), (4.0, 400.0), (4.0, 800.0)]
    """
    nd = nd_choices(now, limits, camera)
    iso = iso_choices(now, limits, camera)
    lens = _lens_choices(now, limits)
    angles = _angle_choices(now, limits)
    if len(nd) * len(iso) * len(lens) * len(angles) <= most:
        return _grid(nd, iso, lens, angles)
    while len(nd) * len(iso) * (len(lens) + len(angles)) > most:
        if max(len(lens), len(angles)) > FEW_LOOKS:
            if len(lens) >= len(angles):
                lens = _halved(lens, now.t_stop)
            else:
                angles = _halved(angles, now.shutter_angle)
        elif len(nd) >= len(iso):
            nd = _halved(nd, now.nd_stops)
        else:
            iso = _halved(iso, now.iso)
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


def thinned(values: tuple[float, ...], most: int, own: float | None) -> tuple[float, ...]:
    """At most so many of the values (and the last, and the ``own`` one), evenly chosen.

    >>> thinned((1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0), 4, 2.0), thinned((1.0, 2.0), 4, None)
    ((1.0, 2.0, 3.0, 5.0, 7.0), (1.0, 2.0))
    """
    found = values
    while len(found) > most:
        found = found[::2]
    if found == values:
        return values
    return tuple(sorted({*found, values[-1], *((own,) if own in values else ())}))


def _halved(values: tuple[T, ...], own: T) -> tuple[T, ...]:
    """Every second value; the last and the own one stay."""
    kept = {0, len(values) - 1, values.index(own)} | set(range(0, len(values), 2))
    halved = tuple(values[place] for place in sorted(kept))
    return halved if len(halved) < len(values) else (own,)


def _with(own: float, steps: Iterable[float]) -> tuple[float, ...]:
    return tuple(sorted({own, *steps}))


def joined(base: Settings, keyed: Settings, times: int) -> Settings:
    """The settings as they are, then those that go with a key so many times."""
    return Settings(
        **{
            name: np.concatenate([getattr(base, name), np.tile(getattr(keyed, name), times)])
            for name in Settings.__struct_fields__
        }
    )


def same_looks(every: Settings, now: Controls) -> Settings:
    """The settings that leave aperture and shutter as they are."""
    same = every.angle == now.shutter_angle
    if now.t_stop is not None:
        same &= np.abs(np.log2(every.t_stop / exact_aperture(now.t_stop))) < 1e-6
    return Settings(**{name: getattr(every, name)[same] for name in Settings.__struct_fields__})


def only_as_set(every: Settings, now: Controls) -> Settings:
    """The one setting that leaves the camera as it is."""
    same = (every.nd == now.nd_stops) & (every.iso == now.iso) & (every.angle == now.shutter_angle)
    if now.t_stop is not None:
        same &= np.abs(np.log2(every.t_stop / now.t_stop)) < 0.1
    place = np.flatnonzero(same)[:1]
    return Settings(**{name: getattr(every, name)[place] for name in Settings.__struct_fields__})
