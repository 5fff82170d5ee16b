"""The ways in which a chain can have written a pattern: range, matrix and, at one remove, a wrong conversion."""

from __future__ import annotations

from functools import lru_cache
from typing import Literal

import msgspec
import numpy as np
import numpy.typing as npt

from analysis.measure.lineup.patterns import Parts
from analysis.model.frame import Matrix, Range
from analysis.signal.levels import black_code, codes_per_range
from analysis.signal.matrix import chroma_codes_per_range, decoder, encode

Floats = npt.NDArray[np.float64]
Written = Literal["narrow", "full", "squeezed"]
"""How codes were written; ``squeezed`` is narrow range taken for full and made narrow once more."""

MATRICES: tuple[Matrix, ...] = ("bt709", "bt601", "bt2020")
_SQUEEZE_BLACK, _SQUEEZE = 16.0 / 255.0, 219.0 / 255.0
_SQUEEZE_CHROMA = 224.0 / 255.0


class Hypothesis(msgspec.Struct, frozen=True, kw_only=True):
    """One way to write a pattern.

    ``matrix`` is the one the colours are coded with, ``rgb`` where the codes are R'G'B'. There ``taken_for`` is
    the matrix with which they were wrongly decoded before they came here, and ``matrix`` the right one.
    """

    written: Written
    matrix: Matrix
    taken_for: Matrix | None = None


def hypotheses(rgb: bool, grey: bool) -> tuple[Hypothesis, ...]:
    """Every way that is tried for a kind of feed."""
    ways: tuple[Written, ...] = ("narrow", "full", "squeezed")
    if grey or not rgb:
        return tuple(Hypothesis(written=way, matrix=matrix) for way in ways for matrix in MATRICES)
    crossed = [(a, b) for a in MATRICES for b in MATRICES if a != b]
    plain = tuple(Hypothesis(written=way, matrix="rgb") for way in ways)
    return plain + tuple(Hypothesis(written=way, matrix=a, taken_for=b) for way in ways for a, b in crossed)


def ideal(how: Hypothesis, colours: tuple[Parts, ...], components: int) -> Floats:
    """Components as parts: Y' from 0 to 1 and Cb, Cr from -0.5 to 0.5, or R'G'B' from 0 to 1. Shape (n, components).

    >>> ideal(Hypothesis(written="narrow", matrix="bt709"), ((1.0, 0.0, 0.0),), 3).round(4)
    array([[ 0.2126, -0.1146,  0.5   ]])
    """
    return _ideal(how.matrix, how.taken_for, colours, components)


@lru_cache(maxsize=256)
def _ideal(matrix: Matrix, taken_for: Matrix | None, colours: tuple[Parts, ...], components: int) -> Floats:
    rows = [_parts(matrix, taken_for, rgb)[:components] for rgb in colours]
    found = np.array(rows)
    found.flags.writeable = False
    return found


def _parts(matrix: Matrix, taken_for: Matrix | None, rgb: Parts) -> tuple[float, float, float]:
    if matrix == "rgb":
        return rgb
    y, cb, cr = encode(rgb, matrix, 8, "full")
    if taken_for is None:
        return y / 255.0, (cb - 128.0) / 255.0, (cr - 128.0) / 255.0
    red, green, blue = decoder(taken_for, 8, "full").rgb(y, cb, cr)
    return red / 255.0, green / 255.0, blue / 255.0


class Scale(msgspec.Struct, frozen=True, kw_only=True):
    """Codes of parts: ``black + span * part`` for Y' or R'G'B', ``middle + chroma * part`` for Cb and Cr."""

    black: float
    span: float
    middle: float
    chroma: float
    top: float

    def codes(self, parts: Floats, rgb: bool) -> Floats:
        """Codes of 8 bit (not rounded), cut off where the codes end."""
        found = self.black + self.span * parts
        if not rgb and parts.shape[1] == 3:
            found[:, 1:] = self.middle + self.chroma * parts[:, 1:]
        return np.clip(found, 0.0, self.top)


@lru_cache(maxsize=16)
def scale(written: Written, bits: int) -> Scale:
    """Where parts lie in codes of 8 bit (codes of the depth divided by ``2**(bits - 8)``).

    >>> round(scale("squeezed", 8).black, 1), scale("full", 10).top
    (29.7, 255.75)
    """
    unit = 2.0 ** (bits - 8)
    span: Range = "full" if written == "full" else "narrow"
    black, luma = black_code(bits, span) / unit, codes_per_range(bits, span) / unit
    chroma, top = chroma_codes_per_range(bits, span) / unit, (2**bits - 1) / unit
    if written == "squeezed":
        black, luma, chroma = black + luma * _SQUEEZE_BLACK, luma * _SQUEEZE, chroma * _SQUEEZE_CHROMA
    return Scale(black=black, span=luma, middle=128.0, chroma=chroma, top=top)
