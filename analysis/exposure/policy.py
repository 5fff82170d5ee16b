"""Policies: which control may move how far, what each costs, and which of them a picture calls for.

Policies are files (``configs/policies``) that explain themselves; costs are points, and only their proportions
count. All of it is common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import log2

import msgspec
import numpy as np

from analysis.exposure.aims import ANY_SITTER, stops_of
from analysis.model.controls import Controls
from analysis.model.reading import Reading, StopsSpread
from analysis.model.sitter import SitterReading
from analysis.signal.curves import Curve

OPEN_SKY, EVEN_LIGHT, BUILT_LIGHT = "open-sky", "even-light", "built-light"

NEAR_CLIP = 2.0
"""Stops below the clip in which bright parts count as highlights: less than the step of a usual filter."""
ABOVE_SKIN, ABOVE_GREY = 1.0, 1.5
"""Stops above the sitter's skin, or above middle grey without one, that a highlight has to lie."""
FAR_ABOVE_SKIN = 2.0
"""Stops above the sitter's skin from which light counts as highlights however far the clip is: who places the skin
brings it along."""
ENOUGH = 0.5
"""Percent of the picture from which highlights decide the policy; of clipped light a tenth of it."""


class Weights(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Points. ``aim``, ``background`` and ``iso_down`` are per third of a stop squared; the rest per unit.

    ``iso_up`` is per third above native, cubed: a third is hardly seen, four are. ``iso_down`` counts thirds below
    native, and below zero is a gain, per third; ``highlights`` is per percent of the picture at risk, ``noise``,
    ``lens``, ``shutter``, ``nd`` and ``key`` per stop, ``move`` per control that is moved.
    """

    aim: float = 1.0
    background: float = 1.0
    nd: float = 0.05
    iso_up: float = 0.023
    iso_down: float = 0.6
    key: float = 0.1
    lens: float = 2.0
    shutter: float = 3.0
    noise: float = 0.3
    highlights: float = 0.3
    move: float = 0.3


class Policy(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One way of working, as its file says it.

    ``iso_below_native`` is how many stops ISO may come down below native, ``iso_below_at_risk`` the same while
    highlights are at risk: clipped, or with less than ``least_headroom`` stops above them. ``most_clipped`` is the
    percent of the picture that may clip; what is clipped already is not held against a way. With ``background_first``
    the camera places the background and the key the sitter.
    """

    name: str
    title: str
    why: str
    iso_below_native: float = 1.0
    iso_below_at_risk: float = 0.0
    least_headroom: float = 1.0 / 3.0
    most_clipped: float = 0.5
    background_first: bool = False
    key_moves: bool = False
    weights: Weights = Weights()


class Suggestion(msgspec.Struct, frozen=True, kw_only=True):
    """The name of a policy and the sentence that says what in the picture calls for it."""

    policy: str
    why: str


def suggest(
    reading: Reading, curve: Curve, controls: Controls | None = None, clips_at: float | None = None
) -> Suggestion:
    """Which policy the picture calls for. The operator decides.

    A key light that is told about is light you build. Else highlights in the picture decide: what is clipped, light
    within two stops of the clip and well above the sitter, or far above the sitter wherever the clip is. ``clips_at``
    is where light clips, in stops from middle grey, where more is known of the camera than the level that the
    reading counts from.
    """
    if controls is not None and controls.key_percent is not None:
        return Suggestion(policy=BUILT_LIGHT, why=f"there is a key light, at {controls.key_percent:g} %")
    clipped = reading.clipped.any if reading.clipped is not None else 0.0
    if clipped >= ENOUGH / 10.0:
        return Suggestion(policy=OPEN_SKY, why=f"{clipped:.1f} % of the picture is clipped")
    bright = bright_share(reading, curve, clips_at)
    if bright >= ENOUGH:
        return Suggestion(
            policy=OPEN_SKY,
            why=f"{bright:.1f} % of the picture is bright and within {NEAR_CLIP:g} stops of the clip",
        )
    skin, table = main_stops(reading), reading.peaks or reading.spread
    above = _share_from(table, skin + FAR_ABOVE_SKIN) if skin is not None and table else 0.0
    if above >= ENOUGH:
        who = named(main_read(reading))
        why = f"{above:.1f} % of the picture is {FAR_ABOVE_SKIN:g} stops or more brighter than {who}"
        return Suggestion(policy=OPEN_SKY, why=why)
    return Suggestion(policy=EVEN_LIGHT, why=_nothing_bright(reading, curve, clips_at))


def bright_share(reading: Reading, curve: Curve, clips_at: float | None = None) -> float:
    """Percent of the picture that is near the clip and well above the sitter; 0 where the reading does not tell."""
    table, end = reading.peaks or reading.spread, _end(reading, curve, clips_at)
    if table is None or end is None:
        return 0.0
    skin = main_stops(reading)
    return _share_from(table, max(end - NEAR_CLIP, ABOVE_GREY if skin is None else skin + ABOVE_SKIN))


def _end(reading: Reading, curve: Curve, clips_at: float | None) -> float | None:
    if clips_at is not None or reading.clipped is None:
        return clips_at
    return stops_of(reading.clipped.level, curve)


def _share_from(table: StopsSpread, least: float) -> float:
    edges = table.low + table.step * np.arange(len(table.counts))
    return float(np.asarray(table.counts)[edges >= least].sum())


def _nothing_bright(reading: Reading, curve: Curve, clips_at: float | None) -> str:
    """Why nothing is at risk, with how far the brightest part that counts lies below the clip."""
    table, end = reading.peaks or reading.spread, _end(reading, curve, clips_at)
    if table is None or end is None or sum(table.counts) <= ENOUGH:
        return "nothing bright lies near the clip"
    from_above = np.cumsum(np.asarray(table.counts)[::-1])
    place = len(table.counts) - 1 - int(np.argmax(from_above >= ENOUGH))
    left = max(0.0, end - (table.low + table.step * (place + 1)))
    if left < NEAR_CLIP:
        rest = f"all but {ENOUGH:g} % of the picture is {left:.1f} stops below the clip or more"
        return f"nothing bright stands out from {named(main_read(reading))}: {rest}"
    rest = f"all but {ENOUGH:g} % of the picture is {left:.1f} stops below it or more"
    return f"nothing bright lies near the clip: {rest}"


def main_stops(reading: Reading) -> float | None:
    """Stops of the main sitter's skin, of the first one where none is the main one; None where none is read."""
    found = main_read(reading)
    return None if found is None else found.stops


def main_read(reading: Reading) -> SitterReading | None:
    """The main sitter of those that are read, else the first; None where none is."""
    read = [sitter for sitter in reading.sitters or () if sitter.stops is not None]
    return next((sitter for sitter in read if sitter.main), read[0] if read else None)


def named(subject: SitterReading | None) -> str:
    """How sentences name what is planned for: a spot and the middle of the picture are planned for as a sitter is.

    >>> named(None)
    'the sitter'
    """
    return "the sitter" if subject is None or subject.name.startswith(ANY_SITTER) else subject.name


def native_of(iso: float, natives: Sequence[float]) -> float:
    """The native ISO that a setting builds on: the highest that is not above it, else the lowest.

    >>> native_of(640, (800,)), native_of(3200, (800, 2500)), native_of(2000, (800, 2500))
    (800, 2500, 800)
    """
    below = [native for native in natives if native <= iso * 2.0 ** (1.0 / 12.0)]
    return max(below) if below else min(natives)


def above_native(iso: float, natives: Sequence[float]) -> float:
    """Stops by which an ISO lies above its native value; below zero where it is under all of them.

    >>> above_native(400, (800,)), round(above_native(2500, (800, 2500)), 2)
    (-1.0, 0.0)
    """
    return log2(iso / native_of(iso, natives))
