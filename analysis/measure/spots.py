"""Reads named areas of the picture from its full-size pixels, whatever the layout.

Only the areas themselves are touched, and of them a lattice of true pixels, each with the chroma sample of its
group: all of a small area, at most some :data:`COLUMNS` by :data:`ROWS` of a large one. None is averaged before
it is read. The pixels of all spots are gathered first and worked on together: many small spots cost little more
than one.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import log2
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from analysis.measure.sample import STEP_OF_CODE_0, STEPS_PER_CODE, Sample, Steps, step_of_level
from analysis.measure.stops import FAINTEST, StopsMeter
from analysis.measure.unpack import Area
from analysis.model.frame import Frame, FrameFormat
from analysis.model.sitter import Spot, SpotKind, SpotReading
from analysis.signal.curves import MIDDLE_GREY, Curve
from analysis.signal.layouts import Layout, check_planes, component, layout
from analysis.signal.levels import clip_code, percent
from analysis.signal.matrix import encoding_decoder, luma_weights

COLUMNS, ROWS = 48, 36
"""Most pixels that are read of one spot in each direction."""


def pixels(spot: Spot, active: Area) -> Area:
    """The pixels of a spot (x, y, width, height): its fractions of the active picture, to the nearest pixel.

    At least one pixel, never outside the active picture.

    >>> boat = Spot(name="boat", kind="watch", x=0.5, y=0.25, width=0.1, height=0.5)
    >>> pixels(boat, (0, 0, 1920, 1080)), pixels(boat, (0, 140, 1920, 800))
    ((960, 270, 192, 540), (960, 340, 192, 400))
    """
    left, right = _span(spot.x, spot.width, active[0], active[2])
    top, bottom = _span(spot.y, spot.height, active[1], active[3])
    return left, top, right - left, bottom - top


def _span(start: float, size: float, first: int, length: int) -> tuple[int, int]:
    low = min(max(int(start * length + 0.5), 0), length - 1)
    high = min(max(int((start + size) * length + 0.5), low + 1), length)
    return first + low, first + high


class SpotMeter:
    """Reads the spots of one feed; from one thread, its arrays are used again.

    Without a curve (None) there are no stops. ``clip_percent`` is the level in IRE at or above which a
    pixel counts as clipped, None for 100 IRE in narrow range and the top code in full range; a pixel is
    clipped when R', G' or B' is, to the nearest code, as in the shares of the whole picture.
    """

    def __init__(self, curve: Curve | None = None, clip_percent: float | None = None) -> None:
        self.curve, self.clip_percent = curve, clip_percent
        self._bench: _Bench | None = None

    def read(self, frame: Frame, active: Area, spots: Iterable[Spot]) -> dict[str, SpotReading]:
        """What every spot reads, by name. A corrupt frame tells nothing.

        ``active`` is the active picture (x, y, width, height). The planes must be what the format says, as the
        meter has checked them. Raises FeedUnreadable for a layout or matrix that cannot be read.
        """
        if frame.corrupt:
            return {}
        if self._bench is None or self._bench.format != frame.format:
            self._bench = _Bench(frame.format, self.curve, self.clip_percent)
        chosen = tuple(spots)
        return self._bench.read(frame, [pixels(spot, active) for spot in chosen], chosen, active) if chosen else {}


def read_spots(
    frame: Frame,
    active: Area,
    spots: Iterable[Spot],
    curve: Curve | None = None,
    clip_percent: float | None = None,
) -> dict[str, SpotReading]:
    """What the spots of a single frame read; for a running feed keep a :class:`SpotMeter`.

    Raises FeedUnreadable or FeedCorrupt when the planes are not what the format says.

    >>> from analysis.model.frame import Encoding
    >>> from analysis.model.instant import Instant
    >>> from analysis.signal.curves import curve
    >>> grey = np.full((90, 160), 106, np.uint8)
    >>> form = FrameFormat(
    ...     layout="gray", width=160, height=90, encoding=Encoding(bits=8, range="narrow", matrix="bt709"))
    >>> frame = Frame(planes=(grey,), format=form, instant=Instant(0.0, 0.0), generation=1, sequence=0)
    >>> card = Spot(name="card", kind="watch", x=0.4, y=0.4, width=0.1, height=0.1)
    >>> found = read_spots(frame, (0, 0, 160, 90), [card], curve("bt709"))["card"]
    >>> round(found.level, 2), round(found.stops, 2), found.clipped
    (41.1, 0.01, 0.0)
    """
    if not frame.corrupt:
        check_planes(frame)
    return SpotMeter(curve, clip_percent).read(frame, active, spots)


class _Lattice:
    """Which pixels of an area are read, and where in the chroma planes their groups lie."""

    __slots__ = ("around", "groups", "places", "size")

    def __init__(self, area: Area, how: Layout) -> None:
        self.places = rows, columns = _every(area[1], area[3], ROWS), _every(area[0], area[2], COLUMNS)
        down = np.arange(rows.start, rows.stop, rows.step) >> how.log2_height
        across = np.arange(columns.start, columns.stop, columns.step) >> how.log2_width
        self.around = slice(down[0], down[-1] + 1), slice(across[0], across[-1] + 1)
        self.groups = np.ix_(down - down[0], across - across[0])
        self.size = down.size * across.size


class _Bench:
    """The parts for frames of one format."""

    def __init__(self, shape: FrameFormat, curve: Curve | None, clip_percent: float | None) -> None:
        self.format = shape
        self._laid: tuple[Sequence[Area], Sequence[SpotKind], Area] | None = None
        self._shares: Sequence[float] = ()
        self._how = how = layout(shape.layout)
        self._range = shape.encoding.range
        self._decode = encoding_decoder(shape.encoding, how.depth) if how.kind == "ycbcr" else None
        self._weights = luma_weights(shape.encoding.matrix)
        self._stops = StopsMeter(shape, curve) if curve is not None else None
        self._scale = STEPS_PER_CODE / 2 ** (how.depth - 8)
        clip = percent(clip_code(clip_percent, how.depth, self._range), how.depth, self._range)
        self._clip = round(step_of_level(clip, how.depth, self._range) - 0.5 * self._scale)

    def read(self, frame: Frame, areas: Sequence[Area], spots: Sequence[Spot], active: Area) -> dict[str, SpotReading]:
        laid = areas, [spot.kind for spot in spots], active
        if laid != self._laid:
            self._laid, self._lattices = laid, [_Lattice(area, self._how) for area in areas]
            self._shares = _own_shares(areas, laid[1], active)
            self._sizes = np.array([lattice.size for lattice in self._lattices])
            self._starts = np.cumsum(self._sizes) - self._sizes
        codes = self._gathered(frame)
        rgb = self._steps(codes)
        used = codes if self._how.is_rgb else codes[:1]
        means = np.add.reduceat(used, self._starts, axis=1, dtype=np.uint32) / self._sizes
        levels = np.dot(self._weights, means) if self._how.is_rgb else means[0]
        beyond = self._beyond(rgb)
        shares = np.add.reduceat(beyond, self._starts, dtype=np.uint32) * (100.0 / self._sizes)
        coloured = beyond & ~self._luma_beyond(codes, rgb)
        alone = np.add.reduceat(coloured, self._starts, dtype=np.uint32) * (100.0 / self._sizes)
        lights: list[float] | None = None
        if self._stops is not None:
            luminance = self._stops.luminance(Sample(rgb[0], rgb)).ravel()
            lights = (np.add.reduceat(luminance, self._starts, dtype=np.float64) / self._sizes).tolist()
        return {
            spot.name: SpotReading(
                level=percent(float(levels[number]), self._how.depth, self._range),
                stops=_stops(lights[number]) if lights is not None else None,
                clipped=float(shares[number]),
                kind=spot.kind,
                coloured=float(alone[number]),
                share=self._shares[number],
            )
            for number, spot in enumerate(spots)
        }

    def _gathered(self, frame: Frame) -> npt.NDArray[Any]:
        """The codes of all spots one after the other, shape (components, pixels)."""
        how, width = self._how, self.format.width
        parts = []
        for index in range(len(how.components)):
            plane = component(how, frame.planes, index, width)
            if how.kind == "ycbcr" and index:
                parts.append([plane[lattice.around][lattice.groups].ravel() for lattice in self._lattices])
            else:
                parts.append([plane[lattice.places].ravel() for lattice in self._lattices])
        codes = np.array([np.concatenate(part) for part in parts])
        return codes >> how.shift if how.shift else codes

    def _steps(self, codes: npt.NDArray[Any]) -> tuple[Steps, Steps, Steps]:
        """R', G' and B' on the scale of samples, each of shape (1, pixels)."""
        scale, decode = self._scale, self._decode
        if decode is None:
            each = [self._sum((plane, scale), offset=STEP_OF_CODE_0) for plane in codes]
            return (each[0], each[1], each[2]) if len(each) == 3 else (each[0], each[0], each[0])
        luma, blue, red = codes
        found = []
        for on_blue, on_red in decode.channels():
            offset = STEP_OF_CODE_0 - scale * (on_blue + on_red) * decode.middle
            found.append(self._sum((luma, scale), (blue, scale * on_blue), (red, scale * on_red), offset=offset))
        return found[0], found[1], found[2]

    def _sum(self, *terms: tuple[npt.NDArray[Any], float], offset: float) -> Steps:
        """The weighted sum of codes, to the nearest step; saturated at the ends of the scale."""
        used = [(plane.reshape(1, -1), weight) for plane, weight in terms if weight]
        if len(used) == 1:
            used.append((used[0][0], 0.0))
        (one, by_one), (other, by_other) = used[0], used[1]
        if len(used) == 2:
            return np.asarray(cv2.addWeighted(one, by_one, other, by_other, offset, dtype=cv2.CV_16U), np.uint16)
        total = cv2.addWeighted(one, by_one, other, by_other, offset, dtype=cv2.CV_32F)
        return np.asarray(cv2.addWeighted(total, 1.0, used[2][0], used[2][1], 0.0, dtype=cv2.CV_16U), np.uint16)

    def _beyond(self, rgb: tuple[Steps, Steps, Steps]) -> npt.NDArray[np.bool_]:
        """Which pixels are clipped in any channel."""
        red, green, blue = rgb
        largest = red if green is red else cv2.max(cv2.max(red, green), blue)
        return np.asarray(largest.ravel() >= self._clip)

    def _luma_beyond(self, codes: npt.NDArray[Any], rgb: tuple[Steps, Steps, Steps]) -> npt.NDArray[np.bool_]:
        """Which pixels are clipped in luma."""
        if not self._how.is_rgb:
            luma = self._sum((codes[0], self._scale), offset=STEP_OF_CODE_0)
        else:
            red, green, blue = self._weights
            luma = self._sum((rgb[0], red), (rgb[1], green), (rgb[2], blue), offset=0.0)
        return np.asarray(luma.ravel() >= self._clip)


def _own_shares(areas: Sequence[Area], kinds: Sequence[SpotKind], active: Area) -> list[float]:
    """Percent of the active picture that each area covers and none of its kind before it does."""
    shares = []
    for number, (area, kind) in enumerate(zip(areas, kinds, strict=True)):
        before = [past for past, same in zip(areas[:number], kinds, strict=False) if same == kind]
        covered = np.zeros((area[3], area[2]), np.bool_)
        for left, top, width, height in before:
            across, down = left - area[0], top - area[1]
            covered[max(0, down) : max(0, down + height), max(0, across) : max(0, across + width)] = True
        shares.append(100.0 * float(np.count_nonzero(~covered)) / (active[2] * active[3]))
    return shares


def _stops(light: float) -> float | None:
    """Stops of light; None where there is none that a curve could tell."""
    return log2(light / MIDDLE_GREY) if light > FAINTEST else None


def _every(start: int, length: int, most: int) -> slice:
    """At most so many places from ``start`` on, evenly spaced."""
    return slice(start, start + length, -(-length // most))
