"""Where skin should lie when the operator has said nothing but how light it is.

Common practice, no published source: skin between 40 and 60 IRE, about 50 for light skin and lower for darker.
The program never guesses a complexion: the operator says ``light``, ``medium`` or ``dark``.
"""

from __future__ import annotations

from typing import Literal, get_args

import msgspec

from analysis.exposure.aims import ANY_SITTER, moved
from analysis.model.sitter import Aim, Complexion
from analysis.signal.curves import Curve

Mood = Literal["high key", "natural", "low key"]

COMPLEXIONS: tuple[Complexion, ...] = get_args(Complexion)

MOODS: dict[Mood, float] = {"high key": 1.0 / 3.0, "natural": 0.0, "low key": -1.0 / 3.0}
"""Stops by which a mood moves the skin: common practice, no published source."""

LEAST, MOST = 40.0, 60.0
"""IRE between which skin is usually placed; common practice, no published source."""

USUAL: dict[Complexion, float] = {"light": 50.0, "medium": 45.0, "dark": 40.0}
"""IRE of skin by common practice, no published source, where no standard names a range for the encoding."""

TOLERANCE_STOPS = 1.0 / 3.0
"""How far skin may be from its aim before it is worth a word: the step in which light is usually spoken of."""
TOLERANCE_IRE = 5.0
"""The same where no curve is known."""


class SkinRange(msgspec.Struct, frozen=True, kw_only=True):
    """Levels in IRE between which a standard expects skin, and which Fitzpatrick types it means."""

    low: float
    high: float
    types: str


BT2408: dict[str, dict[Complexion, SkinRange]] = {
    "hlg": {
        "light": SkinRange(low=55.0, high=65.0, types="I-II"),
        "medium": SkinRange(low=45.0, high=60.0, types="III-IV"),
        "dark": SkinRange(low=25.0, high=45.0, types="V-VI"),
    },
    "pq": {
        "light": SkinRange(low=45.0, high=55.0, types="I-II"),
        "medium": SkinRange(low=40.0, high=50.0, types="III-IV"),
        "dark": SkinRange(low=30.0, high=40.0, types="V-VI"),
    },
}
"""Report ITU-R BT.2408 Table 2 (preliminary levels of common objects, early editions), from memory. Its three
columns (cd/m2, percent PQ, percent HLG) agree with each other by BT.2100 to the 5 % they are rounded to."""


def skin_aim(
    complexion: Complexion | None, curve: Curve | None, target: str = ANY_SITTER, bias_stops: float = 0.0
) -> Aim:
    """Where skin of a complexion should lie in the encoding that is watched, in IRE.

    None is a complexion nobody has said: then the aim is as wide as all of them together, 40 to 60 IRE.

    For HLG and PQ the range of BT.2408 as centre and tolerance; for every other encoding common practice, give
    or take a third of a stop through its curve (5 IRE where no curve is known).

    >>> from analysis.signal.curves import curve
    >>> [(skin_aim(c, curve("hlg")).value, skin_aim(c, curve("hlg")).tolerance) for c in ("light", "dark")]
    [(60.0, 5.0), (35.0, 10.0)]
    >>> skin_aim("medium", None).value, round(skin_aim("light", curve("bt709")).tolerance, 1)
    (45.0, 6.2)
    """
    published = BT2408.get(curve.name) if curve is not None else None
    if published is not None:
        meant = [published[complexion]] if complexion is not None else list(published.values())
        value, tolerance = _middle(min(each.low for each in meant), max(each.high for each in meant))
    elif complexion is None:
        value, tolerance = _middle(LEAST, MOST)
    else:
        value = USUAL[complexion]
        tolerance = TOLERANCE_IRE if curve is None else _third(value, curve)
    return Aim(target=target, value=value, tolerance=tolerance, bias_stops=bias_stops)


def source(curve: Curve | None) -> str:
    """Where the default for an encoding comes from, for a person.

    >>> source(None)
    'common practice'
    """
    return "ITU-R BT.2408" if curve is not None and curve.name in BT2408 else "common practice"


def _middle(low: float, high: float) -> tuple[float, float]:
    return (low + high) / 2, (high - low) / 2


def _third(level: float, curve: Curve) -> float:
    """Half the span in IRE from a third of a stop below to a third above."""
    return (moved(level, TOLERANCE_STOPS, curve) - moved(level, -TOLERANCE_STOPS, curve)) / 2
