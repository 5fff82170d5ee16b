"""The light over a short time in which it stood still: a mean with less noise, without what moved."""

from __future__ import annotations

from collections.abc import Iterable

import msgspec
import numpy as np
import numpy.typing as npt

from analysis.exposure.turn_compare import SITTER_MOVED, Look
from analysis.exposure.turn_zones import Lit, main_box, overlap
from analysis.model.light import LightMap

UNSTEADY = 0.04
"""A cell whose light goes by more than this between the halves of the time, beside its noise, has moved."""
NOISE = 2.0
LEAP = 4.0
"""Times the usual noise of the picture's cells that a cell may have."""


class Rest(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """The mean ``look``, trusted only where ``steady``."""

    look: Look
    steady: npt.NDArray[np.bool_]


def rest_of(looks: tuple[Look, ...], restless: float = 0.0) -> Rest:
    """The mean of some looks in the order of their times, at least two; ``restless`` is a known beat of the light."""
    lights = [look.light for look in looks]
    stops = np.stack([light.stops for light in lights])
    half = max(1, len(lights) // 2)
    went = np.abs(stops[-half:].mean(0) - stops[:half].mean(0))
    if len(lights) > 2:
        # From look to look noise shows, slow movement hardly; what leaps in one place alone is no noise.
        noise = np.abs(np.diff(stops, axis=0)).mean(0)
        went = went - NOISE / np.sqrt(half) * np.minimum(noise, LEAP * np.median(noise))
    steady = np.asarray(went < UNSTEADY + restless)
    trusted = np.logical_and.reduce([light.trusted for light in lights])
    newest = looks[-1]
    light = msgspec.structs.replace(
        newest.light, stops=stops.mean(0, dtype=np.float32), trusted=np.asarray(trusted & steady)
    )
    known = [look for look in looks if look.sitters]
    if not known:
        return Rest(look=Look(light=light, sitters=()), steady=steady)
    first, last = main_box(known[0].sitters), main_box(known[-1].sitters)
    unrest = first is not None and last is not None and overlap(first, last) < SITTER_MOVED
    face, body = middle_of(known)
    look = Look(light=light, sitters=known[-1].sitters, face=face, body=body, unrest=unrest)
    return Rest(look=look, steady=steady)


def middle_of(looks: Iterable[Look]) -> tuple[Lit | None, Lit | None]:
    """The middle one of the lights of the face, and of the body, in some looks."""
    looks = tuple(looks)
    found: list[Lit | None] = []
    for lights in ([look.face for look in looks], [look.body for look in looks]):
        known = sorted((light for light in lights if light is not None), key=lambda light: light.stops)
        found.append(known[len(known) // 2] if known else None)
    return found[0], found[1]


def carried(rest: Rest, before: Look, change: float | None, sitter: float) -> Look:
    """The mean, with what moved as it was ``before``, changed as the whole picture was (``change``).

    A person who walks by leaves no hole in what is known of the light behind. Where the picture did not change as a
    whole (None), nothing is known of what moved until it rests. ``sitter`` is the change of the sitter's light.
    """
    light, old = rest.look.light, before.light
    if old.area != light.area:
        return rest.look
    steady = rest.steady
    was = old.trusted if change is not None else np.zeros_like(old.trusted)
    made: LightMap = msgspec.structs.replace(
        light,
        stops=np.where(steady, light.stops, old.stops + np.float32(change or 0.0)).astype(np.float32),
        trusted=np.where(steady, light.trusted, was),
        clipped=np.where(steady, light.clipped, old.clipped),
        crushed=np.where(steady, light.crushed, old.crushed),
    )
    if not rest.look.sitters:
        return msgspec.structs.replace(
            before, light=made, face=_plus(before.face, sitter), body=_plus(before.body, sitter)
        )
    return msgspec.structs.replace(
        rest.look,
        light=made,
        face=rest.look.face if rest.look.face is not None else _plus(before.face, sitter),
        body=rest.look.body if rest.look.body is not None else _plus(before.body, sitter),
    )


def _plus(light: Lit | None, stops: float) -> Lit | None:
    return None if light is None else msgspec.structs.replace(light, stops=light.stops + stops)
