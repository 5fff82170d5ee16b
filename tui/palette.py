"""The inks of the screen: what each is called, and how it looks with many, few or no colours.

Measuring inks are fixed, whatever theme is chosen: lake grey-blue for the trace, brass for
what is above the clip level, violet for what is below the floor. The three hues keep
their order of lightness for every common kind of colour blindness, and none of them ever
stands alone: words, letters, glyphs or place say the same.
"""

from __future__ import annotations

from enum import IntEnum

from rich.color import Color
from rich.style import Style

from analysis.measure.zone_look import Ink as ZoneInk
from analysis.measure.zone_look import ZoneStyle, zone_cells
from analysis.measure.zones import QUIET
from tui.look import Colours, Glyphs

GREY_STEPS = 24
GREY_FIRST = 100
"""Inks from here on are pairs of greys for half blocks: ``GREY_FIRST + upper * GREY_STEPS + lower``."""
ZONE_FIRST = 1000
ZONE_VALUES = QUIET + 1
"""Inks from here on are pairs of values of a zone map: ``ZONE_FIRST + upper * ZONE_VALUES + lower``."""


class Ink(IntEnum):
    """What a cell is drawn with."""

    TEXT = 0
    SOFT = 1
    FAINT = 2
    STRONG = 3
    FIGURE = 4
    TRACE = 5
    OVER = 6
    UNDER = 7
    RED = 8
    GREEN = 9
    BLUE = 10
    MIDDLE = 11
    LIVE = 12
    CARE = 13
    """Late or doubtful: the text is still true but mind it."""
    GONE = 14
    """The banner of a picture that is not there."""
    NEW = 15
    """An alarm nobody has acknowledged: inverse, steady."""
    SEEN = 16
    BACK = 17
    KEY = 18
    STALE = 19
    """Numbers of a picture that is late."""
    SITTER = 20
    """What of the picture and of the trace is a sitter: a frame with corners."""
    SPOT = 21
    """What is a spot: a bar with ends, a frame of another kind."""
    AIM = 22
    """Where something should lie."""
    GHOST = 23
    """Where the trace would lie with other settings: an outline of glyphs of its own."""


_MANY: dict[Ink, str] = {
    Ink.TEXT: "#c3c9cd",
    Ink.SOFT: "#87919a",
    Ink.FAINT: "#434c54",
    Ink.STRONG: "bold #eef1f2",
    Ink.FIGURE: "#f4f1e8",
    Ink.TRACE: "#a7c6cd",
    Ink.OVER: "#f2bd55",
    Ink.UNDER: "#9d92ea",
    Ink.RED: "#e79a85",
    Ink.GREEN: "#9bc98d",
    Ink.BLUE: "#8fb2f2",
    Ink.MIDDLE: "#f4f1e8",
    Ink.LIVE: "bold #8fc7b1",
    Ink.CARE: "bold #f2bd55",
    Ink.GONE: "bold #16191c on #e8e4da",
    Ink.NEW: "bold #16191c on #f2bd55",
    Ink.SEEN: "bold #f2bd55",
    Ink.BACK: "underline #f2bd55",
    Ink.KEY: "bold #c9b78c",
    Ink.STALE: "#6f7880",
    Ink.SITTER: "bold #e6eab4",
    Ink.SPOT: "#d8b49c",
    Ink.AIM: "#7cb9a6",
    Ink.GHOST: "bold #f5dcef",
}
# The nearest colours of the 256-colour table by eye; the nearest by arithmetic turn brass into orange.
_NEAREST = {
    "#f2bd55": "color(221)",
    "#f4f1e8": "color(255)",
    "#e8e4da": "color(254)",
    "#16191c": "color(234)",
    "#9d92ea": "color(141)",
    "#c9b78c": "color(180)",
    "#a7c6cd": "color(152)",
    "#e6eab4": "color(187)",
    "#d8b49c": "color(180)",
    "#7cb9a6": "color(109)",
    "#f5dcef": "color(225)",
}
_SIXTEEN: dict[Ink, str] = {
    Ink.TEXT: "default",
    Ink.SOFT: "default",
    Ink.FAINT: "bright_black",
    Ink.STRONG: "bold",
    Ink.FIGURE: "bold",
    Ink.TRACE: "cyan",
    Ink.OVER: "bright_yellow",
    Ink.UNDER: "bright_magenta",
    Ink.RED: "bright_red",
    Ink.GREEN: "bright_green",
    Ink.BLUE: "bright_blue",
    Ink.MIDDLE: "bold",
    Ink.LIVE: "bold green",
    Ink.CARE: "bold yellow",
    Ink.GONE: "bold reverse",
    Ink.NEW: "bold black on yellow",
    Ink.SEEN: "bold yellow",
    Ink.BACK: "underline yellow",
    Ink.KEY: "bold",
    Ink.STALE: "bright_black",
    Ink.SITTER: "bold bright_white",
    Ink.SPOT: "white",
    Ink.AIM: "bright_cyan",
    Ink.GHOST: "bold bright_white",
}
_NONE: dict[Ink, str] = {
    Ink.FAINT: "dim",
    Ink.STRONG: "bold",
    Ink.FIGURE: "bold",
    Ink.OVER: "bold",
    Ink.UNDER: "bold",
    Ink.MIDDLE: "bold",
    Ink.LIVE: "bold",
    Ink.CARE: "bold underline",
    Ink.GONE: "bold reverse",
    Ink.NEW: "bold reverse",
    Ink.SEEN: "bold",
    Ink.BACK: "underline",
    Ink.KEY: "bold",
    Ink.STALE: "dim",
    Ink.SITTER: "bold",
    Ink.GHOST: "bold",
}


def zone_style(colours: Colours, glyphs: Glyphs) -> ZoneStyle:
    """How zone maps are drawn here.

    >>> zone_style("mono", "braille"), zone_style("full", "ascii"), zone_style("256", "braille")
    ('blocks', 'ascii', '256')
    """
    if glyphs == "ascii":
        return "ascii"
    styles: dict[Colours, ZoneStyle] = {"mono": "blocks", "256": "256", "16": "16"}
    return styles.get(colours, "full")


def _zone_pair(ink: int, colours: Colours, glyphs: Glyphs) -> Style:
    """One value of a zone map, or an upper one above a lower one in half blocks."""
    upper, lower = divmod(ink - ZONE_FIRST, ZONE_VALUES)
    cells = zone_cells(zone_style(colours, glyphs))
    if upper != lower:
        return Style(color=_zone_colour(cells[upper].back), bgcolor=_zone_colour(cells[lower].back))
    cell = cells[upper]
    return Style(color=_zone_colour(cell.front), bgcolor=_zone_colour(cell.back), reverse=cell.reverse or None)


def _zone_colour(ink: ZoneInk) -> Color | None:
    if isinstance(ink, tuple):
        return Color.from_rgb(*ink)
    if isinstance(ink, int):
        return Color.from_ansi(ink)
    return None if ink is None else Color.parse(ink)


def style_of(ink: int, colours: Colours, glyphs: Glyphs = "auto") -> Style:
    """The style of an ink; ``colours`` must be decided ("auto" counts as "full"). ``glyphs`` matters for zones only.

    >>> str(style_of(Ink.NEW, "mono"))
    'bold reverse'
    """
    if ink >= ZONE_FIRST:
        return _zone_pair(ink, colours, glyphs)
    if ink >= GREY_FIRST:
        upper, lower = divmod(ink - GREY_FIRST, GREY_STEPS)
        # The 24 greys of the 256-colour table are the same everywhere and cost fewer bytes than full colours.
        return Style(color=Color.from_ansi(232 + upper), bgcolor=Color.from_ansi(232 + lower))
    table = {"16": _SIXTEEN, "mono": _NONE}.get(colours, _MANY)
    words = table.get(Ink(ink), "none").split()
    if colours == "256":
        words = [_NEAREST.get(word, word) for word in words]
    return Style.parse(" ".join(words))
