"""What a code means in percent of the signal range (IRE), for every depth and both ranges.

Narrow range: 8-bit black 16 and white 235, both times ``2**(bits - 8)`` (ITU-R BT.709-6 item 3.4,
BT.2100 table 9). Full range: black 0 and white ``2**bits - 1``.
"""

from __future__ import annotations

from math import ceil, floor

from analysis.model.frame import Range

_SLACK = 1e-9  # so that a level which is a code up to rounding of floats counts as that code


def quantise(value: float) -> int:
    """The nearest whole code, halves upwards: ``floor(value + 0.5)``, not banker's rounding.

    >>> quantise(0.5), quantise(1.5), quantise(-0.5)
    (1, 2, 0)
    """
    return floor(value + 0.5)


def top_code(bits: int) -> int:
    """The largest code of this depth."""
    return int(2**bits) - 1


def black_code(bits: int, span: Range) -> int:
    """The code of 0 IRE."""
    return 16 << (bits - 8) if span == "narrow" else 0


def white_code(bits: int, span: Range) -> int:
    """The code of 100 IRE."""
    return 235 << (bits - 8) if span == "narrow" else top_code(bits)


def codes_per_range(bits: int, span: Range) -> int:
    """How many codes lie between 0 and 100 IRE."""
    return white_code(bits, span) - black_code(bits, span)


def percent(code: float, bits: int, span: Range) -> float:
    """IRE of a code, which need not be whole.

    >>> percent(235, 8, "narrow"), round(percent(422, 10, "narrow"), 2)
    (100.0, 40.87)
    """
    return 100.0 * (code - black_code(bits, span)) / codes_per_range(bits, span)


def code(level: float, bits: int, span: Range) -> float:
    """The code of a level in IRE, not rounded: the inverse of :func:`percent`."""
    return black_code(bits, span) + level * codes_per_range(bits, span) / 100.0


def clip_code(level: float | None, bits: int, span: Range) -> int:
    """The lowest code that counts as clipped: at or above ``level`` IRE.

    None means 100 IRE in narrow range and the top code in full range, which is the same rule.

    >>> clip_code(None, 8, "narrow"), clip_code(None, 10, "full"), clip_code(90.0, 8, "narrow")
    (235, 1023, 214)
    """
    return white_code(bits, span) if level is None else ceil(code(level, bits, span) - _SLACK)


def crush_code(level: float | None, bits: int, span: Range) -> int:
    """The highest code that counts as crushed: at or below ``level`` IRE, 0 IRE when None.

    >>> crush_code(None, 8, "narrow"), crush_code(2.0, 8, "narrow")
    (16, 20)
    """
    return black_code(bits, span) if level is None else floor(code(level, bits, span) + _SLACK)
