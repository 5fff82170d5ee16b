"""How a zone map is drawn: a cell for every zone and mark, with many colours, few, or none.

Zones rise in even steps of perceived lightness (CIELAB L* = 4 + 9.2 n, so that zone V has L* 50: an 18 % card is
49.5). Hue says the same again: below middle grey it leans to the blue of the lake, above it to the warmth of
varnished wood, and middle grey is neutral; blue against yellow is kept by the common kinds of colour blindness.
A mark is a hole in what surrounds it: clip a dark cell among the bright ones, crush a bright cell among the
dark, each with a glyph of its own.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from analysis.measure.zones import QUIET, TOP_ZONE, ZONE_NAMES

ZoneStyle = Literal["full", "256", "16", "blocks", "ascii"]
"""Full colours, the 256-colour table, 16 colours; without colour in block characters, or in ASCII."""
Ink = tuple[int, int, int] | int | str | None
"""An sRGB triple, a number of the 256-colour table, a name of the 16 colours; None is the terminal's own."""

LIGHTNESS_FIRST, LIGHTNESS_STEP = 4.0, 9.2
"""L* of zone 0, and from one zone to the next."""
CHROMA = (4.0, 8.0, 9.0, 6.0, 3.0, 0.0, 5.0, 9.0, 12.0, 12.0, 5.0)
"""CIELAB C* of the zones: as much as the ends of the sRGB gamut allow, none in the middle."""
HUE_BELOW, HUE_ABOVE = 252.0, 82.0
"""CIELAB hue angles in degrees."""

RAMP: tuple[tuple[int, int, int], ...] = (
    (7, 15, 20),
    (23, 35, 44),
    (41, 55, 66),
    (66, 76, 83),
    (92, 97, 101),
    (119, 119, 119),
    (148, 142, 134),
    (176, 165, 151),
    (204, 190, 170),
    (230, 215, 195),
    (249, 243, 234),
)
"""The zones in sRGB codes: the figures above, rounded (IEC 61966-2-1 under D65)."""

# The greys of that table whose lightness lies nearest.
_RAMP_256 = (233, 235, 237, 239, 241, 243, 245, 248, 250, 253, 255)
_BRASS, _VIOLET, _NIGHT, _STONE = (242, 189, 85), (157, 146, 234), (18, 21, 23), (67, 76, 84)


class ZoneCell(msgspec.Struct, frozen=True, kw_only=True):
    """One cell: its ``glyph`` in the ink ``front`` on ``back``; ``reverse`` swaps the terminal's own two."""

    glyph: str
    front: Ink = None
    back: Ink = None
    reverse: bool = False


_16 = (
    ("░▒▓█", "bright_black", "black"),  # I to IV
    ("░▒▓█", "white", "bright_black"),  # V to VIII
    ("▒█", "bright_white", "white"),  # IX, X
)
BLOCKS = " ·:▁▂▃▄▅▆▇█"
"""The fuller the cell, the brighter: told apart by height even where lightness is not."""
NUMBERS = "0123456789X"
"""The zone itself; from VI on reversed, so that the contour of middle grey is seen at once."""


def zone_cells(style: ZoneStyle) -> tuple[ZoneCell, ...]:
    """The cell of every value of a zone map, by that value: zones 0 to 10, clip, crush, quiet.

    >>> [cell.glyph for cell in zone_cells("blocks")[10:13]]
    ['█', '▲', '▼']
    >>> zone_cells("ascii")[7]
    ZoneCell(glyph='7', front=None, back=None, reverse=True)
    """
    cells = {"full": _full, "256": _table, "16": _sixteen, "blocks": _blocks, "ascii": _ascii}[style]()
    assert len(cells) == QUIET + 1
    return cells


def zone_legend(style: ZoneStyle) -> tuple[tuple[ZoneCell, str], ...]:
    """Every cell with what it stands for, dark to bright, for a legend that is always in sight.

    >>> [words for _, words in zone_legend("ascii")[6:9]]
    ['V 18% grey', 'VI +1', 'VII +2']
    """
    cells = zone_cells(style)
    words = [f"{name} {zone - 5:+d}" for zone, name in enumerate(ZONE_NAMES)]
    words[5] = f"{ZONE_NAMES[5]} 18% grey"
    zones = tuple(zip(cells[: TOP_ZONE + 1], words, strict=True))
    return ((cells[12], "crushed"), *zones, (cells[11], "clipped"))


def _full() -> tuple[ZoneCell, ...]:
    zones = tuple(ZoneCell(glyph=" ", back=colour) for colour in RAMP)
    return (*zones, *_marks(_BRASS, _NIGHT, _VIOLET, _STONE))


def _table() -> tuple[ZoneCell, ...]:
    zones = tuple(ZoneCell(glyph=" ", back=number) for number in _RAMP_256)
    return (*zones, *_marks(221, 233, 141, 239))


def _sixteen() -> tuple[ZoneCell, ...]:
    zones = [ZoneCell(glyph=" ", front="black", back="black")]
    zones += [ZoneCell(glyph=glyph, front=front, back=back) for ramp, front, back in _16 for glyph in ramp]
    return (*zones, *_marks("bright_yellow", "black", "bright_magenta", "bright_black"))


def _marks(clip: Ink, night: Ink, crush: Ink, quiet: Ink) -> tuple[ZoneCell, ...]:
    return (
        ZoneCell(glyph="▲", front=clip, back=night),
        ZoneCell(glyph="▼", front=night, back=crush),
        ZoneCell(glyph="╌", front=quiet, back=night),
    )


def _blocks() -> tuple[ZoneCell, ...]:
    marks = (ZoneCell(glyph="▲"), ZoneCell(glyph="▼"), ZoneCell(glyph="╌"))
    return (*(ZoneCell(glyph=glyph) for glyph in BLOCKS), *marks)


def _ascii() -> tuple[ZoneCell, ...]:
    zones = (ZoneCell(glyph=glyph, reverse=zone > 5) for zone, glyph in enumerate(NUMBERS))
    return (*zones, ZoneCell(glyph="^"), ZoneCell(glyph="v", reverse=True), ZoneCell(glyph="-"))
