"""Counts the pixels at or beyond a level on R', G', B' or any of them, on every pixel, in whole codes.

R'G'B' are taken at luma resolution, each luma sample with the chroma sample of its group (chroma is
repeated, not interpolated), rounded to the nearest code with halves upwards and then compared. The
rounded values are never written down: ``R' >= clip`` means ``Y >= clip - 0.5 - r_cr (Cr - middle)``, so
one small array of luma limits per chroma sample decides all pixels of a group.

The limits are computed in single precision: a pixel whose R', G' or B' lies within 0.0001 of an 8-bit code
of halfway between the two codes that matter may be decided either way. At 8 bits, R' and B' are exact for
every chroma code and G' for all but 3 of the 65,536 pairs of them.
Luma is a weighted mean of R'G'B', so a pixel beyond in luma is beyond in one of them as well.
"""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from analysis.measure.unpack import Tile
from analysis.signal.matrix import Decoder

Counts = list[int]
"""Pixels beyond on R', G', B' and on any of them."""


def needs_wide(decode: Decoder, clip: int, crush: int) -> bool:
    """Whether the limits of 8-bit pictures at these levels do not all fit into 8 bits.

    They fit at the usual levels; they do not when a clip level is set so low, or a crush level so
    high, that saturated chroma alone decides.
    """
    least, most = -decode.middle, decode.middle - 1
    for factors in decode.channels():
        raises = sum(max(factor * least, factor * most) for factor in factors)
        lowers = sum(min(factor * least, factor * most) for factor in factors)
        if clip - 1.0 - raises < 0.0 or crush + 1.0 - lowers > 255.0:
            return True
    return False


class _Side:
    """How one end of the scale is decided: a luma limit per chroma sample, and the test against it."""

    __slots__ = ("constant", "inverted", "pick", "sign", "test")

    def __init__(self, constant: float, sign: float, test: int, pick: Any, inverted: bool) -> None:
        self.constant, self.sign, self.test, self.pick, self.inverted = constant, sign, test, pick, inverted


class BeyondChroma:
    """Counts pixels at or above the code ``clip`` and at or below ``crush`` in Y'CbCr pictures."""

    def __init__(self, decode: Decoder, clip: int, crush: int, depth: int, dtype: npt.DTypeLike) -> None:
        self._middle, self._channels = decode.middle, decode.channels()
        self._clip, self._crush = clip, crush
        self._dtype = np.dtype(dtype)
        self._bytes = self._dtype == np.uint8
        tie = 3e-5 * (1 << (depth - 8))  # halves go upwards; more than single precision loses
        # Saturation must not change a verdict. In 8 bits a limit may exceed 255 but is never negative, so
        # "above one less than the limit" is safe, for crush on inverted luma. In 16 bits a limit may be
        # negative but is never too large, so "from the limit on" and "below the limit" are.
        if self._bytes:
            self._high = _Side(clip - 1.0 - tie, 1.0, cv2.CMP_GT, cv2.min, False)
            self._low = _Side(254.0 - crush + tie, -1.0, cv2.CMP_GT, cv2.min, True)
        else:
            self._high = _Side(clip - tie, 1.0, cv2.CMP_GE, cv2.min, False)
            self._low = _Side(crush + 1.0 - tie, 1.0, cv2.CMP_LT, cv2.max, False)
        self._kept: dict[str, npt.NDArray[Any]] = {}
        self.clipped: Counts = [0, 0, 0, 0]
        self.crushed: Counts = [0, 0, 0, 0]

    def start(self) -> None:
        """Begin a new picture."""
        self.clipped, self.crushed = [0, 0, 0, 0], [0, 0, 0, 0]

    def add(self, tile: Tile) -> None:
        """Count the pixels of one tile."""
        low, high = _extremes(tile.luma)
        reach = self._reach(tile.colour)
        # What no combination of this tile's luma and chroma can reach needs no counting.
        clipping = [channel for channel in range(3) if high + reach[channel][1] > self._clip - 0.51]
        crushing = [channel for channel in range(3) if low + reach[channel][0] < self._crush + 0.51]
        if clipping:
            self._count(tile, clipping, self._high, self.clipped)
        if crushing:
            self._count(tile, crushing, self._low, self.crushed)

    def _reach(self, colour: list[npt.NDArray[Any]]) -> list[tuple[float, float]]:
        """The least and the most that this tile's chroma adds to R', G' and B'."""
        blue, red = ([value - self._middle for value in cv2.minMaxLoc(plane)[:2]] for plane in colour)
        found = []
        for on_blue, on_red in self._channels:
            of_blue, of_red = [on_blue * value for value in blue], [on_red * value for value in red]
            found.append((min(of_blue) + min(of_red), max(of_blue) + max(of_red)))
        return found

    def _count(self, tile: Tile, channels: list[int], side: _Side, into: Counts) -> None:
        limits = [self._limit(tile.colour, channel, side) for channel in channels]
        joint: npt.NDArray[Any] | None = None
        for luma in tile.luma:
            rows, columns = luma.shape
            verdict = self._array("verdict", luma.shape, np.uint8)
            tested = cv2.bitwise_not(luma, self._array("inverted", luma.shape)) if side.inverted else luma
            found = []
            for limit in limits:
                cv2.compare(tested, limit[:rows, :columns], side.test, verdict)
                found.append(cv2.countNonZero(verdict))
            either = max(found)
            if sum(found) > either:
                joint = self._joint(limits, side) if joint is None else joint
                cv2.compare(tested, joint[:rows, :columns], side.test, verdict)
                either = cv2.countNonZero(verdict)
            for channel, count in zip(channels, found, strict=True):
                into[channel] += count
            into[3] += either

    def _joint(self, limits: list[npt.NDArray[Any]], side: _Side) -> npt.NDArray[Any]:
        """The limit from which on at least one channel is beyond."""
        joint = self._array("joint", limits[0].shape)
        side.pick(limits[0], limits[1], joint)
        for limit in limits[2:]:
            side.pick(joint, limit, joint)
        return joint

    def _limit(self, colour: list[npt.NDArray[Any]], channel: int, side: _Side) -> npt.NDArray[Any]:
        """Luma limits of one channel: a constant less what chroma adds, to the nearest code."""
        on_blue, on_red = (-side.sign * factor for factor in self._channels[channel])
        constant = side.constant - (on_blue + on_red) * self._middle
        limit = self._array(f"limit{channel}", colour[0].shape)
        if on_blue and on_red:
            cv2.addWeighted(colour[0], on_blue, colour[1], on_red, constant, limit)
        elif self._bytes:  # faster than a weighted sum, and no limit is negative here
            cv2.convertScaleAbs(colour[1] if on_red else colour[0], limit, on_blue + on_red, constant)
        else:
            chroma = colour[1] if on_red else colour[0]
            cv2.addWeighted(chroma, on_blue + on_red, chroma, 0.0, constant, limit)
        return limit

    def _array(self, name: str, shape: tuple[int, ...], dtype: npt.DTypeLike | None = None) -> npt.NDArray[Any]:
        kept = self._kept.get(name)
        if kept is None or kept.shape[0] < shape[0] or kept.shape[1] < shape[1]:
            kept = self._kept[name] = np.empty(shape, dtype or self._dtype)
        return kept[: shape[0], : shape[1]]


class BeyondColour:
    """Counts pixels at or above the code ``clip`` and at or below ``crush`` in R'G'B' pictures."""

    def __init__(self, clip: int, crush: int) -> None:
        self._clip, self._crush = clip, crush
        self._kept: dict[str, npt.NDArray[Any]] = {}
        self.clipped: Counts = [0, 0, 0, 0]
        self.crushed: Counts = [0, 0, 0, 0]

    def start(self) -> None:
        """Begin a new picture."""
        self.clipped, self.crushed = [0, 0, 0, 0], [0, 0, 0, 0]

    def add(self, tile: Tile) -> None:
        """Count the pixels of one tile."""
        extreme = self._array("extreme", tile.colour[0])
        for pick, level, test, into in (
            (cv2.max, self._clip, cv2.CMP_GE, self.clipped),
            (cv2.min, self._crush, cv2.CMP_LE, self.crushed),
        ):
            pick(tile.colour[0], tile.colour[1], extreme)
            pick(extreme, tile.colour[2], extreme)
            low, high = cv2.minMaxLoc(extreme)[:2]
            if (high < level) if test == cv2.CMP_GE else (low > level):
                continue
            for slot, plane in enumerate([*tile.colour, extreme]):
                into[slot] += self._beyond(plane, level, test)

    def _beyond(self, plane: npt.NDArray[Any], level: int, test: int) -> int:
        verdict = self._array("verdict", plane).view(bool)
        (np.greater_equal if test == cv2.CMP_GE else np.less_equal)(plane, level, out=verdict)
        return int(np.count_nonzero(verdict))

    def _array(self, name: str, like: npt.NDArray[Any]) -> npt.NDArray[Any]:
        dtype = np.dtype(np.uint8) if name == "verdict" else like.dtype
        kept = self._kept.get(name)
        if kept is None or kept.shape[0] < like.shape[0] or kept.shape[1] < like.shape[1]:
            kept = self._kept[name] = np.empty(like.shape, dtype)
        return kept[: like.shape[0], : like.shape[1]]


def _extremes(arrays: list[npt.NDArray[Any]]) -> tuple[float, float]:
    edges = [cv2.minMaxLoc(array)[:2] for array in arrays]
    return min(edge[0] for edge in edges), max(edge[1] for edge in edges)
