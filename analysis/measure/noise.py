"""Temporal noise from the difference of two pictures, on the parts that stood still.

ISO 15739 (two-frame form; EMVA 1288 has the same): the difference of two pictures of a still scene holds
only what changes with time, so sigma = sqrt(variance of A - B, its mean removed, / 2); texture and fixed
pattern cancel. A live scene is rarely still, so the picture is cut into blocks, and only blocks whose
difference is as small as that of their steadiest neighbours in level are used. Where the feed denoises or
codes its pictures this is the noise of the picture as delivered, not the noise of the sensor.
"""

from __future__ import annotations

from math import log2, log10, sqrt
from typing import Any

import msgspec
import numpy as np
import numpy.typing as npt

from analysis.measure.still import Blocks, cut, still
from analysis.model.frame import FrameFormat, Plane
from analysis.model.reading import Noise
from analysis.signal.curves import Curve
from analysis.signal.layouts import layout
from analysis.signal.levels import black_code, codes_per_range, percent, top_code

QUANTISATION = 1.0 / 12.0
"""Variance that rounding to whole codes adds, in codes squared (uniform error of one code)."""
LEAST_SIGMA = 0.35
"""Below this many codes rounding no longer adds its own variance, and nothing can be told."""
LEAST_BLOCKS, LEAST_PART = 24, 0.33
"""Still blocks needed, as a number and as a part of the picture."""
DARKEST = 0.1
"""Part of the still blocks with signal that counts as shadow."""
LEAST_LEVEL = 0.5
"""IRE above the floor from which on a block has signal."""
PILED_UP = 0.05
"""Part of a block's pixels at an end of the scale from which on its noise is cut off."""
BANDS = 10

REPEATED = "the two pictures are the same; noise cannot be told from repeats"
MOVING = "too little of the picture stands still to tell noise from movement"
CHANGED = "the picture changed its format, size or source between the two"
TOO_SMALL = "the picture is too small to tell noise"
TOO_FINE = "the noise is finer than one code of this depth can show"
NO_SHADOW = "nothing in the picture is dark and yet has signal"
CODED_STILL = "the coded picture repeats its still parts; their noise cannot be told"
LIGHT_MOVED = "the light changed between the two pictures"
NO_CURVE = "the curve is not known; noise is told in IRE only"


class Band(msgspec.Struct, frozen=True, kw_only=True):
    """Temporal noise around one level: mean ``level`` and ``sigma`` in IRE, over ``pixels`` pixels."""

    level: float
    sigma: float
    pixels: int


class NoiseFound(msgspec.Struct, frozen=True, kw_only=True):
    """What two pictures say of noise. ``shadow_light`` is the linear light the shadow noise equals, if known."""

    noise: Noise
    bands: tuple[Band, ...] = ()
    shadow_light: float | None = None


def two_frame_sigma(first: npt.NDArray[Any], second: npt.NDArray[Any]) -> float:
    """Temporal noise of two pictures of a still scene, in their own unit (ISO 15739, EMVA 1288 R4.0).

    ``sqrt((mean((A - B)^2) - (mean A - mean B)^2) / 2)``; rounding to whole codes is still in it.

    >>> two_frame_sigma(np.array([10, 50, 90, 30]), np.array([12, 48, 92, 28]))
    1.4142135623730951
    """
    return sqrt(float(np.var(np.subtract(first, second, dtype=np.float64))) / 2.0)


def without_quantisation(sigma: float) -> float | None:
    """Noise in codes before rounding to whole codes, None where rounding hides it.

    Rounding adds 1/12 of a code squared as long as the noise itself is more than about a third of a
    code (uniform quantisation error; EMVA 1288 R4.0 counts it the same way).

    >>> round(without_quantisation(2.0207), 3)
    2.0
    >>> without_quantisation(0.2) is None
    True
    """
    variance = sigma * sigma - QUANTISATION
    return sqrt(variance) if variance >= LEAST_SIGMA**2 else None


class NoiseMeter:
    """Keeps one sparse picture and compares the next one with it."""

    def __init__(self, shape: FrameFormat, curve: Curve | None) -> None:
        self._depth, self._range = layout(shape.layout).depth, shape.encoding.range
        self._black = black_code(self._depth, self._range)
        self._per_range = codes_per_range(self._depth, self._range)
        # Codes the signal cannot pass: an end of the range that SDI leaves, or of the numbers themselves.
        edge = 1 << (self._depth - 8) if self._range == "narrow" else 0
        self._lowest, self._highest = edge, top_code(self._depth) - edge
        self._light: npt.NDArray[np.float64] | None = None
        self._slope: npt.NDArray[np.float64] | None = None
        if curve is not None:
            halves = (np.arange(2 * top_code(self._depth) + 1) / 2.0 - self._black) / self._per_range
            self._light = np.asarray(curve.decode(halves), np.float64)
            self._slope = np.gradient(self._light, 0.5)
        self._kept: Plane | None = None
        self._mark: object = None

    @property
    def waiting(self) -> bool:
        """Whether a first picture is held and a second one is needed."""
        return self._kept is not None

    def forget(self) -> None:
        """Let go of the picture held."""
        self._kept = None

    def hold(self, luma: Plane, mark: object) -> None:
        """Keep the luma of a sample. ``mark`` is equal only for pictures that may be compared with it.

        A format, the life of the feed and the active picture make a good mark.
        """
        if self._kept is None or self._kept.shape != luma.shape or self._kept.dtype != luma.dtype:
            self._kept = np.empty_like(luma)
        np.copyto(self._kept, luma)
        self._mark = mark

    def compare(self, luma: Plane, mark: object, floor: float = 0.0, ceiling: float | None = None) -> NoiseFound:
        """Noise between the picture held and this one; the picture held stays.

        ``floor`` and ``ceiling`` are the levels in IRE where the signal ends, None for the end of the codes.
        Whatever cannot be measured is refused with words. Nothing held is refused like a change.
        """
        held = self._kept
        if held is None or mark != self._mark or held.shape != luma.shape or held.dtype != luma.dtype:
            return _refused(CHANGED)
        if np.array_equal(held, luma):
            return _refused(REPEATED)
        blocks = cut(held, luma)
        if blocks is None or blocks.count < LEAST_BLOCKS:
            return _refused(TOO_SMALL)
        low = max(self._lowest, round(self._black + floor * self._per_range / 100.0) if floor else self._lowest)
        high = self._highest if ceiling is None else int(self._black + ceiling * self._per_range / 100.0)
        usable = blocks.between(low, high, PILED_UP)
        if np.count_nonzero(usable & (blocks.variance > 0.0)) < 0.5 * np.count_nonzero(usable):
            return _refused(CODED_STILL)
        if blocks.light_moved(usable, self._black):
            return _refused(LIGHT_MOVED)
        steady = still(blocks, usable)
        if steady.sum() < max(LEAST_BLOCKS, LEAST_PART * np.count_nonzero(usable)):
            return _refused(MOVING)
        return self._measured(blocks, steady, floor)

    def _measured(self, blocks: Blocks, steady: npt.NDArray[np.bool_], floor: float) -> NoiseFound:
        bands = self._bands(blocks, steady)
        signal = steady & (blocks.level >= self._black + (floor + LEAST_LEVEL) * self._per_range / 100.0)
        order = np.flatnonzero(signal)[np.argsort(blocks.level[signal])]
        if order.size < LEAST_BLOCKS:
            return NoiseFound(noise=Noise(refused=NO_SHADOW), bands=bands)
        dark = order[: max(8, round(DARKEST * order.size))]
        sigma = without_quantisation(sqrt(float(blocks.variance[dark].mean()) / 2.0))
        if sigma is None:
            return NoiseFound(noise=Noise(refused=TOO_FINE), bands=bands)
        ire = 100.0 * sigma / self._per_range
        if self._light is None or self._slope is None:
            return NoiseFound(noise=Noise(ire=ire, refused=NO_CURVE), bands=bands)
        total = blocks.total[dark]
        light = float(self._light[total].mean())
        squares = self._slope[total] ** 2
        noisy = float((squares * blocks.centred(dark) ** 2).sum() / blocks.freedom(dark)) / 2.0
        noisy -= QUANTISATION * float(squares.mean())
        if light <= 0.0 or noisy <= 0.0:
            return NoiseFound(noise=Noise(ire=ire, refused=NO_SHADOW), bands=bands)
        ratio = light / sqrt(noisy)
        noise = Noise(shadow_snr_db=20.0 * log10(ratio), shadow_snr_stops=log2(ratio), ire=ire)
        return NoiseFound(noise=noise, bands=bands, shadow_light=sqrt(noisy))

    def _bands(self, blocks: Blocks, steady: npt.NDArray[np.bool_]) -> tuple[Band, ...]:
        """Noise of the still blocks, a tenth of the signal range at a time."""
        numbers = np.floor((blocks.level - self._black) * (BANDS / self._per_range)).astype(int)
        found = []
        for number in range(int(numbers.min()), int(numbers.max()) + 1):
            inside = steady & (numbers == number)
            if not inside.any():
                continue
            sigma = without_quantisation(sqrt(float(blocks.variance[inside].mean()) / 2.0))
            if sigma is not None:
                level = percent(float(blocks.level[inside].mean()), self._depth, self._range)
                pixels = int(inside.sum()) * blocks.size
                found.append(Band(level=level, sigma=100.0 * sigma / self._per_range, pixels=pixels))
        return tuple(found)


def _refused(why: str) -> NoiseFound:
    return NoiseFound(noise=Noise(refused=why))
