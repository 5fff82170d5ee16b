"""How far a reading is from where it should lie: in stops, in thirds of a stop, and in words.

Levels are IRE of the monitored encoding; its curve turns them into stops from middle grey and back, as levels
of a neutral grey. Without a known curve there are no stops: what an aim in IRE allows is still told.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import floor, isfinite, log2

import msgspec
import numpy as np

from analysis.model.sitter import Aim
from analysis.signal.curves import MIDDLE_GREY, Curve

ANY_SITTER = "sitter"
"""The target of an aim for every sitter that has none of their own."""

FAINTEST = 1e-6
"""Linear light below which no curve tells anything; -17 stops."""


class Band(msgspec.Struct, frozen=True, kw_only=True):
    """Where an aim lies in IRE, for drawing: from ``low`` to ``high``, best at ``centre``."""

    low: float
    centre: float
    high: float

    def holds(self, level: float) -> bool:
        """Whether a level in IRE lies within."""
        return self.low <= level <= self.high


class Distance(msgspec.Struct, frozen=True, kw_only=True):
    """How far a reading is from its aim; above zero is over, too bright.

    ``ire`` is against the centre of the band, ``stops`` the same in light, ``thirds`` that to the nearest third
    of a stop; the last two are None without a curve, ``ire`` where an aim in stops cannot be placed.
    ``within`` says whether it lies within the tolerance; ``at_least`` that the light goes on beyond the
    clip, so that the truth may be more.
    """

    ire: float | None
    stops: float | None
    thirds: int | None
    within: bool
    at_least: bool = False

    @property
    def words(self) -> str:
        """The distance as it is said aloud.

        >>> Distance(ire=-4.0, stops=-0.3, thirds=-1, within=False).words
        '1/3 stop under'
        """
        return in_words(self)


def stops_of(level: float, curve: Curve) -> float | None:
    """Stops from middle grey of a neutral grey at this level in IRE; None where the curve knows no light.

    >>> from analysis.signal.curves import curve
    >>> round(stops_of(59.5, curve("bt709")), 2), stops_of(0.0, curve("bt709"))
    (1.0, None)
    """
    light = float(curve.decode(np.array(level / 100.0)))
    return log2(light / MIDDLE_GREY) if light > FAINTEST and isfinite(light) else None


def level_of(stops: float, curve: Curve) -> float:
    """The level in IRE of a neutral grey so many stops from middle grey.

    >>> from analysis.signal.curves import curve
    >>> round(level_of(0.0, curve("bt709")), 1), round(level_of(-1.0, curve("acescct")), 1)
    (40.9, 35.7)
    """
    return 100.0 * float(curve.encode(np.array(MIDDLE_GREY * 2.0**stops)))


def moved(level: float, stops: float, curve: Curve) -> float:
    """The level in IRE after so many stops of light more (fewer, where negative).

    >>> from analysis.signal.curves import curve
    >>> round(moved(59.5, -1.0, curve("bt709")), 1)
    40.9
    """
    if stops == 0.0:
        return level
    light = float(curve.decode(np.array(level / 100.0)))
    return 100.0 * float(curve.encode(np.array(light * 2.0**stops)))


def band(aim: Aim, curve: Curve | None) -> Band | None:
    """Where the aim lies in IRE, its bias included.

    None for an aim in stops, and for one with a bias, where no curve is known.

    >>> from analysis.signal.curves import curve
    >>> skin = Aim(target="sitter", value=50.0, tolerance=5.0)
    >>> band(skin, None)
    Band(low=45.0, centre=50.0, high=55.0)
    >>> window = Aim(target="window", value=2.0, tolerance=0.5, unit="stops")
    >>> [round(v, 1) for v in msgspec.structs.astuple(band(window, curve("bt709")))]
    [71.2, 84.9, 100.9]
    """
    edges = [aim.value - aim.tolerance, aim.value, aim.value + aim.tolerance]
    if aim.unit == "stops" or aim.bias_stops:
        if curve is None:
            return None
        if aim.unit == "ire":
            edges = [moved(edge, aim.bias_stops, curve) for edge in edges]
        else:
            edges = [level_of(edge + aim.bias_stops, curve) for edge in edges]
    return Band(low=edges[0], centre=edges[1], high=edges[2])


def distance(
    aim: Aim, level: float, curve: Curve | None, stops: float | None = None, clipped: float = 0.0
) -> Distance | None:
    """How far a reading of ``level`` IRE is from its aim; None where they cannot be compared.

    ``stops`` is the reading's own, from linear R'G'B': an aim in stops is held against it, an aim in IRE
    always against the level. ``clipped`` is the percent of the reading that is clipped: from 1 % on, the
    true distance over is at least what is told.

    >>> from analysis.signal.curves import curve
    >>> skin = Aim(target="sitter", value=50.0, tolerance=3.0)
    >>> distance(skin, 43.5, curve("bt709")).words, distance(skin, 50.9, curve("bt709")).words
    ('1/3 stop under', 'on aim')
    >>> distance(skin, 82.0, curve("bt709"), clipped=4.0).words
    'at least 1 1/3 stops over'
    """
    place = band(aim, curve)
    if place is None:
        if aim.unit != "stops" or stops is None:
            return None
        off = stops - aim.value - aim.bias_stops
        return _told(None, off, abs(off) <= aim.tolerance, clipped)
    off_ire = level - place.centre
    if curve is None:
        return _told(off_ire, None, place.holds(level), clipped)
    if aim.unit == "stops":
        read = stops if stops is not None else stops_of(level, curve)
        if read is None:
            return _told(off_ire, None, place.holds(level), clipped)
        off = read - aim.value - aim.bias_stops
        return _told(off_ire, off, abs(off) <= aim.tolerance, clipped)
    read, wanted = stops_of(level, curve), stops_of(place.centre, curve)
    apart = None if read is None or wanted is None else read - wanted
    return _told(off_ire, apart, place.holds(level), clipped)


def _told(ire: float | None, stops: float | None, within: bool, clipped: float) -> Distance:
    over = stops if stops is not None else (ire or 0.0)
    return Distance(
        ire=ire,
        stops=stops,
        thirds=None if stops is None else thirds(stops),
        within=within,
        at_least=clipped >= 1.0 and over > 0.0,
    )


def thirds(stops: float) -> int:
    """Stops to the nearest third, counted in thirds; halves away from zero, alike for over and under.

    >>> thirds(0.5), thirds(-0.5), thirds(0.16), thirds(-1.7)
    (2, -2, 0, -5)
    """
    size = floor(abs(stops) * 3.0 + 0.5)
    return size if stops > 0 else -size


def third_words(count: int) -> str:
    """A number of thirds as stops, without its direction.

    >>> [third_words(count) for count in (1, 2, 3, 4, 6)]
    ['1/3 stop', '2/3 stop', '1 stop', '1 1/3 stops', '2 stops']
    """
    whole, rest = divmod(abs(count), 3)
    figure = " ".join(([str(whole)] if whole or not rest else []) + ([f"{rest}/3"] if rest else []))
    return f"{figure} stop{'s' if abs(count) > 3 else ''}"


def in_words(found: Distance) -> str:
    """The distance as it is said aloud: ``on aim``, ``2/3 stop under``, ``at least 1 stop over``.

    Less than a sixth of a stop is on aim; where the tolerance is tighter than that and exceeded it is ``just
    over`` or ``just under``. Without stops it is told in whole IRE.
    """
    over = found.stops if found.stops is not None else (found.ire or 0.0)
    side = "over" if over > 0 else "under"
    least = "at least " if found.at_least else ""
    if found.thirds is None:
        size = floor(abs(found.ire or 0.0) + 0.5)
        if size == 0 or found.within:
            return "on aim"
        return f"{least}{size} IRE {side}"
    if found.thirds == 0:
        return "on aim" if found.within else f"just {side}"
    return f"{least}{third_words(found.thirds)} {side}"


def aim_for(name: str, aims: Iterable[Aim]) -> Aim | None:
    """The aim of a sitter or spot by its name; any sitter without one of their own has that of ``sitter``.

    >>> both = (Aim(target="sitter", value=50, tolerance=5), Aim(target="sitter 2", value=42, tolerance=5))
    >>> aim_for("sitter 1", both).value, aim_for("sitter 2", both).value, aim_for("window", both)
    (50, 42, None)
    """
    by_target = {aim.target.casefold(): aim for aim in aims}
    key = name.casefold()
    if key not in by_target and is_sitter(name):
        key = ANY_SITTER
    return by_target.get(key)


def is_sitter(name: str) -> bool:
    """Whether a name is that of a sitter: ``sitter``, or ``sitter`` and a number."""
    word, _, number = name.casefold().partition(" ")
    return word == ANY_SITTER and (not number or (number.isascii() and number.isdigit()))
