"""Share of the picture outside the preferred range of signals, on R', G', B' and luma.

EBU R 103 (v3.0, May 2020) prefers signals from -5 to 105 %, in narrow-range codes 5 to 246 at 8 bits, 20 to 984
at 10 and 80 to 3936 at 12, treats R, G, B and Y alike, and tolerates 1 % of the picture outside. This is a
measurement by those figures, not a statement of conformance: the recommendation's own filter is not
reproduced; what filter is used here is chosen and said.
"""

from __future__ import annotations

from typing import Any, Literal

import cv2
import numpy as np
import numpy.typing as npt

from analysis.measure.sample import STEP_OF_CODE_0, STEPS_PER_CODE, Sample
from analysis.measure.unpack import Area, Tile, Unpacker
from analysis.model.errors import SettingsError
from analysis.model.frame import Frame, FrameFormat
from analysis.model.reading import Tolerance
from analysis.signal.layouts import Layout, layout
from analysis.signal.matrix import encoding_decoder

LIMIT_PERCENT = 1.0
"""Part of the picture that may lie outside."""

Filter = Literal["none", "mean3"]


def preferred_codes(bits: int) -> tuple[int, int]:
    """The lowest and the highest code of the preferred range, narrow range.

    >>> preferred_codes(8), preferred_codes(10), preferred_codes(12)
    ((5, 246), (20, 984), (80, 3936))
    """
    return 5 << (bits - 8), 246 << (bits - 8)


def applies(shape: FrameFormat) -> bool:
    """Whether the preferred range means anything for this format: full range cannot leave it."""
    return shape.encoding.range == "narrow"


class ToleranceMeter:
    """Counts every pixel of the active picture against the preferred range; for narrow range only.

    R', G' and B' are taken at luma resolution with the chroma sample of their group, rounded to the
    nearest code, halves upwards, and then compared. ``filter`` is ``none`` or ``mean3``: every component
    averaged over 3 by 3 pixels first, which forgives single pixels and thin overshoots and costs several times as
    much. A pass over the full picture is worth its price only where a delivery asks for it.
    """

    def __init__(self, shape: FrameFormat, filter: Filter = "none") -> None:
        """Raises SettingsError for a full-range format or an unknown filter, FeedUnreadable for the layout."""
        if not applies(shape):
            raise SettingsError("the preferred range of signals is defined for narrow range only")
        if filter not in ("none", "mean3"):
            raise SettingsError(f"no filter {filter}", todo="use none or mean3")
        self._how = how = layout(shape.layout)
        self._filter = filter
        self._low, self._high = preferred_codes(how.depth)
        # Sixteen bits hold every limit that matters: a negative one becomes 0, and every luma is at least that.
        self._unpacker = Unpacker(how, shape.width, shape.height, wide=how.depth == 8)
        self._decode = encoding_decoder(shape.encoding, how.depth) if how.kind == "ycbcr" else None
        self._kept: dict[str, npt.NDArray[Any]] = {}

    def measure(self, frame: Frame, area: Area) -> Tolerance:
        """Shares outside in percent of ``area`` (x, y, width, height, starting at a whole chroma group)."""
        if self._filter == "mean3":
            return self._filtered(frame, area)
        across, down = self._unpacker.across, self._unpacker.down
        groups = area[0] // across, area[1] // down, -(-area[2] // across), -(-area[3] // down)
        counts = [0, 0, 0, 0, 0]
        for place in self._unpacker.places(groups):
            tile = self._unpacker.tile(frame.planes, groups, place)
            found = self._of_chroma(tile) if self._decode is not None else self._of_colour(tile)
            counts = [total + more for total, more in zip(counts, found, strict=True)]
        return _told(counts, area[2] * area[3], self._how)

    def _of_chroma(self, tile: Tile) -> list[int]:
        """Pixels outside in luma, R', G', B' and any; luma limits per chroma sample decide."""
        counts = [0, 0, 0, 0, 0]
        tests = self._tests(tile)
        if not tests:
            return counts
        for luma in tile.luma:
            verdict, either = (self._array(name, luma.shape, np.uint8) for name in ("verdict", "either"))
            counts[0] += luma.size - cv2.countNonZero(cv2.inRange(luma, self._low, self._high, verdict))
            either[:] = 0
            for channel, test, limit in tests:
                cv2.compare(luma, limit[: luma.shape[0], : luma.shape[1]], test, verdict)
                found = cv2.countNonZero(verdict)
                if found:
                    counts[1 + channel] += found
                    cv2.bitwise_or(either, verdict, either)
            counts[4] += cv2.countNonZero(either)
        return counts

    def _tests(self, tile: Tile) -> list[tuple[int, int, npt.NDArray[Any]]]:
        """Channel, comparison and luma limit of every end of a channel that this tile can reach at all.

        Luma is a mean of the three, so that it is never outside where none of them is.
        """
        assert self._decode is not None
        extremes = [cv2.minMaxLoc(luma)[:2] for luma in tile.luma]
        low, high = min(one[0] for one in extremes), max(one[1] for one in extremes)
        blue, red = ([value - self._decode.middle for value in cv2.minMaxLoc(plane)[:2]] for plane in tile.colour)
        tests = []
        for channel, (on_blue, on_red) in enumerate(self._decode.channels()):
            of_blue, of_red = [on_blue * value for value in blue], [on_red * value for value in red]
            if high + max(of_blue) + max(of_red) > self._high + 0.49:
                limit = self._limit(tile.colour, channel, "high", self._high + 1)
                tests.append((channel, cv2.CMP_GE, limit))
            if low + min(of_blue) + min(of_red) < self._low - 0.49:
                limit = self._limit(tile.colour, channel, "low", self._low)
                tests.append((channel, cv2.CMP_LT, limit))
        return tests

    def _limit(self, colour: list[npt.NDArray[Any]], channel: int, end: str, constant: float) -> npt.NDArray[Any]:
        """A constant less what chroma adds to the channel, to the nearest code.

        No matrix adds exactly half a code in narrow range, so that it does not matter which way halves go.
        """
        assert self._decode is not None
        on_blue, on_red = self._decode.channels()[channel]
        limit = self._array(f"{end}{channel}", colour[0].shape, np.uint16)
        shift = constant + (on_blue + on_red) * self._decode.middle
        cv2.addWeighted(colour[0], -on_blue, colour[1], -on_red, shift, limit)
        return limit

    def _of_colour(self, tile: Tile) -> list[int]:
        planes = [*tile.luma, *tile.colour]
        outside, any_ = (self._array(name, planes[0].shape, np.uint8) for name in ("verdict", "either"))
        any_[:] = 0
        counts = []
        for plane in planes:
            cv2.bitwise_not(cv2.inRange(plane, self._low, self._high, outside), outside)
            counts.append(cv2.countNonZero(outside))
            cv2.bitwise_or(any_, outside, any_)
        return [*(counts if len(counts) == 4 else [counts[0], 0, 0, 0]), cv2.countNonZero(any_)]

    def _filtered(self, frame: Frame, area: Area) -> Tolerance:
        """The same after a mean of 3 by 3 pixels, of whole planes; edges are repeated."""
        planes = _whole(frame, self._how)
        if self._decode is not None:
            luma, blue, red = planes[0], planes[1] - self._decode.middle, planes[2] - self._decode.middle
            rgb = [luma + of_blue * blue + of_red * red for of_blue, of_red in self._decode.channels()]
            planes = [luma, *(np.floor(plane + np.float32(0.5)) for plane in rgb)]
        elif self._how.is_rgb:
            luma = 0.2126 * planes[0] + 0.7152 * planes[1] + 0.0722 * planes[2]
            planes = [np.floor(luma + np.float32(0.5)), *planes]
        part = slice(area[1], area[1] + area[3]), slice(area[0], area[0] + area[2])
        outside = []
        for plane in planes:
            mean = cv2.blur(np.ascontiguousarray(plane[part], np.float32), (3, 3), borderType=cv2.BORDER_REPLICATE)
            outside.append((mean >= self._high + 0.5) | (mean < self._low - 0.5))
        counts = [int(np.count_nonzero(one)) for one in outside] + [0] * (4 - len(outside))
        return _told([*counts, int(np.count_nonzero(np.any(outside, axis=0)))], area[2] * area[3], self._how)

    def _array(self, name: str, shape: tuple[int, ...], dtype: npt.DTypeLike) -> npt.NDArray[Any]:
        kept = self._kept.get(name)
        if kept is None or kept.shape[0] < shape[0] or kept.shape[1] < shape[1]:
            kept = self._kept[name] = np.empty(shape, dtype)
        return kept[: shape[0], : shape[1]]


def estimate(sample: Sample, shape: FrameFormat) -> Tolerance | None:
    """The same from a sample of pixels: an estimate, marked as such; None for full range.

    Of 64,800 pixels of which 1 % lie outside, chance alone moves the share by 0.04 of a percent point.
    """
    if not applies(shape) or sample.rgb is None:
        return None
    how = layout(shape.layout)
    low, high = (STEP_OF_CODE_0 + STEPS_PER_CODE * code for code in preferred_codes(8))
    half = STEPS_PER_CODE >> (how.depth - 8) >> 1
    outside = [~_inside(sample.luma, *preferred_codes(how.depth))]
    outside += [~_inside(plane, low - half, high + max(0, half - 1)) for plane in ([] if how.is_grey else sample.rgb)]
    counts = [int(np.count_nonzero(one)) for one in outside] + [0] * (4 - len(outside))
    total = int(np.count_nonzero(np.any(outside, axis=0)))
    return _told([*counts, total], sample.luma.size, how, estimated=True)


def _inside(plane: npt.NDArray[Any], low: int, high: int) -> npt.NDArray[np.bool_]:
    inside: npt.NDArray[np.bool_] = np.asarray(cv2.inRange(plane, low, high)) != 0
    return inside


def _told(counts: list[int], pixels: int, how: Layout, estimated: bool = False) -> Tolerance:
    """Luma, R', G', B' and any, as a tolerance; the limit is judged in whole pixels."""
    luma, red, green, blue, either = (100.0 * count / pixels for count in counts)
    within = counts[4] * 100 <= LIMIT_PERCENT * pixels
    if how.is_grey:
        return Tolerance(any=either, luma=luma, r=None, g=None, b=None, within=within, estimated=estimated)
    return Tolerance(any=either, luma=luma, r=red, g=green, b=blue, within=within, estimated=estimated)


def _whole(frame: Frame, how: Layout) -> list[npt.NDArray[np.float32]]:
    """Full-size planes of codes; chroma repeated to every pixel of its group."""
    width, height = frame.format.width, frame.format.height
    found = []
    for index, where in enumerate(how.components):
        codes = frame.planes[where.plane][:, where.offset :: where.step] >> how.shift
        if how.kind == "ycbcr" and index:
            codes = codes.repeat(1 << how.log2_height, axis=0).repeat(1 << how.log2_width, axis=1)
        found.append(codes[:height, :width].astype(np.float32))
    return found
