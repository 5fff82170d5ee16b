"""Open logarithmic curves: ACEScct, ACEScc and Cineon printing density."""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

FloatArray: TypeAlias = npt.NDArray[np.floating[Any]]

STOPS_PER_SIGNAL = 17.52
SIGNAL_OFFSET = 9.72
CCT_SLOPE = 10.5402377416545
CCT_OFFSET = 0.0729055341958355
CCT_BREAK = 0.0078125
CCT_BREAK_SIGNAL = 0.155251141552511
CC_SMALLEST = 2.0**-15
CC_BREAK_SIGNAL = (SIGNAL_OFFSET - 15.0) / STOPS_PER_SIGNAL

CINEON_WHITE = 685.0
CINEON_BLACK = 95.0
CINEON_TOP = 1023.0
CINEON_CODES_PER_DECADE = 300.0
CINEON_FLARE = 10.0 ** ((CINEON_BLACK - CINEON_WHITE) / CINEON_CODES_PER_DECADE)
# The formula reaches minus infinity at light = -k/(1-k); the curve goes on as a straight line below black.
CINEON_SLOPE = CINEON_CODES_PER_DECADE / CINEON_TOP / float(np.log(10.0)) * (1.0 - CINEON_FLARE) / CINEON_FLARE


def acescct_encode(light: FloatArray) -> FloatArray:
    """ACEScct of linear light (Academy S-2016-001, section 4): one stop is 1/17.52."""
    light = np.asarray(light)
    log = (np.log2(np.maximum(light, CCT_BREAK)) + SIGNAL_OFFSET) / STOPS_PER_SIGNAL
    return np.where(light <= CCT_BREAK, CCT_SLOPE * light + CCT_OFFSET, log)


def acescct_decode(signal: FloatArray) -> FloatArray:
    """Linear light of ACEScct (Academy S-2016-001, section 4), not capped at 65504."""
    signal = np.asarray(signal)
    power = np.exp2(np.maximum(signal, CCT_BREAK_SIGNAL) * STOPS_PER_SIGNAL - SIGNAL_OFFSET)
    return np.where(signal <= CCT_BREAK_SIGNAL, (signal - CCT_OFFSET) / CCT_SLOPE, power)


def acescc_encode(light: FloatArray) -> FloatArray:
    """ACEScc of linear light (Academy S-2014-003, section 4); light at or below zero gives its least signal."""
    light = np.maximum(np.asarray(light), 0.0)
    shifted = np.where(light < CC_SMALLEST, CC_SMALLEST / 2.0 + light / 2.0, light)
    return (np.log2(shifted) + SIGNAL_OFFSET) / STOPS_PER_SIGNAL


def acescc_decode(signal: FloatArray) -> FloatArray:
    """Linear light of ACEScc (Academy S-2014-003, section 4), not capped at 65504."""
    signal = np.asarray(signal)
    power: FloatArray = np.exp2(signal * STOPS_PER_SIGNAL - SIGNAL_OFFSET)
    return np.where(signal < CC_BREAK_SIGNAL, 2.0 * power - CC_SMALLEST, power)


def cineon_encode(light: FloatArray) -> FloatArray:
    """Cineon printing density as a share of the 10-bit code range (black 95, white 685, 300 codes a decade).

    V = (685 + 300 log10(x (1 - k) + k)) / 1023 with k = 10^((95 - 685) / 300); below black the
    tangent goes on, so no light is without a signal.
    """
    light = np.asarray(light)
    lit = np.maximum(light, 0.0) * (1.0 - CINEON_FLARE) + CINEON_FLARE
    log: FloatArray = (CINEON_WHITE + CINEON_CODES_PER_DECADE * np.log10(lit)) / CINEON_TOP
    return np.where(light < 0.0, CINEON_BLACK / CINEON_TOP + CINEON_SLOPE * light, log)


def cineon_decode(signal: FloatArray) -> FloatArray:
    """Linear light of a Cineon signal: the inverse of :func:`cineon_encode`."""
    signal = np.asarray(signal)
    black = CINEON_BLACK / CINEON_TOP
    lit: FloatArray = np.power(10.0, (np.maximum(signal, black) * CINEON_TOP - CINEON_WHITE) / CINEON_CODES_PER_DECADE)
    straight: FloatArray = (signal - black) / CINEON_SLOPE
    return np.where(signal < black, straight, (lit - CINEON_FLARE) / (1.0 - CINEON_FLARE))
