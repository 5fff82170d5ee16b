"""The standard colour-bar pictures: their colours in parts of the signal range, and where they lie.

Places are in bar widths from the left edge of the white bar and in twelfths of the picture height from the
top, so that they hold at any size. Proportions: SMPTE RP 219 (four rows of 7, 1, 1 and 3 twelfths) and the
older three-row picture (rows of 8, 1 and 3 twelfths); both agree with what FFmpeg draws.
"""

from __future__ import annotations

import msgspec

from analysis.signal.bars import COLOURS

Parts = tuple[float, float, float]

NAMES = tuple(COLOURS)
"""White, yellow, cyan, green, magenta, red, blue, black: the order of the bars from left to right."""

AMPLITUDES: tuple[tuple[float, float], ...] = ((75.0, 75.0), (100.0, 100.0), (100.0, 75.0))
"""White and colours in IRE: 75/0/75/0, 100/0/100/0 and 100/0/75/0 in the notation of ITU-R BT.471."""


class Chip(msgspec.Struct, frozen=True, kw_only=True):
    """A patch besides the bars: its R'G'B' in parts of the signal range, and its place.

    ``grey`` marks neutral patches, which together show whether the chain is straight.
    """

    name: str
    rgb: Parts
    x: tuple[float, float]
    y: tuple[float, float]

    @property
    def grey(self) -> bool:
        """Whether the patch is neutral."""
        return self.rgb[0] == self.rgb[1] == self.rgb[2]


class Extra(msgspec.Struct, frozen=True, kw_only=True):
    """The rows beneath the bars of one standard picture; ``rows`` is how many twelfths the bars take.

    ``deciding`` are the chips that must be there for the picture to be recognised.
    """

    name: str
    rows: int
    chips: tuple[Chip, ...]
    deciding: tuple[str, ...]
    below_black: str


def colour(name: str, amplitudes: tuple[float, float]) -> Parts:
    """R'G'B' of a bar in parts of the signal range.

    >>> colour("yellow", (100.0, 75.0)), colour("white", (100.0, 75.0))
    ((0.75, 0.75, 0.0), (1.0, 1.0, 1.0))
    """
    part = (amplitudes[0] if name == "white" else amplitudes[1]) / 100.0
    red, green, blue = COLOURS[name]
    return part * red, part * green, part * blue


def _grey(level: float, x: float, right: float, y: tuple[float, float], name: str = "") -> Chip:
    part = level / 100.0
    return Chip(name=name or f"{level:g} IRE", rgb=(part, part, part), x=(x, right), y=y)


def _full(name: str, x: tuple[float, float], y: tuple[float, float]) -> Chip:
    return Chip(name=f"{name} 100", rgb=colour(name, (100.0, 100.0)), x=x, y=y)


def _part(name: str, x: float, y: tuple[float, float]) -> Chip:
    return Chip(name=f"{name}, second row", rgb=colour(name, (75.0, 75.0)), x=(x, x + 1.0), y=y)


_LEFT, _RIGHT = (-0.8, -0.1), (7.1, 7.8)
_BOTTOM = (9.0, 12.0)
_THIRD = 1.0 / 3.0

MULTI = Extra(
    name="multi-pattern (RP 219) bars",
    rows=7,
    chips=(
        _full("cyan", _LEFT, (7.0, 8.0)),
        _grey(75.0, 2.0, 7.0, (7.0, 8.0), "white, second row"),
        _full("blue", _RIGHT, (7.0, 8.0)),
        _full("yellow", _LEFT, (8.0, 9.0)),
        _full("red", _RIGHT, (8.0, 9.0)),
        _grey(15.0, *_LEFT, _BOTTOM),
        _grey(0.0, 0.0, 1.5, _BOTTOM),
        _grey(100.0, 1.5, 3.5, _BOTTOM),
        _grey(-2.0, 13 * _THIRD, 14 * _THIRD, _BOTTOM),
        _grey(2.0, 5.0, 16 * _THIRD, _BOTTOM, "+2 IRE"),
        _grey(4.0, 17 * _THIRD, 6.0, _BOTTOM, "+4 IRE"),
    ),
    deciding=("cyan 100", "blue 100", "yellow 100", "red 100", "100 IRE", "0 IRE"),
    below_black="-2 IRE",
)

THREE_ROWS = Extra(
    name="three-row 75 % bars",
    rows=8,
    chips=(
        _part("blue", 0.0, (8.0, 9.0)),
        _part("magenta", 2.0, (8.0, 9.0)),
        _part("cyan", 4.0, (8.0, 9.0)),
        _part("white", 6.0, (8.0, 9.0)),
        _grey(100.0, 1.25, 2.5, _BOTTOM),
        _grey(0.0, 3.75, 5.0, _BOTTOM),
        _grey(-4.0, 5.0, 16 * _THIRD, _BOTTOM),
        _grey(4.0, 17 * _THIRD, 6.0, _BOTTOM, "+4 IRE"),
    ),
    deciding=("blue, second row", "magenta, second row", "cyan, second row", "100 IRE", "0 IRE"),
    below_black="-4 IRE",
)

SIDES = (
    _grey(40.0, -0.8, -0.1, (1.0, 6.0), "left side"),
    _grey(40.0, 7.1, 7.8, (1.0, 6.0), "right side"),
)
"""The 40 % grey sides of a wide picture with bars in the middle (SMPTE RP 219, pattern 1)."""
