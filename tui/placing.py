"""Where the sitter and the spots are against where they should be: what several panels say alike."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.exposure.aims import Band, Distance, aim_for, band, distance
from analysis.measure.examiner import known_curve
from analysis.model.reading import Reading
from analysis.model.sitter import Aim, SitterReading, SpotReading


def main_sitter(reading: Reading | None) -> SitterReading | None:
    """The sitter whose level is shown large."""
    sitters = reading.sitters if reading is not None else None
    return next((sitter for sitter in sitters or () if sitter.main), None)


def band_of(reading: Reading, name: str, aims: Sequence[Aim]) -> Band | None:
    """Where a sitter or spot should lie, in IRE; None without an aim, and where it cannot be told."""
    aim = aim_for(name, aims)
    return None if aim is None else band(aim, known_curve(reading.encoding.curve))


def sitter_distance(reading: Reading, sitter: SitterReading, aims: Sequence[Aim]) -> Distance | None:
    """How far the skin of a sitter is from its aim; None without an aim or a level."""
    aim = aim_for(sitter.name, aims)
    if aim is None or sitter.level is None:
        return None
    return distance(aim, sitter.level, known_curve(reading.encoding.curve), sitter.stops, sitter.clipped or 0.0)


def spot_distance(reading: Reading, name: str, spot: SpotReading, aims: Sequence[Aim]) -> Distance | None:
    """How far a spot is from its aim; None where it has none."""
    aim = aim_for(name, aims)
    if aim is None:
        return None
    return distance(aim, spot.level, known_curve(reading.encoding.curve), spot.stops, spot.clipped)
