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

from analysis.measure.unpack import Band
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


class BeyondChroma:
    """Counts pixels at or above the code ``clip`` and at or below ``crush`` in Y'CbCr pictures."""

    def __init__(self, decode: Decoder, clip: int, crush: int, depth: int, dtype: npt.DTypeLike) -> None:
        self._decode = decode
        self._clip, self._crush = clip, crush
        self._dtype = np.dtype(dtype)
        # Saturation must not change a verdict: in 8 bit a limit may exceed 255 but is never negative,
        # so "above limit - 1" is safe; in 16 bit it may be negative but never too large, so "from limit".
        self._narrow = self._dtype == np.uint8
        self._tie = 3e-5 * (1 << (depth - 8))  # halves go upwards; more than single precision loses
        self._kept: dict[str, npt.NDArray[Any]] = {}
        self.clipped: Counts = [0, 0, 0, 0]
        self.crushed: Counts = [0, 0, 0, 0]

    def start(self) -> None:
        """Begin a new picture."""
        self.clipped, self.crushed = [0, 0, 0, 0], [0, 0, 0, 0]

    def add(self, band: Band) -> None:
        """Count the pixels of one band."""
        low, high = _extremes(band.luma)
        reach = self._reach(band.colour)
        # What no combination of this band's luma and chroma can reach needs no counting.
        clipping = [channel for channel in range(3) if high + reach[channel][1] > self._clip - 0.51]
        crushing = [channel for channel in range(3) if low + reach[channel][0] < self._crush + 0.51]
        above = cv2.CMP_GT if self._narrow else cv2.CMP_GE
        if clipping:
            offset = self._clip - (1.0 if self._narrow else 0.0) - self._tie
            self._count(band, clipping, offset, above, cv2.min, self.clipped)
        if crushing:
            self._count(band, crushing, self._crush + 1.0 - self._tie, cv2.CMP_LT, cv2.max, self.crushed)

    def _reach(self, colour: list[npt.NDArray[Any]]) -> list[tuple[float, float]]:
        """The least and the most that this band's chroma adds to R', G' and B'."""
        blue, red = (
            (edge[0] - self._decode.middle, edge[1] - self._decode.middle)
            for edge in (cv2.minMaxLoc(colour[0])[:2], cv2.minMaxLoc(colour[1])[:2])
        )
        found = []
        for on_blue, on_red in self._decode.channels():
            ends = sorted((on_blue * blue[0], on_blue * blue[1])), sorted((on_red * red[0], on_red * red[1]))
            found.append((ends[0][0] + ends[1][0], ends[0][1] + ends[1][1]))
        return found

    def _count(self, band: Band, channels: list[int], offset: float, test: int, pick: Any, into: Counts) -> None:
        limits = [self._limit(band.colour, channel, offset) for channel in channels]
        slots = list(channels)
        if len(limits) > 1:
            joint = self._array("joint", limits[0].shape)
            pick(limits[0], limits[1], joint)
            for limit in limits[2:]:
                pick(joint, limit, joint)
            limits.append(joint)
            slots.append(3)
        for luma in band.luma:
            rows, columns = luma.shape
            verdict = self._array("verdict", luma.shape, np.uint8)
            for limit, slot in zip(limits, slots, strict=True):
                cv2.compare(luma, limit[:rows, :columns], test, verdict)
                found = cv2.countNonZero(verdict)
                into[slot] += found
                if len(slots) == 1:
                    into[3] += found

    def _limit(self, colour: list[npt.NDArray[Any]], channel: int, offset: float) -> npt.NDArray[Any]:
        """Luma limits of one channel: ``offset`` less what chroma adds, to the nearest code."""
        on_blue, on_red = self._decode.channels()[channel]
        constant = offset + (on_blue + on_red) * self._decode.middle
        limit = self._array(f"limit{channel}", colour[0].shape)
        blue, red = colour
        if on_blue == 0.0:
            blue = red
        elif on_red == 0.0:
            red = blue
        cv2.addWeighted(blue, -on_blue, red, -on_red, constant, limit)
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

    def add(self, band: Band) -> None:
        """Count the pixels of one band."""
        extreme = self._array("extreme", band.colour[0])
        for pick, level, test, into in (
            (cv2.max, self._clip, cv2.CMP_GE, self.clipped),
            (cv2.min, self._crush, cv2.CMP_LE, self.crushed),
        ):
            pick(band.colour[0], band.colour[1], extreme)
            pick(extreme, band.colour[2], extreme)
            low, high = cv2.minMaxLoc(extreme)[:2]
            if (high < level) if test == cv2.CMP_GE else (low > level):
                continue
            for slot, plane in enumerate([*band.colour, extreme]):
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
