"""What speaks for a pile-up being the end of a camera's signal, in one channel of one picture.

Everything here looks at the upper end; the floor is looked for in the picture turned upside down. Any one of three
things shows that a signal is held and not merely evenly bright:

* it is more still than noise lets it be (:mod:`analysis.measure.ceiling_noise`), and ends at one code;
* other channels vary where this one stands: light on a surface moves all of them;
* nearly all of it lies on one single code: nothing lit is as even as that.

A picture without texture anywhere is drawn (bars, titles, a test ramp) or has lost its noise to coding: nothing is
shown by it.
"""

from __future__ import annotations

import cv2
import msgspec
import numpy as np
import numpy.typing as npt

from analysis.measure.ceiling_noise import texture
from analysis.measure.pileup import Counts, Pileup, find_pileups, mass_above

LEAST_SHARE = 2e-4
"""Smallest pile-up looked at, as a part of the picture."""
LEAST_PIXELS = 8
"""Fewest pixels by which other channels are judged."""
MOST_PIXELS = 4000
LIVE_TEXTURE = 0.12
"""Least texture of the picture beyond a pile-up, in 8-bit codes."""
MOST_BEYOND, MOST_BEYOND_DEEP, MOST_FAR = 0.1, 0.06, 0.01
"""Most above a pile-up that is believed, as a part of it: in 8 bits, in more, and beyond the reach of ringing."""
RINGING = 20.0
"""Reach of ringing above a level, in 8-bit codes."""
PINNED = 1.5
"""Other channels vary by this many widths of the pile-up where a channel is held."""
EXACT_CONTRAST = 3.0
EXACT, EXACT_EVEN = (3e-4, 0.6, 0.003), (5e-3, 0.87, 0.05)
"""A pile-up on one code: least share, least part of three codes that lies on it, most above it as a part of it.

The first is what a limit leaves without coding. The second is what coding makes of it, and is believed of display
curves only: there an 8-bit code is 1 % of light, in a log curve 6 %, and a card may well be as even as that.
"""
SIDED_PURITY, SIDED_ABOVE = 0.55, 0.4
"""Least part of three codes that lies on the code of a pile-up, and most above it as a part of it."""
CLEAR_CONTRAST, CLEAR_BEYOND, CLEAR_TEXTURE = 4.0, 0.05, 0.3
"""A pile-up that only a change of light can tell from an even surface."""
BAR = 0.98
"""A row or column with this part of its pixels in a floor may belong to a bar at the edge of the picture."""


class Sight(msgspec.Struct, frozen=True, kw_only=True):
    """A pile-up seen in one channel of one picture.

    ``code`` is its level in codes, ``share`` a part of 1. ``proven`` says that the picture shows it to be the end of
    the signal; ``clear`` that it might be, and would be if it stood while the light changed.
    """

    channel: str
    code: int
    share: float
    proven: bool
    clear: bool


class Track(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """One channel of a picture: the count of its codes, rows of its codes, and the same rows of other channels.

    ``even`` is that of :func:`analysis.measure.ceiling_noise.texture`. ``lowest`` is the part of the codes below which
    no end is looked for; ``bars`` says that bars at the edges are no picture; ``open`` that the outermost codes hold
    whatever lies beyond them.
    """

    channel: str
    counts: Counts
    codes: npt.NDArray[np.int16]
    others: tuple[npt.NDArray[np.int16], ...]
    bits: int
    even: bool = False
    lowest: float = 0.35
    bars: bool = False
    open: bool = False

    @property
    def unit(self) -> float:
        """Codes to an 8-bit code."""
        return float(1 << (self.bits - 8))

    @property
    def half(self) -> int:
        """Half the width of a pile-up: rounding and coding; colour is made of rounded luma and rounded chroma."""
        if self.channel == "luma":
            return max(1, round(0.75 * self.unit))
        return max(2, round(1.25 * self.unit))

    def above(self, code: float) -> float:
        """Share of the pixels above a code."""
        return mass_above(self.counts, code)

    def upside_down(self, lowest: float, bars: bool) -> Track:
        """The same with the lowest code on top, on its own.

        Other channels show nothing there: in dim warm light blue lies on black while red varies.
        """
        top = np.int16(self.counts.size - 1)
        return Track(
            channel=self.channel,
            counts=self.counts[::-1],
            codes=top - self.codes,
            others=(),
            bits=self.bits,
            even=self.even,
            lowest=lowest,
            bars=bars,
            open=self.open,
        )


def sight_of(track: Track) -> Sight | None:
    """What one channel shows at its upper end: the topmost proven pile-up, or the topmost one."""
    first: Sight | None = None
    for pile in find_pileups(track.counts, track.half, LEAST_SHARE):
        far = track.above(pile.high + RINGING * track.unit)
        if pile.code < track.lowest * track.counts.size or (track.open and pile.high >= track.counts.size - 1):
            continue
        if far > MOST_FAR * pile.share:
            continue
        sight = _judged(track, pile)
        if sight.proven:
            return sight
        first = first or sight
    return first


def _judged(track: Track, pile: Pileup) -> Sight:
    proven = clear = False
    deep, luma = track.bits > 8, track.channel == "luma"
    most = MOST_BEYOND_DEEP if deep else MOST_BEYOND
    if track.codes.size and pile.beyond <= most and not (track.bars and _mostly_bars(track, pile)):
        noise = texture(track.codes, pile, track.unit, track.even)
        if noise.elsewhere >= LIVE_TEXTURE:
            # The noise of a colour channel is largely that of rounding luma and chroma: it shows nothing.
            proven = (luma and (_exact(track, pile) or (noise.still and _sided(track, pile)))) or _pinned(track, pile)
            clear = (
                pile.contrast >= CLEAR_CONTRAST
                and pile.beyond <= CLEAR_BEYOND
                and noise.inside is not None
                and noise.inside <= CLEAR_TEXTURE
            )
    return Sight(channel=track.channel, code=pile.code, share=pile.share, proven=proven, clear=clear)


def _exact(track: Track, pile: Pileup) -> bool:
    """Whether nearly all lies on one code and nothing above."""
    if pile.contrast < EXACT_CONTRAST:
        return False
    pure, above = _shape(track, pile)
    known = (EXACT, EXACT_EVEN) if track.even else (EXACT,)
    return any(pile.share >= share and pure >= least and above <= most for share, least, most in known)


def _sided(track: Track, pile: Pileup) -> bool:
    """Whether the levels end at one code, as at a limit, and do not lie around it as noise and shading do."""
    pure, above = _shape(track, pile)
    return pure >= SIDED_PURITY and above <= SIDED_ABOVE


def _shape(track: Track, pile: Pileup) -> tuple[float, float]:
    """What lies on the code of a pile-up as a part of three codes, and what lies above it as a part of that."""
    on = float(track.counts[pile.code])
    near = float(track.counts[max(0, pile.code - 1) : pile.code + 2].sum())
    return on / near, track.above(pile.code) * float(track.counts.sum()) / on


def _pinned(track: Track, pile: Pileup) -> bool:
    """Whether other channels vary where this one stands."""
    if not track.others:
        return False
    places = np.flatnonzero(cv2.inRange(np.ascontiguousarray(track.codes), pile.low, pile.high))
    if places.size < LEAST_PIXELS:
        return False
    places = places[:: 1 + places.size // MOST_PIXELS]
    width = pile.high - pile.low + 1
    for other in track.others:
        low, high = np.percentile(other.ravel()[places], (10.0, 90.0))
        if high - low >= PINNED * width:
            return True
    return False


def _mostly_bars(track: Track, pile: Pileup) -> bool:
    """Whether most of a pile-up lies in bars, alike on both sides, that hold nothing else."""
    member = (track.codes >= pile.low) & (track.codes <= pile.high)
    inside = np.zeros(member.shape, bool)
    for axis, part in ((1, inside), (0, inside.T)):
        first, last = _edges(member.mean(axis=axis) >= BAR)
        if first and last and abs(first - last) <= 1 + max(first, last) // 8:
            part[:first] = True
            part[len(part) - last :] = True
    return 2 * int(np.count_nonzero(member & inside)) > int(np.count_nonzero(member)) > 0


def _edges(full: npt.NDArray[np.bool_]) -> tuple[int, int]:
    """How many lines in a row are full from the first on, and up to the last."""
    gaps = np.flatnonzero(~full)
    return (int(gaps[0]), int(full.size - 1 - gaps[-1])) if gaps.size else (int(full.size), int(full.size))
