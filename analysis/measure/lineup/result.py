"""What a line-up says: which pattern, whether the chain is true, what is wrong and what to set."""

from __future__ import annotations

from typing import Literal

import msgspec

TOLERANCE = 2.0
"""Greatest difference in codes of 8 bit (times ``2**(bits - 8)`` at other depths) that a true chain may show.

Half a code is lost by rounding at each of up to three conversions, and the rest is left to chroma
subsampling and lossy coding. A gain error of 2 % moves 75 % white by 3.3 codes and is beyond it.
"""

TOLERANCE_RGB = 3.0
"""The same for the coloured bars of feeds that carry R'G'B'; neutral ones keep the narrower one. Where R'G'B'
were decoded from 8-bit Y'CbCr on the way, rounding alone costs B' 1.16 * 0.5 + 2.11 * 0.5 + 0.5 = 2.1 codes
(BT.709-6 items 3.2 to 3.4); where Cb and Cr are 0 it costs 1.1."""

TOLERANCE_SMALL = 4.0
"""The same for coloured patches in the low rows beneath the bars, where lossy coding smears more: H.264 at
640x360 and a rate factor of 28 left 3 codes there and none on the bars. They confirm the picture, not the chain."""

Codes = tuple[float, ...]
What = Literal["range", "matrix", "level", "curve"]


class Fault(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that is wrong: what kind, in words with figures, and what to set."""

    what: What
    detail: str
    set: str


class BarDifference(msgspec.Struct, frozen=True, kw_only=True):
    """One bar or grey step in codes of the feed's own depth.

    ``expected`` is what the pattern must have in the encoding the feed declares: Y', Cb, Cr, or R', G', B', or
    Y' alone. ``found`` is the median of the patch, ``difference`` is found minus expected.
    """

    name: str
    expected: Codes
    found: Codes
    difference: Codes


class Lineup(msgspec.Struct, frozen=True, kw_only=True):
    """What one picture says about the chain.

    ``pattern`` is None when no known line-up picture was recognised. ``true`` is set only when every bar lies
    within :data:`TOLERANCE` of its codes in the declared encoding; when a pattern was recognised and it is not
    set, there is at least one fault. Levels beyond the last code leave no trace: 100 % bars of a full-range
    R'G'B' feed have the same codes with any gain too high, which is why 75 % bars exist.
    """

    pattern: str | None
    true: bool
    faults: tuple[Fault, ...] = ()
    bars: tuple[BarDifference, ...] = ()


NOTHING = Lineup(pattern=None, true=False)
"""No line-up picture."""


def difference(name: str, expected: Codes, found: Codes) -> BarDifference:
    """A bar with its difference worked out, to a hundredth of a code.

    >>> difference("white", (180.0, 128.0, 128.0), (177.0, 128.0, 128.5)).difference
    (-3.0, 0.0, 0.5)
    """
    apart = tuple(round(f - e, 2) for f, e in zip(found, expected, strict=True))
    return BarDifference(name=name, expected=expected, found=tuple(round(f, 2) for f in found), difference=apart)
