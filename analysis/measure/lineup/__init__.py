"""Line-up: which standard pattern a picture shows, and whether the chain carries it truly.

    >>> from analysis.measure.lineup import NOTHING
    >>> NOTHING.pattern, NOTHING.true
    (None, False)

The picture is laid over with a grid of cells. Rows of cells that are alike form bands, flat cells of one colour
within a band form runs, and seven runs of one width, brightest neutral first, are candidates for colour bars.
Their medians, in the feed's own codes, are explained by every way in which a chain can have written them (range,
matrix, amplitude, each with the gain, lift and saturation that fit best); the cheapest explanation names the
pattern and the faults. Nothing is called true unless every patch lies within :data:`TOLERANCE` of its codes.
"""

from __future__ import annotations

from analysis.measure.lineup.average import Average
from analysis.measure.lineup.look import look
from analysis.measure.lineup.result import NOTHING, TOLERANCE, TOLERANCE_RGB, BarDifference, Fault, Lineup

__all__ = ["NOTHING", "TOLERANCE", "TOLERANCE_RGB", "Average", "BarDifference", "Fault", "Lineup", "look"]
