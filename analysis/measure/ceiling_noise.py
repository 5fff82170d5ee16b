"""Whether a pile-up is more still than the noise of the picture lets it be.

Texture is the mean difference of neighbouring pixels of a row in 8-bit codes, each pair no further apart than a
pile-up is wide, so that edges count neither in the pile-up nor elsewhere.
"""

from __future__ import annotations

from math import ceil, exp, floor, log
from typing import Any

import cv2
import msgspec
import numpy as np
import numpy.typing as npt

from analysis.measure.pileup import Pileup

Codes = npt.NDArray[np.int16]

LEAST_INSIDE, LEAST_PAIRS = 8, 60
"""Fewest pairs of pixels from which texture is judged, in the pile-up and in a band of levels below it."""
BANDS = ((0.0, 10.0), (10.0, 25.0), (25.0, 50.0))
"""Bands of levels below a pile-up, in 8-bit codes times 2."""
STEEPEST = log(2.0) / 2.0 / 12.5
"""How fast shot noise may fall with the level, a natural logarithm per 8-bit code: by the root of the light, in a
log curve of 17.5 stops to the range (12.5 codes to the stop), the flattest there is."""
STILL = 0.3
"""Most texture in a pile-up, as a part of what is expected there."""
MOST_INSIDE = 0.3
"""Most texture in a pile-up, whatever is expected."""
VISIBLE = 0.45
"""Least texture, in codes of the picture, that rounding to codes leaves to be seen."""


class Texture(msgspec.Struct, frozen=True, kw_only=True):
    """Texture inside a pile-up, what noise would put there, and everywhere below it; None where too little is seen."""

    inside: float | None
    expected: float | None
    elsewhere: float

    @property
    def still(self) -> bool:
        """Whether there is much less inside than there would be if the signal were free to move."""
        if self.inside is None or self.expected is None:
            return False
        return self.inside <= min(MOST_INSIDE, STILL * self.expected)


def texture(codes: Codes, pile: Pileup, unit: float, even: bool = False) -> Texture:
    """Texture along rows of codes, ``unit`` of which make an 8-bit code.

    ``even`` says that the curve keeps noise about even from the middle up, as a display curve does (shot noise
    grows by the root of the light, the slope of the curve falls by nearly as much) and a log curve does not.

    >>> flat, busy = np.full((1, 200), 90, np.int16), np.tile(np.array([[70, 72]], np.int16), 100)
    >>> found = texture(np.hstack([flat, busy]), Pileup(code=90, low=89, high=91, share=0.5, beyond=0, contrast=9), 1.0)
    >>> found.inside, found.expected is not None and round(found.expected, 2), found.still
    (0.0, 1.39, True)
    """
    if codes.shape[0] == 0 or codes.shape[1] < 4:
        return Texture(inside=None, expected=None, elsewhere=0.0)
    width = pile.high - pile.low + 1
    levels = np.ascontiguousarray(codes[:, :-1])
    apart = cv2.absdiff(np.ascontiguousarray(codes[:, 1:]), levels)
    smooth = cv2.inRange(apart, 0, width - 1)
    top = pile.low - width - 1

    def below(near: float, far: float) -> float | None:
        """Texture between so many codes below the pile-up."""
        mask = cv2.bitwise_and(smooth, cv2.inRange(levels, max(0, ceil(top - far)), floor(top - near)))
        return _mean(apart, mask, LEAST_PAIRS, unit)

    known = []
    for near, far in BANDS:
        found = below(2.0 * unit * near, 2.0 * unit * far - 1.0)
        if found is not None:
            known.append((near + far + width / unit, found))
    return Texture(
        inside=_mean(np.ascontiguousarray(apart[:, 1:-1]), _inner(codes, pile), LEAST_INSIDE, unit),
        expected=_at_the_level(known, VISIBLE / unit, 0.0 if even else STEEPEST),
        elsewhere=below(0.0, top) or 0.0,
    )


def _inner(codes: Codes, pile: Pileup) -> npt.NDArray[np.uint8]:
    """Pairs of neighbours within runs of a pile-up, without the first and last pixel of a run.

    These are edges: blurred, subsampled, ringing.
    """
    member = cv2.inRange(np.ascontiguousarray(codes), pile.low, pile.high)
    parts = [np.ascontiguousarray(member[:, place : member.shape[1] - 3 + place]) for place in range(4)]
    pairs = cv2.bitwise_and(cv2.bitwise_and(parts[0], parts[1]), cv2.bitwise_and(parts[2], parts[3]))
    return np.asarray(pairs, np.uint8)


def _mean(apart: npt.NDArray[Any], mask: npt.NDArray[Any], least: int, unit: float) -> float | None:
    """Mean difference of the masked pairs in 8-bit codes, None for fewer than ``least``."""
    if cv2.countNonZero(mask) < least:
        return None
    return float(cv2.mean(apart, mask)[0]) / unit


def _at_the_level(known: list[tuple[float, float]], visible: float, steepest: float) -> float | None:
    """Texture expected at the level, from pairs of (8-bit codes below it, texture there); None when invisible.

    Noise is not taken to grow towards the level, and to fall as it falls between two bands, or as fast as it can
    where only one is known.
    """
    if not known or min(value for _, value in known) <= 0.0:
        return None
    down, value = known[0]
    if len(known) > 1:
        far, there = known[-1]
        slope = min(max(log(there / value) / (far - down), 0.0), steepest)
    else:
        slope = steepest
    found = value * exp(-slope * down)
    return found if found >= visible else None
