"""Where the light of one picture lies, in stops from middle grey: what two pictures are compared by.

Everything goes through the reading's own curve, so that pictures of different curves, depths and ranges compare.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np
import numpy.typing as npt

from analysis.exposure.aims import FAINTEST, stops_of
from analysis.model.hold import SmallPicture
from analysis.model.reading import Reading, StopsSpread
from analysis.model.sitter import SitterReading
from analysis.signal.curves import MIDDLE_GREY, Curve
from analysis.signal.matrix import luma_weights

Pixels = npt.NDArray[np.uint8]
Hidden = Literal["", "above", "below"]

SKIN_CLIPPED = 1.0
"""Percent of the skin, or of a spot, from which its true level may lie higher than it reads."""
BRIGHT, BRIGHT_BAND = 99.0, 0.5
"""The percentile that stands for the highlights, and how far to both sides it is averaged."""
MIDDLE_BAND = 5.0
"""How far to both sides of the median the middle is averaged: a table has bins, a picture has not."""
AROUND = 10.0
"""The same of the picture around the sitters, of which there are fewer pixels."""
LEAST_AROUND = 0.15
"""Part of the picture that must be left around the sitters to be called a background."""
SHOULDERS, HAIR = 1.0, 0.5
"""Widths of the face to each side, and heights above it, that belong to a person; below it everything does."""
END = 0.05
"""Stops from an end of the signal within which light lies on it."""


class Seen(NamedTuple):
    """A light in stops from middle grey; ``hidden`` where the truth lies beyond that end of the signal."""

    stops: float
    hidden: Hidden = ""


class Light:
    """One reading, and perhaps its small picture, ready to be asked where its light lies.

    ``curve`` is the reading's own, or what the operator says it is instead; None where nobody knows: then there are
    no stops at all. ``pixels`` is R'G'B' of the active picture, full range, shape (height, width, 3); ``around`` what
    was found around the sitters, where that was looked for a moment ago and is not to be again.
    """

    def __init__(
        self, reading: Reading, curve: Curve | None, pixels: Pixels | None = None, around: Seen | None = None
    ) -> None:
        self.reading, self.curve, self._pixels = reading, curve, pixels
        # Stops that were measured through another curve than the one now believed are worth nothing.
        self.told = curve is not None and reading.encoding.curve == curve.name
        self._rest: StopsSpread | None = None
        self._read: dict[tuple[int, float], float | None] = {}
        self._around: list[Seen | None] = [around] if around is not None and reading.sitters else []

    @property
    def top(self) -> float | None:
        """Stops at which the signal ends above."""
        found = self.reading.clipped
        return None if found is None or self.curve is None else stops_of(found.level, self.curve)

    def stops(self, level: float) -> float | None:
        """Stops of a neutral grey at a level in IRE."""
        return None if self.curve is None else stops_of(level, self.curve)

    def main(self) -> SitterReading | None:
        """The main sitter, read or not; the first where none is the main one."""
        everybody = self.reading.sitters or ()
        return next((each for each in everybody if each.main), everybody[0] if everybody else None)

    def skin(self) -> Seen | None:
        """The main sitter's skin."""
        sitter = self.main()
        if sitter is None or self.curve is None:
            return None
        if sitter.state == "clipped" and self.top is not None:
            return Seen(self.top, "above")
        if sitter.level is None:
            return None
        stops = sitter.stops if self.told and sitter.stops is not None else self.stops(sitter.level)
        if stops is None:
            return None
        return Seen(stops, "above" if (sitter.clipped or 0.0) >= SKIN_CLIPPED else "")

    def spot(self) -> Seen | None:
        """The first spot of kind background."""
        for spot in (self.reading.spots or {}).values():
            if spot.kind == "background":
                stops = spot.stops if self.told and spot.stops is not None else self.stops(spot.level)
                if stops is not None:
                    return Seen(stops, "above" if spot.clipped >= SKIN_CLIPPED else self._at_end(stops))
        return None

    def surroundings(self) -> Seen | None:
        """The median of the small picture around the sitters: without their heads, shoulders and what is below.

        None without a sitter, without a picture, and where people fill it.
        """
        if not self._around:
            self._around.append(self._look_around())
        return self._around[0]

    def _look_around(self) -> Seen | None:
        people, pixels, curve = self.reading.sitters or (), self._pixels, self.curve
        if not people or pixels is None or curve is None or not pixels.size:
            return None
        height, width = pixels.shape[:2]
        left, top, wide, high = self.reading.picture.active
        free = np.ones((height, width), bool)
        for x, y, across, down in (each.box for each in people):
            columns = _cells(x - SHOULDERS * across - left, x + (1.0 + SHOULDERS) * across - left, wide, width)
            free[_cells(y - HAIR * down - top, high, high, height), columns] = False
        if free.mean() < LEAST_AROUND:
            return None
        light = np.asarray(curve.decode(np.arange(256) / 255.0), np.float64)
        weights = np.asarray(luma_weights(self.reading.encoding.matrix))
        luminance = light[pixels[free]] @ weights
        stops = np.log2(np.maximum(luminance, FAINTEST) / MIDDLE_GREY)
        low, high_ = np.percentile(stops, (50.0 - AROUND, 50.0 + AROUND))
        found = float(stops[(stops >= low) & (stops <= high_)].mean())
        return Seen(found, self._at_end(found))

    def rest(self) -> Seen | None:
        """The median of the whole picture less the faces in it."""
        table, sitters = self.reading.spread, self.reading.sitters
        if not sitters or table is None or not self.told:
            return None
        counts = np.array(table.counts)
        edges = table.low + table.step * np.arange(counts.size + 1)
        area = max(1, self.reading.picture.active[2] * self.reading.picture.active[3])
        for each in sitters:
            low, high = (None if end is None else self.stops(end) for end in (each.low, each.high))
            if low is None or high is None:
                continue
            # Skin fills its ellipse (pi / 4 of the box) evenly from its dark to its bright end.
            part = 100.0 * 0.785 * each.box[2] * each.box[3] / area
            over = np.clip(edges, low, max(high, low + table.step))
            counts = np.maximum(counts - part * np.diff(over) / max(high - low, table.step), 0.0)
        self._rest = self._rest or StopsSpread(low=table.low, step=table.step, counts=tuple(counts.tolist()))
        return self._percentile(self._rest, 50.0, MIDDLE_BAND)

    def highlights(self, by: Literal["peaks", "luminance", "luma"]) -> Seen | None:
        """The bright end: of the brightest channel of every pixel, of luminance, or of luma through the curve."""
        table = {"peaks": self.reading.peaks or None, "luminance": self.reading.spread}.get(by)
        if table is not None and self.told:
            return self._percentile(table, BRIGHT, BRIGHT_BAND)
        return None if self.reading.luma is None else self._level(self.reading.luma.p99, BRIGHT)

    def middle(self) -> Seen | None:
        """The median of luminance; of luma through the curve where luminance was not measured."""
        if self.reading.spread is not None and self.told:
            return self._percentile(self.reading.spread, 50.0, MIDDLE_BAND)
        return None if self.reading.luma is None else self._level(self.reading.luma.p50, 50.0)

    def _percentile(self, table: StopsSpread, part: float, band: float) -> Seen | None:
        key = (id(table), part)
        if key not in self._read:
            below = np.concatenate([[0.0], np.cumsum(table.counts)])
            edges = table.low + table.step * np.arange(below.size)
            places = np.linspace(part - band, part + band, 9) / 100.0 * below[-1]
            self._read[key] = float(np.interp(places, below, edges).mean()) if below[-1] > 0.0 else None
        found = self._read[key]
        return None if found is None else Seen(found, self._beyond(part))

    def _level(self, level: float, part: float) -> Seen | None:
        stops = self.stops(level)
        return None if stops is None else Seen(stops, self._beyond(part))

    def _beyond(self, part: float) -> Hidden:
        """Whether so much of the picture is lost that this percentile of it is."""
        clipped, crushed = self.reading.clipped, self.reading.crushed
        if clipped is not None and clipped.any >= 100.0 - part:
            return "above"
        return "below" if crushed is not None and crushed.any >= part else ""

    def _at_end(self, stops: float) -> Hidden:
        if self.top is not None and stops >= self.top - END:
            return "above"
        crushed = self.reading.crushed
        bottom = None if crushed is None else self.stops(crushed.level)
        return "below" if stops <= (-12.0 if bottom is None else bottom + END) else ""


def _cells(start: float, end: float, whole: int, cells: int) -> slice:
    """The cells of a row of ``cells`` that a stretch of ``whole`` pixels touches."""
    first, last = (min(max(place / max(whole, 1), 0.0), 1.0) * cells for place in (start, end))
    return slice(int(np.floor(first)), int(np.ceil(last)))


def pixels_of(picture: SmallPicture | None) -> Pixels | None:
    """The pixels of a small picture, shape (height, width, 3); None without one, or where it is not whole."""
    if picture is None or len(picture.rgb) != picture.width * picture.height * 3 or not picture.rgb:
        return None
    return np.frombuffer(picture.rgb, np.uint8).reshape(picture.height, picture.width, 3)
