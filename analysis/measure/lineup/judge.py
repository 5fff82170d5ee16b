"""From a recognised bars picture to a verdict: differences in codes, and the faults that explain them."""

from __future__ import annotations

import numpy as np

from analysis.measure.lineup import advice
from analysis.measure.lineup.cells import Picture
from analysis.measure.lineup.fit import EXPLAINED, Explanation, Feed, Level, rival
from analysis.measure.lineup.hypotheses import Floats, Hypothesis
from analysis.measure.lineup.layout import Patch, Standard
from analysis.measure.lineup.responses import conversion
from analysis.measure.lineup.result import (
    TOLERANCE,
    TOLERANCE_RGB,
    TOLERANCE_SMALL,
    BarDifference,
    Codes,
    Fault,
    Lineup,
    What,
    difference,
)

_CUT = 1.0
_STRAIGHT = 3.0
"""A grey patch further than this from the line through the bars, in codes of 8 bit, means a curve."""
RECOGNISED = 14.0
"""Bars that no explanation brings within this many codes of 8 bit are not called bars."""


def verdict(picture: Picture, feed: Feed, standard: Standard) -> Lineup | None:
    """What the picture says of the chain; None when these are no bars after all."""
    best = standard.ranked[0]
    if best.left > RECOGNISED:
        return None
    bars = tuple(_difference(feed, picture.unit, patch) for patch in standard.patches)
    if _true(feed, feed.declared, standard.patches) and not _cut(standard, feed.declared):
        # All codes are those of the declared encoding; another explanation could only be as good by chance.
        return Lineup(pattern=_name(feed, standard, feed.declared), true=True, bars=bars)
    faults = tuple(_faults(picture, feed, standard, best))
    return Lineup(pattern=_name(feed, standard, best.how), true=False, faults=faults, bars=bars)


def _true(feed: Feed, how: Hypothesis, patches: tuple[Patch, ...]) -> bool:
    """Whether every patch lies within the tolerance of its codes, written so."""
    apart = np.abs(feed.whole(how, tuple(patch.rgb for patch in patches)) - _found(patches)).max(axis=1)
    return all(off <= _tolerance(feed, patch) for off, patch in zip(apart, patches, strict=True))


def _tolerance(feed: Feed, patch: Patch) -> float:
    if len(set(patch.rgb)) == 1:
        return TOLERANCE
    if patch.small:
        return TOLERANCE_SMALL
    return TOLERANCE_RGB if feed.rgb else TOLERANCE


def _name(feed: Feed, standard: Standard, how: Hypothesis) -> str:
    """For example "BT.709 75 % bars with grey sides"; R'G'B' bars carry no matrix."""
    return standard.kind if feed.rgb else f"{advice.STANDARD[how.matrix]} {standard.kind}"


def _difference(feed: Feed, unit: float, patch: Patch) -> BarDifference:
    expected: Codes = tuple(float(code) * unit for code in feed.whole(feed.declared, (patch.rgb,))[0])
    return difference(patch.name, expected, tuple(code * unit for code in patch.found))


def _faults(picture: Picture, feed: Feed, standard: Standard, best: Explanation) -> list[Fault]:
    declared, encoding = feed.declared, picture.encoding
    faults: list[Fault] = []
    curve = _curve(feed, standard, best)
    other = rival(standard.ranked)
    if other is not None and not curve:
        faults.append(_unclear(best, other))
    # Through a curve two levels lie on a line of any gain and lift: they say nothing of range and level.
    if best.how.written != declared.written and not curve:
        faults.append(advice.range_fault(best.how.written, declared.written, encoding.range_from))
    if best.how.taken_for is not None:
        faults.append(advice.crossed_fault(best.how.matrix, best.how.taken_for))
    elif best.how.matrix != declared.matrix:
        faults.append(advice.matrix_fault(best.how.matrix, declared.matrix, encoding.matrix_from))
    faults += curve
    if not curve:
        faults += _level(feed, standard, best)
    faults += _cut(standard, best.how)
    if not faults:
        faults.append(advice.level_fault(Level(), None, _furthest(feed, best, standard.patches)))
    return faults


def _found(patches: tuple[Patch, ...]) -> Floats:
    return np.array([patch.found for patch in patches])


def _level(feed: Feed, standard: Standard, best: Explanation) -> list[Fault]:
    """Gain, lift and saturation, when the bars are off even in the encoding they are written in."""
    bars = standard.patches[: standard.bars]
    if _true(feed, best.how, bars):
        return []
    return [advice.level_fault(best.level, _left_over(feed, standard, best), _furthest(feed, best, bars))]


def _left_over(feed: Feed, standard: Standard, best: Explanation) -> str | None:
    """The patch that gain, lift and saturation leave furthest from its codes, when that is more than allowed."""
    if best.left <= EXPLAINED:
        return None
    patches = standard.patches[: standard.bars]
    codes = feed.codes(best.how, tuple(patch.rgb for patch in patches), best.level)
    apart = np.abs(codes - _found(patches)).max(axis=1)
    return f"{patches[int(apart.argmax())].name} is {float(apart.max()):.0f} codes (8 bit) beside any standard bar"


def _furthest(feed: Feed, best: Explanation, patches: tuple[Patch, ...]) -> str:
    """The patch furthest from its codes in the encoding it is written in, in words."""
    apart = np.abs(feed.codes(best.how, tuple(patch.rgb for patch in patches)) - _found(patches)).max(axis=1)
    return f"{patches[int(apart.argmax())].name} is {float(apart.max()):.1f} codes (8 bit) off"


def _curve(feed: Feed, standard: Standard, best: Explanation) -> list[Fault]:
    """Greys besides the bars that do not lie on the line through the bars; steps below black may be cut off."""
    greys = [
        patch
        for patch in standard.patches[standard.bars :]
        if patch.rgb[0] == patch.rgb[1] == patch.rgb[2] and patch.rgb[0] >= 0.0
    ]
    off, name = 0.0, ""
    for patch in greys:
        apart = patch.found[0] - float(feed.codes(best.how, (patch.rgb,), best.level)[0, 0])
        if abs(apart) > abs(off):
            off, name = apart, patch.name
    if abs(off) <= _STRAIGHT:
        return []
    greys.append(standard.patches[0])
    levels = np.array([patch.rgb[0] for patch in greys])
    found = np.array([patch.found[0] for patch in greys])
    return [advice.bent_fault(off, name, conversion(levels, found, feed.bits))]


def _cut(standard: Standard, how: Hypothesis) -> list[Fault]:
    """Whether the step below black is gone although the range has room for it."""
    if standard.extra is None or how.written == "full":
        return []
    by_name = {patch.name: patch for patch in standard.patches}
    below, black = by_name.get(standard.extra.below_black), by_name.get("0 IRE")
    if below is None or black is None or black.found[0] - below.found[0] > _CUT:
        return []
    return [advice.cut_fault(below.name)]


def _unclear(best: Explanation, other: Explanation) -> Fault:
    what: What = "range" if best.how.written != other.how.written else "matrix" if best.how != other.how else "level"
    return advice.unclear_fault(what, _words(best), _words(other))


def _words(each: Explanation) -> str:
    white, colours = each.amplitudes
    return (
        f"{advice.STANDARD[each.how.matrix]} {white:g}/0/{colours:g}/0 in {each.how.written} range "
        f"at {100 * each.level.gain:.0f} % gain"
    )
