"""Finds the level where this camera's signal stops rising, and the one where it stops falling.

What can be told: a limit that holds light of different strength at one level, in one channel or all, wherever it
lies. What cannot be told from one picture: a surface so evenly lit, in a picture so free of noise, that it looks the
same (8-bit log, strong compression): such a level is believed only after it stood while the light changed. What
cannot be told at all: white titles laid over a live picture that nothing else exceeds, and the ends of pictures
without any texture (drawn ones, and coding that leaves none): for those nothing is found.
"""

from __future__ import annotations

from math import exp

import msgspec
import numpy as np
import numpy.typing as npt

from analysis.measure.ceiling_evidence import Track, sight_of
from analysis.measure.ceiling_samples import Samples, reach
from analysis.measure.pileup import Counts
from analysis.measure.steadiness import Standing, Steadiness
from analysis.model.frame import Encoding, Range
from analysis.model.reading import ClipSource, SignalEnd
from analysis.signal.levels import percent

MOST_BITS = 10
CHANNEL_SECONDS = 0.3
"""Channels are counted on a few rows of each picture: counts of earlier pictures fade with this time constant."""
FLOOR_LOWEST = 0.7
"""A floor lies in the lowest 30 % of the codes."""
EVEN_CURVES = ("bt709", "srgb", "hlg")
"""Curves that keep noise about even from the middle up."""
LEAST_CHANGE = 5e-4
"""Part of the pixels that must have changed their level, by the counts, for a picture to be another one."""
CLIP_MARGIN = 0.6
"""How far below a ceiling clipping begins, IRE: rounding and coding spread it."""
SAME_CLIP = 0.5
"""A clip level follows a ceiling that moved by more than this, IRE."""


class EndsFound(msgspec.Struct, frozen=True, kw_only=True):
    """The ends of the signal as far as they are known."""

    ceiling: SignalEnd | None = None
    floor: SignalEnd | None = None


class ClipLevel(msgspec.Struct, frozen=True, kw_only=True):
    """The level in IRE from which pixels count as clipped, and what set it."""

    level: float
    by: ClipSource


class EndFinder:
    """Finds the ceiling and the floor of one feed; show it pictures in the order of time.

    ``bits`` and ``span`` are depth and range of the codes it is shown, ``curve`` the transfer curve where it is known.
    A change of any of them needs a new finder.
    """

    def __init__(self, bits: int, span: Range, curve: str | None = None) -> None:
        self.bits, self.span = bits, span
        self._depth = min(bits, MOST_BITS)
        self._even = curve in EVEN_CURVES
        unit = float(1 << (self._depth - 8))
        self._ceiling, self._floor = Steadiness(unit), Steadiness(unit)
        self._channels: npt.NDArray[np.float64] | None = None
        self._last: float | None = None
        self._before: Counts | None = None

    def look(
        self, luma_counts: Counts, channel_counts: npt.NDArray[np.float64] | None, samples: Samples, now_seconds: float
    ) -> EndsFound:
        """What is known after one more picture.

        ``luma_counts`` are the pixels of each luma code, ``2**bits`` of them, of the whole picture. ``channel_counts``
        are those of R', G' and B', shape (3, ``2**bits``), or None to count those of ``samples``. Raises ValueError
        for counts of another depth.
        """
        size = 1 << self.bits
        if luma_counts.shape != (size,) or (channel_counts is not None and channel_counts.shape != (3, size)):
            raise ValueError(f"counts of {self.bits} bits have {size} codes, not {luma_counts.shape}")
        luma = _folded(np.asarray(luma_counts, np.float64), self._depth)
        if self._repeated(luma):
            return self._known(now_seconds)
        tracks = [self._track("luma", luma, samples.luma, ())]
        if samples.rgb is not None:
            counts = self._counted(channel_counts, samples.rgb, now_seconds)
            for index, name in enumerate("rgb"):
                others = tuple(samples.rgb[other] for other in range(3) if other != index)
                tracks.append(self._track(name, counts[index], samples.rgb[index], others))
        self._last = now_seconds
        middle = float(np.searchsorted(np.cumsum(luma), luma.sum() / 2.0))
        below = [track.upside_down(FLOOR_LOWEST, bars=True) for track in tracks]
        _follow(self._ceiling, tracks, middle, now_seconds, turned=False)
        _follow(self._floor, below, luma.size - 1 - middle, now_seconds, turned=True)
        return self._known(now_seconds)

    def _known(self, now: float) -> EndsFound:
        return EndsFound(
            ceiling=self._end(self._ceiling.held, now, turned=False),
            floor=self._end(self._floor.held, now, turned=True),
        )

    def _repeated(self, luma: Counts) -> bool:
        """Whether this is the picture before, or all but: a still or drawn picture shows nothing by being still."""
        before, self._before = self._before, luma.copy()  # whoever counts may count into the same array again
        if before is None:
            return False
        return float(np.abs(luma - before).sum()) <= 2.0 * LEAST_CHANGE * float(luma.sum())

    def _track(
        self, name: str, counts: Counts, codes: npt.NDArray[np.int16], others: tuple[npt.NDArray[np.int16], ...]
    ) -> Track:
        return Track(
            channel=name,
            counts=counts,
            codes=codes,
            others=others,
            bits=self._depth,
            even=self._even,
            open=name != "luma" and self.span == "narrow",
        )

    def _counted(
        self, given: npt.NDArray[np.float64] | None, rgb: npt.NDArray[np.int16], now: float
    ) -> npt.NDArray[np.float64]:
        """Counts of the channels, with those of the last moments when only samples were counted."""
        last = reach(self._depth, self.span)
        if given is not None:
            counts = np.zeros((3, last + 1))
            counts[:, : 1 << self._depth] = [_folded(np.asarray(channel, np.float64), self._depth) for channel in given]
            if last >= 1 << self._depth:  # what lies beyond the codes was counted at the last of them
                counts[:, last] = counts[:, (1 << self._depth) - 1]
                counts[:, (1 << self._depth) - 1] = 0.0
            return counts
        fresh = np.stack([np.bincount(channel.ravel(), minlength=last + 1)[: last + 1] for channel in rgb])
        if self._channels is None or self._last is None:
            self._channels = fresh.astype(np.float64)
        else:
            self._channels = self._channels * exp(-max(0.0, now - self._last) / CHANNEL_SECONDS) + fresh
        return self._channels

    def _end(self, found: Standing | None, now: float, turned: bool) -> SignalEnd | None:
        if found is None:
            return None
        code = (1 << self._depth) - 1 - found.code if turned else found.code
        return SignalEnd(
            level=percent(code, self._depth, self.span),
            share=100.0 * found.share,
            channels=found.channels,
            seconds=now - found.since,
        )


def clip_level_from(found: SignalEnd | None, encoding: Encoding, before: ClipLevel | None = None) -> ClipLevel:
    """The level from which pixels count as clipped: that of the range, or of a ceiling that lies lower.

    A ceiling above 100 IRE does not raise it: an inference never silences an alarm. ``before`` is what the last call
    gave: a level set by a ceiling is kept until the ceiling is lost or has moved by more than 0.5 IRE, so that it does
    not tremble. (A ceiling is itself kept for 30 s when nothing reaches it.)

    >>> clip_level_from(SignalEnd(level=94.1, share=1.0), Encoding(bits=8, range="narrow", matrix="bt709")).by
    'ceiling'
    """
    nominal = ClipLevel(level=100.0, by=encoding.range)
    if found is None or found.level > 100.0 - CLIP_MARGIN:
        return nominal
    level = found.level - CLIP_MARGIN
    if before is not None and before.by == "ceiling" and abs(before.level - level) <= SAME_CLIP:
        return before
    return ClipLevel(level=level, by="ceiling")


def crush_level_from(found: SignalEnd | None, encoding: Encoding, before: ClipLevel | None = None) -> ClipLevel:
    """The level at or below which pixels count as crushed: that of the range, or of a floor that lies higher.

    The same rules as for :func:`clip_level_from`, upside down: a floor below 0 IRE does not lower it.
    """
    nominal = ClipLevel(level=0.0, by=encoding.range)
    if found is None or found.level < CLIP_MARGIN:
        return nominal
    level = found.level + CLIP_MARGIN
    if before is not None and before.by == "floor" and abs(before.level - level) <= SAME_CLIP:
        return before
    return ClipLevel(level=level, by="floor")


def _follow(end: Steadiness, tracks: list[Track], light: float, now: float, turned: bool) -> Standing | None:
    by_name = {track.channel: track for track in tracks}
    size = tracks[0].counts.size

    def over(channel: str) -> int:
        """How many more codes a channel has than luma: upside down they come first."""
        return by_name[channel].counts.size - size if turned else 0

    def above(channel: str, code: float) -> float:
        return by_name[channel].above(code + over(channel)) if channel in by_name else 0.0

    sights = [sight for track in tracks if (sight := sight_of(track)) is not None]
    sights = [msgspec.structs.replace(sight, code=sight.code - over(sight.channel)) for sight in sights]
    return end.see(sights, above, light, now)


def _folded(counts: Counts, depth: int) -> Counts:
    """Counts of ``2**depth`` codes, from as many or more."""
    return np.asarray(counts.reshape(1 << depth, -1).sum(axis=1)) if counts.size > 1 << depth else counts
