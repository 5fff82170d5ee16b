"""Temporal noise from the difference of two pictures, on the parts that stood still.

ISO 15739 (two-frame form; EMVA 1288 has the same): the difference of two pictures of a still scene holds
only what changes with time, so sigma = sqrt(variance of A - B, its mean removed, / 2); texture and fixed
pattern cancel. A live scene is rarely still, so the picture is cut into blocks, and only blocks whose
difference is as small as that of their steadiest neighbours in level are used. Texture as fine as a single
pixel that moves everywhere cannot be told from noise. Where the feed denoises or codes its pictures this is the
noise of the picture as delivered, not the noise of the sensor.

Light is followed through the curve by its slope. Against rendered sensors the ratio came out within 0.3 dB above
10 dB and within 0.8 dB down to 4 dB; below that noise spans the bend of a curve and the figure reads high.
"""

from __future__ import annotations

from math import log2, log10, sqrt
from typing import Any

import msgspec
import numpy as np
import numpy.typing as npt

from analysis.measure.sample import Sample
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
LEAST_BLOCKS, LEAST_PART = 24, 0.45
"""Still blocks needed, as a number and as a part of the picture."""
DARKEST, LEAST_DARK = 0.1, 8
"""Part of the blocks with signal that counts as shadow, and how many of those must stand still."""
LEAST_LEVEL = 0.5
"""IRE above the floor from which on a block has signal."""
PILED_UP = 0.05
"""Part of a block's pixels at an end of the scale from which on its noise is cut off."""
HANGS_TOGETHER = 0.6
"""Correlation of the differences of neighbouring pixels from which on they are not taken for noise: interpolating a
colour mosaic leaves up to about a half, by calculation."""
BANDS = 10

REPEATED = "the two pictures are the same; noise cannot be told from repeats"
MOVING = "too little of the picture stands still to tell noise from movement"
CHANGED = "the picture changed its format, size or source between the two"
TOO_SMALL = "the picture is too small to tell noise"
TOO_FINE = "the noise is finer than one code of this depth can show"
NO_SHADOW = "nothing in the picture is dark and yet has signal"
CODED_STILL = "the coded picture repeats its still parts; their noise cannot be told"
HANGING = "the differences hang together from pixel to pixel, as movement or coding leaves them"
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
        self._kept: tuple[Plane, Plane] | None = None
        self._mark: object = None

    @property
    def waiting(self) -> bool:
        """Whether a first picture is held and a second one is needed."""
        return self._kept is not None

    def forget(self) -> None:
        """Let go of the picture held."""
        self._kept = None

    def hold(self, sample: Sample, mark: object) -> None:
        """Keep the luma of a sample taken with the pixels beside it.

        ``mark`` is equal only for pictures that may be compared with it: a format, the life of the feed and the
        active picture make a good one.
        """
        self._kept, self._mark = tuple(plane.copy() for plane in _pair(sample)), mark  # type: ignore[assignment]

    def compare(self, sample: Sample, mark: object, floor: float = 0.0, ceiling: float | None = None) -> NoiseFound:
        """Noise between the picture held and this one; the picture held stays.

        ``floor`` and ``ceiling`` are the levels in IRE where the signal ends, None for the end of the codes.
        Whatever cannot be measured is refused with words. Nothing held is refused like a change.
        """
        held, now = self._kept, _pair(sample)
        if held is None or mark != self._mark or _shapes(held) != _shapes(now):
            return _refused(CHANGED)
        if np.array_equal(held[0], now[0]):
            return _refused(REPEATED)
        blocks = cut(held, now)
        if blocks is None or blocks.count < LEAST_BLOCKS:
            return _refused(TOO_SMALL)
        usable = blocks.between(*self._ends(held[0], now[0], floor, ceiling), PILED_UP)
        if np.count_nonzero(usable & (blocks.variance > 0.0)) < 0.5 * np.count_nonzero(usable):
            return _refused(CODED_STILL)
        if blocks.light_moved(usable, self._black):
            return _refused(LIGHT_MOVED)
        steady = still(blocks, usable)
        if steady.sum() < max(LEAST_BLOCKS, LEAST_PART * np.count_nonzero(usable)):
            return _refused(MOVING)
        if float(np.median(blocks.hanging[steady])) > HANGS_TOGETHER:
            return _refused(HANGING)
        return self._measured(blocks, usable, steady, floor)

    def _ends(self, held: Plane, now: Plane, floor: float, ceiling: float | None) -> tuple[int, int]:
        """Codes at or beyond which the signal may have been cut off.

        The darkest and brightest codes that occur are among them: where a camera cuts off, many pixels share one.
        """
        low = self._lowest if floor <= 0.0 else round(self._black + floor * self._per_range / 100.0)
        high = self._highest if ceiling is None else int(self._black + ceiling * self._per_range / 100.0)
        return max(low, int(held.min()), int(now.min())), min(high, int(held.max()), int(now.max()))

    def _measured(
        self, blocks: Blocks, usable: npt.NDArray[np.bool_], steady: npt.NDArray[np.bool_], floor: float
    ) -> NoiseFound:
        bands = self._bands(blocks, steady)
        signal = usable & (blocks.level >= self._black + (floor + LEAST_LEVEL) * self._per_range / 100.0)
        if np.count_nonzero(signal) < LEAST_BLOCKS:
            return NoiseFound(noise=Noise(refused=NO_SHADOW), bands=bands)
        shadow = signal & (blocks.level <= np.quantile(blocks.level[signal], DARKEST))
        dark = np.flatnonzero(shadow & steady)
        if dark.size < min(LEAST_DARK, int(np.count_nonzero(shadow))):
            return NoiseFound(noise=Noise(refused=MOVING), bands=bands)
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


def _pair(sample: Sample) -> tuple[Plane, Plane]:
    assert sample.beside is not None, "noise needs a sample with the pixels beside it"
    return sample.luma, sample.beside


def _shapes(pair: tuple[Plane, Plane]) -> list[object]:
    return [(plane.shape, plane.dtype) for plane in pair]


def _refused(why: str) -> NoiseFound:
    return NoiseFound(noise=Noise(refused=why))
