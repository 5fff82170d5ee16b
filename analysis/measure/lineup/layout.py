"""Which standard picture the seven bars belong to, and every patch of it that was found."""

from __future__ import annotations

import msgspec
import numpy as np

from analysis.measure.lineup.cells import Picture
from analysis.measure.lineup.fit import Explanation, Feed, explain
from analysis.measure.lineup.hypotheses import Floats
from analysis.measure.lineup.patterns import MULTI, NAMES, SIDES, THREE_ROWS, Chip, Extra, Parts, colour
from analysis.measure.lineup.search import Bars, patch

NEAR = 10.0
"""Greatest difference in codes of 8 bit at which a patch counts as the one that is looked for."""
_CURVED, _CURVED_COLOUR = 60.0, 40.0
"""The same for patches whose level is none of the bars': a curve moves them further than gain and lift do."""


class Patch(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """One patch found: its name, R'G'B' in parts of the range, median codes of 8 bit.

    ``small`` marks those in the rows beneath the bars.
    """

    name: str
    rgb: Parts
    found: tuple[float, ...]
    small: bool = False


class Standard(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """The picture recognised: what kind of bars, the best explanations of the bars, and all patches.

    ``bars`` of the patches are the seven or eight bars themselves; ``ranked`` explains those.
    """

    kind: str
    ranked: list[Explanation]
    patches: tuple[Patch, ...]
    bars: int
    extra: Extra | None = None


def recognise(picture: Picture, bars: Bars, feed: Feed) -> Standard | None:
    """The standard picture around seven bars; None when they are not bars of a line-up."""
    found = bars.codes / picture.unit
    names = NAMES[:7]
    ranked = explain(feed, names, found)
    if not ranked:
        return None
    best = ranked[0]
    black = patch(picture, bars, (7.0, 8.0), (bars.top, bars.bottom))
    if black is not None and _is(picture, feed, best, Chip(name="black", rgb=(0.0,) * 3, x=(0, 0), y=(0, 0)), black):
        names, found = NAMES, np.vstack([found, np.array(black) / picture.unit])
        ranked = explain(feed, names, found)
        if not ranked:
            return None
        best = ranked[0]
    patches = [
        Patch(name=name, rgb=colour(name, best.amplitudes), found=tuple(float(code) for code in row))
        for name, row in zip(names, found, strict=True)
    ]
    extra, more = _extra(picture, bars, feed, best)
    sides = _sides(picture, bars, feed, best) if len(names) == 7 else []
    kind = extra.name if extra else _kind(best.amplitudes, bool(sides))
    return Standard(kind=kind, ranked=ranked, patches=tuple(patches + sides + more), bars=len(names), extra=extra)


def _kind(amplitudes: tuple[float, float], sides: bool) -> str:
    white, colours = amplitudes
    size = f"{white:g} % bars" if white == colours else f"{white:g}/0/{colours:g}/0 bars"
    return f"{size} with grey sides" if sides else size


def _sides(picture: Picture, bars: Bars, feed: Feed, best: Explanation) -> list[Patch]:
    if best.amplitudes != (75.0, 75.0):
        return []
    found = []
    for chip in SIDES:
        codes = patch(picture, bars, chip.x, (bars.top, bars.bottom))
        if codes is None or not _is(picture, feed, best, chip, codes, _CURVED):
            return []
        found.append(_patch(picture, chip, codes))
    return found


def _extra(picture: Picture, bars: Bars, feed: Feed, best: Explanation) -> tuple[Extra | None, list[Patch]]:
    """The rows beneath the bars, when they are those of a standard picture."""
    for extra in (MULTI, THREE_ROWS):
        twelfth = (bars.bottom - bars.top) / extra.rows
        patches, seen = [], set()
        for chip in extra.chips:
            y = bars.top + chip.y[0] * twelfth, bars.top + chip.y[1] * twelfth
            codes = patch(picture, bars, chip.x, y)
            if codes is None:
                continue
            near = _CURVED if chip.grey else _CURVED_COLOUR
            if chip.name not in extra.deciding or _is(picture, feed, best, chip, codes, near):
                seen.add(chip.name)
                patches.append(_patch(picture, chip, codes, small=True))
        if seen >= set(extra.deciding):
            return extra, patches
    return None, []


def _is(
    picture: Picture, feed: Feed, best: Explanation, chip: Chip, codes: tuple[float, ...], near: float = NEAR
) -> bool:
    """Whether the codes are those of the chip under the explanation of the bars; greys must be neutral."""
    found = np.array(codes) / picture.unit
    apart: Floats = np.abs(feed.codes(best.how, (chip.rgb,), best.level)[0] - found)
    if picture.how.is_rgb:
        return bool(apart.max() <= near and (not chip.grey or np.ptp(found) <= NEAR))
    return bool(apart[0] <= near and (apart[1:] <= (NEAR if chip.grey else near)).all())


def _patch(picture: Picture, chip: Chip, codes: tuple[float, ...], small: bool = False) -> Patch:
    return Patch(name=chip.name, rgb=chip.rgb, found=tuple(code / picture.unit for code in codes), small=small)
