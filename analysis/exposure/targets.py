"""Where the sitter and the background are and should be, in stops: what a plan sets out to reach."""

from __future__ import annotations

import msgspec

from analysis.exposure.aims import aim_for, band, stops_of
from analysis.model.errors import UsageError
from analysis.model.reading import Reading
from analysis.model.sitter import Aim, SitterReading
from analysis.signal.curves import Curve


class Target(msgspec.Struct, frozen=True, kw_only=True):
    """How far something is off its aim, in stops: above zero is over, and within ``tolerance`` it may stay."""

    off: float
    tolerance: float

    @classmethod
    def of(cls, aim: Aim, level: float, stops: float | None, curve: Curve) -> Target | None:
        """The target of an aim for a level in IRE (an aim in stops is held against ``stops``)."""
        place = band(aim, curve)
        edges = [stops_of(edge, curve) for edge in (place.low, place.centre, place.high)] if place else []
        if len(edges) != 3 or any(edge is None for edge in edges):
            return None
        low, centre, high = (float(edge or 0.0) for edge in edges)
        here = stops if aim.unit == "stops" else stops_of(level, curve)
        return None if here is None else cls(off=here - centre, tolerance=(high - low) / 2.0)


def main_sitter(reading: Reading) -> SitterReading:
    """The sitter that is planned for. Raises UsageError where none is read."""
    read = [each for each in reading.sitters or () if each.level is not None and each.stops is not None]
    if not read:
        lost = next((each for each in reading.sitters or () if each.state in {"clipped", "too dark"}), None)
        what = f"{lost.name} is {lost.state}" if lost else "no sitter is read in this picture"
        raise UsageError(what, "plan", "point to the skin with --skin X,Y,W,H")
    return next((each for each in read if each.main), read[0])


def background(reading: Reading, aims: tuple[Aim, ...], curve: Curve) -> tuple[float, Target | None] | None:
    """Stops of the background spot and what is wanted of it; None without such a spot."""
    for name, spot in (reading.spots or {}).items():
        if spot.kind == "background" and spot.stops is not None:
            aim = aim_for(name, aims)
            return spot.stops, Target.of(aim, spot.level, spot.stops, curve) if aim is not None else None
    return None
