"""Which way of writing explains the colours found best, and with what gain, lift and saturation."""

from __future__ import annotations

from math import hypot, log

import msgspec
import numpy as np

from analysis.measure.lineup.hypotheses import Floats, Hypothesis, hypotheses, ideal, scale
from analysis.measure.lineup.patterns import AMPLITUDES, Parts, colour

EXPLAINED = 4.0
"""Greatest difference in codes of 8 bit that an explanation may leave."""
_GAINS, _LIFT = (0.6, 1.5), 0.25
_SQUEEZED_COST, _CROSSED_COST, _OTHER_COST = 4.0, 2.0, 1.0
_BLACK_RIGHT, _BLACK_COST = 1.5, 6.0
"""Black within so many codes of the declared black speaks against another range that is lifted just so far."""
_PER_CODE = 3.0
"""One code of mean residual weighs as much as 3 % of gain: a wrong matrix leaves 4 codes and more."""
_UNCLEAR, _UNCLEAR_PART = 1.5, 0.4
"""Explanations are rivals when their costs differ by less than this (percent of gain), or than this part of the
better one's: the more must be wrong with the level, the less sure is what else is wrong."""
_SUB_CODE = 0.25


class Level(msgspec.Struct, frozen=True, kw_only=True):
    """Gain of the signal, lift of black in parts of the range, and gain of the colour differences alone."""

    gain: float = 1.0
    lift: float = 0.0
    colour: float = 1.0

    def apply(self, parts: Floats, rgb: bool) -> Floats:
        """Components as parts after this change of level."""
        found = self.gain * parts + self.lift
        if not rgb and parts.shape[1] == 3:
            found[:, 1:] = self.colour * parts[:, 1:]
        return found


class Explanation(msgspec.Struct, frozen=True, kw_only=True):
    """A hypothesis with the level that fits best; ``left`` is the greatest difference left, ``cost`` ranks them."""

    how: Hypothesis
    amplitudes: tuple[float, float]
    level: Level
    left: float
    cost: float


class Feed(msgspec.Struct, frozen=True, kw_only=True):
    """What is known of the feed's codes: kind, depth and declared range and matrix."""

    rgb: bool
    grey: bool
    bits: int
    declared: Hypothesis

    def codes(self, how: Hypothesis, colours: tuple[Parts, ...], level: Level | None = None) -> Floats:
        """Codes of 8 bit of these colours under a hypothesis, shape (n, components)."""
        parts = ideal(how, colours, 1 if self.grey else 3)
        return scale(how.written, self.bits).codes((level or Level()).apply(parts, self.rgb), self.rgb)

    def whole(self, how: Hypothesis, colours: tuple[Parts, ...]) -> Floats:
        """The same without a change of level, to whole codes of the feed's depth, halves upwards."""
        unit = 2.0 ** (self.bits - 8)
        return np.floor(self.codes(how, colours) * unit + 0.5) / unit


def explain(feed: Feed, names: tuple[str, ...], found: Floats) -> list[Explanation]:
    """Every explanation of bars of these names, the best first; ``found`` are codes of 8 bit (n, components)."""
    tried = []
    for amplitudes in AMPLITUDES:
        colours = tuple(colour(name, amplitudes) for name in names)
        for how in hypotheses(feed.rgb, feed.grey):
            level = fit(feed, how, colours, found)
            if level is None:
                continue
            apart = np.abs(feed.codes(how, colours, level) - found)
            cost = _cost(feed, how, level) + _PER_CODE * float(np.sqrt(np.mean(apart * apart)))
            tried.append(Explanation(how=how, amplitudes=amplitudes, level=level, left=float(apart.max()), cost=cost))
    return sorted(tried, key=lambda each: each.cost)


def rival(ranked: list[Explanation]) -> Explanation | None:
    """Another range, matrix or amplitude that explains the colours nearly as well as the first does."""
    first = ranked[0]
    most = first.cost + max(_UNCLEAR, _UNCLEAR_PART * first.cost)
    for other in ranked[1:]:
        if other.cost >= most:
            return None
        if other.left <= EXPLAINED and (other.how, other.amplitudes) != (first.how, first.amplitudes):
            return other
    return None


def fit(feed: Feed, how: Hypothesis, colours: tuple[Parts, ...], found: Floats) -> Level | None:
    """Gain, lift and colour by least squares over the codes that are not cut off; None for levels beyond belief."""
    parts, size = ideal(how, colours, found.shape[1]), scale(how.written, feed.bits)
    luma = slice(0, 3 if feed.rgb else 1)
    x, y = parts[:, luma].ravel(), ((found[:, luma] - size.black) / size.span).ravel()
    kept = _not_cut(found[:, luma].ravel(), size.top)
    if kept.sum() < 2 or np.ptp(x[kept]) < 0.1:
        kept = np.ones(kept.shape, bool)
    mean_x, mean_y = float(x[kept].mean()), float(y[kept].mean())
    spread = float(np.sum((x[kept] - mean_x) ** 2))
    if spread <= 0.0:
        return None
    gain = float(np.sum((x[kept] - mean_x) * (y[kept] - mean_y))) / spread
    lift = mean_y - gain * mean_x
    tint = gain
    if not feed.rgb and not feed.grey:
        u, v = parts[:, 1:].ravel(), ((found[:, 1:] - size.middle) / size.chroma).ravel()
        kept = _not_cut(found[:, 1:].ravel(), size.top)
        weight = float(np.sum(u[kept] ** 2))
        if weight > 0.0:
            tint = float(np.sum(u[kept] * v[kept])) / weight
    if not (_GAINS[0] < gain < _GAINS[1] and _GAINS[0] < tint < _GAINS[1] and abs(lift) < _LIFT):
        return None
    return Level(gain=gain, lift=lift, colour=tint)


def _not_cut(codes: Floats, top: float) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    return (codes > _SUB_CODE) & (codes < top - _SUB_CODE)


def _cost(feed: Feed, how: Hypothesis, level: Level) -> float:
    """How far a level lies from 'nothing is wrong', in percent of gain, and how unlikely the way of writing is."""
    away = hypot(100.0 * log(level.gain), 100.0 * level.lift, 100.0 * log(level.colour / level.gain))
    if how.written == "squeezed":
        away += _SQUEEZED_COST
    elif how.written != feed.declared.written:
        away += _OTHER_COST
    if how.written != feed.declared.written:
        size, own = scale(how.written, feed.bits), scale(feed.declared.written, feed.bits)
        if abs(size.black + size.span * level.lift - own.black) <= _BLACK_RIGHT:
            away += _BLACK_COST
    if how.taken_for is not None:
        away += _CROSSED_COST
    elif how.matrix != feed.declared.matrix:
        away += _OTHER_COST
    return away
