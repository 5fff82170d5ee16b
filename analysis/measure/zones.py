"""The zone map: the small picture as the printed zones 0 to X of the Zone System, one stop each.

Zone V is middle grey, an 18 % card; every zone reaches half a stop to either side of its own (A. Adams, The
Negative). Light is linearised on R', G' and B' before luminance. Where the signal is clipped or crushed there is
no light to tell: those places carry marks of their own instead of a zone.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import floor
from typing import Any

import cv2
import msgspec
import numpy as np
import numpy.typing as npt

from analysis.measure.sample import STEPS_PER_CODE, Sample, step_of_level
from analysis.model.frame import FrameFormat
from analysis.signal.curves import MIDDLE_GREY, Curve
from analysis.signal.layouts import layout
from analysis.signal.levels import clip_code, crush_code, percent

Zones = npt.NDArray[np.uint8]
"""Zone numbers 0 to 10, or a mark: :data:`CLIP`, :data:`CRUSH`, :data:`QUIET`; shape (height, width)."""
Mask = npt.NDArray[np.bool_]

MIDDLE_ZONE, TOP_ZONE = 5, 10
CLIP, CRUSH, QUIET = 11, 12, 13
"""Marks: clipped, crushed, and nothing to show (where only what is outside the aims is asked for)."""

ZONE_NAMES = ("0", "I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X")
BT709_WEIGHTS = (0.2126, 0.7152, 0.0722)
"""Luma of R'G'B' where nothing else is said (ITU-R BT.709-6 item 3.2)."""

_SIGNAL_STEPS, _SIGNAL_LEAST, _SIGNAL_MOST = 4096, -0.1, 1.1
_TINY = 1e-6


def zone_of_stops(stops: float) -> int:
    """The zone of light so many stops from middle grey; halves go to the brighter zone.

    >>> [zone_of_stops(stops) for stops in (-9.0, -4.6, -2.0, 0.0, 0.5, 1.4, 7.0)]
    [0, 0, 3, 5, 6, 6, 10]
    """
    return min(max(floor(stops + MIDDLE_ZONE + 0.5), 0), TOP_ZONE)


class Aimed(msgspec.Struct, frozen=True, kw_only=True):
    """A place that has an aim: its area as fractions of the picture, and the levels in IRE it may have."""

    x: float
    y: float
    width: float
    height: float
    low: float
    high: float


class Free(msgspec.Struct, frozen=True, kw_only=True):
    """A place that may clip: a lamp, a window; fractions of the picture."""

    x: float
    y: float
    width: float
    height: float


class ZoneMapper:
    """Makes zone maps of the small pictures of one feed, through its curve; immutable, for any thread.

    ``weights`` are those of the luma (see ``signal.matrix.luma_weights``). ``clip_percent`` and ``crush_percent``
    are the levels in IRE from which on the signal is clipped (in any channel) and crushed (in luma).

    >>> from analysis.signal.curves import curve
    >>> mapper = ZoneMapper(curve("bt709"))
    >>> greys = np.array([[13, 44, 104, 152, 216, 255, 0]], np.uint8)
    >>> mapper.of_picture(np.stack([greys] * 3, axis=-1)).tolist()
    [[1, 3, 5, 6, 7, 11, 12]]
    """

    def __init__(
        self,
        curve: Curve,
        weights: tuple[float, float, float] = BT709_WEIGHTS,
        clip_percent: float = 100.0,
        crush_percent: float = 0.0,
    ) -> None:
        self.curve, self.weights = curve, weights
        self.clip_percent, self.crush_percent = clip_percent, crush_percent
        self._of_code = _light(curve, np.arange(256) / 255.0).reshape(1, 256)
        grid = np.linspace(_SIGNAL_LEAST, _SIGNAL_MOST, _SIGNAL_STEPS)
        self._of_step = _light(curve, grid)
        self._edges = np.array([MIDDLE_GREY * 2.0 ** (zone - MIDDLE_ZONE - 0.5) for zone in range(1, TOP_ZONE + 1)])

    def of_picture(
        self, small: npt.NDArray[np.uint8], clipped: Mask | None = None, crushed: Mask | None = None
    ) -> Zones:
        """The zones of a full-range 8-bit R'G'B' picture of shape (height, width, 3), as a view carries it.

        Such a picture ends at 0 and 100 IRE, and averaging has hidden what was clipped in a few pixels only:
        ``clipped`` and ``crushed`` (shape (height, width)) mark those as well; see :func:`marks`.
        """
        light = cv2.LUT(np.ascontiguousarray(small), self._of_code)
        # Half a code of slack, as codes are rounded; a level that such a picture cannot hold is not told by it.
        top = 2.55 * self.clip_percent - 0.5 if self.clip_percent <= 100.0 else np.inf
        low = 2.55 * self.crush_percent + 0.5 if self.crush_percent >= 0.0 else -np.inf
        return self._zones(light, small, top, low, clipped, crushed)

    def of_signal(
        self, signal: npt.NDArray[np.float32], clipped: Mask | None = None, crushed: Mask | None = None
    ) -> Zones:
        """The zones of R'G'B' as normalised signal (0 black, 1 nominal white), float, shape (height, width, 3).

        Not limited to 0-1 and as fine as the feed: the light of each value is read from a table of 4096 steps,
        interpolated.
        """
        grid = (signal - _SIGNAL_LEAST) * ((_SIGNAL_STEPS - 1) / (_SIGNAL_MOST - _SIGNAL_LEAST))
        light = np.interp(grid, np.arange(_SIGNAL_STEPS), self._of_step)
        top, low = self.clip_percent / 100.0 - _TINY, self.crush_percent / 100.0 + _TINY
        return self._zones(light, signal, top, low, clipped, crushed)

    def _zones(
        self,
        light: npt.NDArray[Any],
        signal: npt.NDArray[Any],
        top: float,
        low: float,
        clipped: Mask | None,
        crushed: Mask | None,
    ) -> Zones:
        luminance = light.reshape(-1, 3) @ np.array(self.weights)
        zones: Zones = np.searchsorted(self._edges, luminance, side="right").astype(np.uint8).reshape(signal.shape[:2])
        dark = signal.reshape(-1, 3) @ np.array(self.weights) <= low
        zones[dark.reshape(zones.shape)] = CRUSH
        if crushed is not None:
            zones[crushed] = CRUSH
        zones[np.any(signal >= top, axis=-1)] = CLIP
        if clipped is not None:
            zones[clipped] = CLIP
        return zones


def _light(curve: Curve, signal: npt.NDArray[np.float64]) -> npt.NDArray[np.float32]:
    return np.asarray(curve.decode(signal), np.float32)


def marks(
    sample: Sample,
    shape: FrameFormat,
    size: tuple[int, int],
    clip_percent: float | None = None,
    crush_percent: float | None = None,
) -> tuple[Mask, Mask]:
    """Which places of a small picture hold a clipped, and which a crushed pixel, told from true pixels.

    ``sample`` is of the active picture, with colour; ``size`` is (width, height) of the small picture. The levels
    are IRE, None takes the encoding's own. A place is marked clipped where any of its sampled pixels is, in
    any channel, and crushed where all of them are, in luma: a black speck is no loss, a burnt one is.
    """
    assert sample.rgb is not None, "marks need a sample with colour"
    depth, span = layout(shape.layout).depth, shape.encoding.range
    half = 0.5 * STEPS_PER_CODE / 2 ** (depth - 8)
    level = percent(clip_code(clip_percent, depth, span), depth, span)
    limit = round(step_of_level(level, depth, span) - half)
    red, green, blue = sample.rgb
    largest = red if green is red else cv2.max(cv2.max(red, green), blue)
    dark = sample.luma <= crush_code(crush_percent, depth, span)
    return _spread(largest >= limit, size) > 0.0, _spread(dark, size) >= 1.0 - 1e-3


def _spread(found: Mask, size: tuple[int, int]) -> npt.NDArray[np.float32]:
    """How much of each place of the small picture is found, 0 to 1."""
    return np.asarray(cv2.resize(found.astype(np.float32), size, interpolation=cv2.INTER_AREA), np.float32)


def only_outside(
    zones: Zones,
    levels: npt.NDArray[np.floating[Any]],
    aimed: Sequence[Aimed],
    free: Sequence[Free] = (),
) -> Zones:
    """The map with everything quiet but what is outside the aims.

    ``levels`` is luma in IRE, shape (height, width); see :func:`levels_of`. Within each aimed area the places
    outside its levels keep their zone; clip and crush stay marked everywhere, but for clip in a free area.
    Where aimed areas overlap, a place has to satisfy each of them.
    """
    shown: Zones = np.full_like(zones, QUIET)
    marked = (zones == CLIP) | (zones == CRUSH)
    shown[marked] = zones[marked]
    for area in free:
        part = shown[_within(area, zones)]
        part[part == CLIP] = QUIET
    for aim in aimed:
        place = _within(aim, zones)
        outside = (levels[place] < aim.low) | (levels[place] > aim.high)
        shown[place][outside] = zones[place][outside]
    return shown


def levels_of(
    small: npt.NDArray[np.uint8], weights: tuple[float, float, float] = BT709_WEIGHTS
) -> npt.NDArray[np.float32]:
    """Luma in IRE of a full-range 8-bit R'G'B' picture of shape (height, width, 3).

    >>> levels_of(np.full((1, 1, 3), 102, np.uint8)).round(2).tolist()
    [[40.0]]
    """
    return np.asarray(small @ np.array(weights, np.float32) * np.float32(100.0 / 255.0), np.float32)


def _within(area: Aimed | Free, zones: Zones) -> tuple[slice, slice]:
    """The places whose area lies mostly inside; at least one, never outside the picture."""
    rows, columns = zones.shape
    return _part(area.y, area.height, rows), _part(area.x, area.width, columns)


def _part(start: float, size: float, length: int) -> slice:
    low = min(max(int(start * length + 0.5), 0), length - 1)
    return slice(low, min(max(int((start + size) * length + 0.5), low + 1), length))


def shares(zones: Zones) -> tuple[float, ...]:
    """Percent of the map in each zone 0 to X, then clipped and crushed: 13 figures.

    >>> shares(np.array([[5, 5, 11, 0]], np.uint8))[5:]
    (50.0, 0.0, 0.0, 0.0, 0.0, 0.0, 25.0, 0.0)
    """
    counts = np.bincount(zones.ravel(), minlength=QUIET + 1)[:QUIET]
    return tuple((100.0 * counts / zones.size).tolist())
