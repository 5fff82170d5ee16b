"""Colour bars: the codes each bar must have, for any matrix, depth and range.

The order is that of the line-up signals (ITU-R BT.471, SMPTE RP 219): white, yellow, cyan, green,
magenta, red, blue, black. The near-black and grey steps are those of RP 219 pattern 4 and 1.
"""

from __future__ import annotations

from analysis.model.frame import Matrix, Range
from analysis.signal.levels import code, quantise, top_code
from analysis.signal.matrix import encode

COLOURS: dict[str, tuple[int, int, int]] = {
    "white": (1, 1, 1),
    "yellow": (1, 1, 0),
    "cyan": (0, 1, 1),
    "green": (0, 1, 0),
    "magenta": (1, 0, 1),
    "red": (1, 0, 0),
    "blue": (0, 0, 1),
    "black": (0, 0, 0),
}
"""R', G', B' of each bar as parts of its amplitude."""

STEPS: tuple[float, ...] = (-2.0, 0.0, 2.0, 4.0, 15.0, 40.0, 75.0, 100.0)
"""Grey steps of RP 219 in IRE."""


def bar(
    colour: str, amplitude: float = 75.0, matrix: Matrix = "bt709", bits: int = 8, span: Range = "narrow"
) -> tuple[int, int, int]:
    """Codes of one bar: Y', Cb, Cr, or R', G', B' for the matrix ``rgb``. ``amplitude`` is in IRE.

    >>> bar("yellow"), bar("yellow", matrix="bt601")
    ((168, 44, 136), (162, 44, 142))
    """
    part = amplitude / 100.0
    red, green, blue = (part * on for on in COLOURS[colour])
    if matrix == "rgb":
        codes = tuple(code(100.0 * value, bits, span) for value in (red, green, blue))
    else:
        codes = encode((red, green, blue), matrix, bits, span)
    first, second, third = (_legal(value, bits) for value in codes)
    return first, second, third


def bars(
    amplitude: float = 75.0, matrix: Matrix = "bt709", bits: int = 8, span: Range = "narrow"
) -> dict[str, tuple[int, int, int]]:
    """All eight bars, in the order of the signal."""
    return {colour: bar(colour, amplitude, matrix, bits, span) for colour in COLOURS}


def step(level: float, bits: int = 8, span: Range = "narrow") -> int:
    """Luma code of a grey step, for example of the -2 IRE patch.

    >>> [step(level) for level in STEPS]
    [12, 16, 20, 25, 49, 104, 180, 235]
    """
    return _legal(code(level, bits, span), bits)


def _legal(value: float, bits: int) -> int:
    return min(max(quantise(value), 0), top_code(bits))
