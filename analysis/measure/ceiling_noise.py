"""Whether a pile-up is more still than the noise of the picture lets it be.

Texture is the mean difference of neighbouring pixels of a row in 8-bit codes, each pair no further apart than a
pile-up is wide, so that edges count neither in the pile-up nor elsewhere.
"""

from __future__ import annotations

from math import exp, log

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
    (0.0, 1.24, True)
    """
    apart = np.abs(codes[:, 1:] - codes[:, :-1])
    member = (codes >= pile.low) & (codes <= pile.high)
    # The first and last pixel of a run are edges: blurred, subsampled, ringing.
    inner = member[:, :-3] & member[:, 1:-2] & member[:, 2:-1] & member[:, 3:]
    inside = apart[:, 1:-1][inner]
    width = pile.high - pile.low + 1
    smooth = apart < width
    levels, steps = codes[:, :-1][smooth], apart[smooth]
    top = pile.low - width
    known = []
    for near, far in BANDS:
        band = steps[(levels < top - 2.0 * unit * near) & (levels >= top - 2.0 * unit * far)]
        if band.size >= LEAST_PAIRS:
            known.append((float(near + far) + width / unit, float(band.mean()) / unit))
    elsewhere = steps[levels < top]
    return Texture(
        inside=float(inside.mean()) / unit if inside.size >= LEAST_INSIDE else None,
        expected=_at_the_level(known, VISIBLE / unit, 0.0 if even else STEEPEST),
        elsewhere=float(elsewhere.mean()) / unit if elsewhere.size >= LEAST_PAIRS else 0.0,
    )


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
