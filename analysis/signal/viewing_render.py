"""The display transform of a curve: from its signal to what a BT.709 camera would have delivered, softly limited.

Terminal colours are sRGB, and a BT.709 picture is shown there as it is, code for code, as on any
computer screen. So every other curve is brought to that same look: its signal becomes scene light, the
light a BT.709 signal (middle grey at 40.9 %). BT.709 ends 2.47 stops above middle grey; a log curve goes
on for several more. From one stop above middle grey the level therefore rolls off so that it reaches
100 % at the curve's own top: with t stops above that knee, T the stops from the knee to the top, and
K = 59.5 % the level at the knee::

    level = K + (1 - K) (1 - exp(-r t)) / (1 - exp(-r T))

BT.709 itself has this form (r = -0.312, T = 1.47), so the family holds it, and r is set so that the
level leaves BT.709 with its own slope: nothing at or below the knee is changed. Each channel goes through
the same curve, so greys stay grey and strong highlights lose colour as they roll off.

HLG and PQ are taken as scene light, with white at the reference level of ITU-R BT.2408 (75 % and 58 %),
so that an 18 % card (38 % in both) lands where BT.709 puts it. Pictures with BT.2020 primaries are
brought to BT.709 primaries in linear light (ITU-R BT.2087) and clipped at zero.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import numpy.typing as npt

from analysis.signal.curves import MIDDLE_GREY, Curve
from analysis.signal.curves.display import bt709_oetf

KNEE_STOPS = 1.0
"""Stops above middle grey up to which the level is BT.709's own."""
BT709_TOP_STOPS = math.log2(1.0 / MIDDLE_GREY)
_KNEE_LIGHT = MIDDLE_GREY * 2.0**KNEE_STOPS
_KNEE_LEVEL = float(bt709_oetf(np.array(_KNEE_LIGHT)))
_KNEE_SLOPE = 0.45 * math.log(2.0) * (_KNEE_LEVEL + 0.099)
"""Level a stop at the knee: the derivative of 1.099 L^0.45 - 0.099 by stops."""
_FARTHEST_STOPS = 40.0
_LOWEST_RATE = -0.45 * math.log(2.0)

BT709_PRIMARIES = ((0.640, 0.330), (0.300, 0.600), (0.150, 0.060))
BT2020_PRIMARIES = ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046))
D65 = (0.3127, 0.3290)
"""Chromaticities x, y of ITU-R BT.709-6 item 1.3 and ITU-R BT.2020-2 table 3."""

Doubles = npt.NDArray[np.float64]
Floats = npt.NDArray[np.floating[Any]]


def scene_light(curve: Curve, signal: Floats) -> Doubles:
    """Linear light of signal, at least zero and always finite, whatever the curve says."""
    with np.errstate(all="ignore"):
        light = np.asarray(curve.decode(np.asarray(signal, np.float64)), np.float64)
    most = MIDDLE_GREY * 2.0**_FARTHEST_STOPS
    return np.clip(np.nan_to_num(light, nan=0.0, posinf=most, neginf=0.0), 0.0, most)


def top_stops(curve: Curve) -> float:
    """Stops above middle grey at nominal white, signal 1.

    >>> from analysis.signal.curves import curve
    >>> [round(top_stops(curve(name)), 2) for name in ("bt709", "hlg", "acescct")]
    [2.47, 4.39, 10.27]
    """
    light = float(scene_light(curve, np.array(1.0)))
    return math.log2(max(light, 1e-9) / MIDDLE_GREY)


def display_level(light: Floats, top: float) -> Doubles:
    """Display level, 0 to 1, of linear light for a curve whose top is ``top`` stops above middle grey.

    >>> display_level(np.array([0.0, 0.18, 0.36, 0.18 * 2**8]), 8.0).round(3).tolist()
    [0.0, 0.409, 0.595, 1.0]
    """
    lit: Doubles = np.maximum(np.asarray(light, np.float64), 0.0)
    own: Doubles = np.asarray(bt709_oetf(lit), np.float64)
    if top <= BT709_TOP_STOPS:
        return np.minimum(own, 1.0)
    above = top - KNEE_STOPS
    rate = _rate(above)
    t = np.clip(np.log2(np.maximum(lit, _KNEE_LIGHT) / MIDDLE_GREY) - KNEE_STOPS, 0.0, above)
    rolled = _KNEE_LEVEL + (1.0 - _KNEE_LEVEL) * _share(t, above, rate)
    return np.where(lit <= _KNEE_LIGHT, own, rolled)


def _share(t: Doubles, whole: float, rate: float) -> Doubles:
    if abs(rate) < 1e-9:
        return t / whole
    return np.asarray(np.expm1(-rate * t) / math.expm1(-rate * whole))


def _rate(above: float) -> float:
    """The rate r at which the roll-off has BT.709's slope at the knee; found by halving, as it only grows."""
    wanted = _KNEE_SLOPE / (1.0 - _KNEE_LEVEL)
    low, high = _LOWEST_RATE - 0.01, wanted
    for _ in range(60):
        middle = 0.5 * (low + high)
        slope = 1.0 / above if abs(middle) < 1e-9 else -middle / math.expm1(-middle * above)
        low, high = (middle, high) if slope < wanted else (low, middle)
    return 0.5 * (low + high)


def between_primaries() -> Doubles:
    """The 3x3 matrix that takes linear R, G, B with BT.2020 primaries to BT.709 ones (ITU-R BT.2087).

    >>> between_primaries().round(4).tolist()
    [[1.6605, -0.5876, -0.0728], [-0.1246, 1.1329, -0.0083], [-0.0182, -0.1006, 1.1187]]
    """
    return np.asarray(np.linalg.solve(_to_xyz(BT709_PRIMARIES), _to_xyz(BT2020_PRIMARIES)), np.float64)


def _to_xyz(primaries: tuple[tuple[float, float], ...]) -> Doubles:
    """RGB to XYZ so that R = G = B = 1 is D65 with Y = 1 (SMPTE RP 177 derives it this way)."""
    columns = np.array([(x / y, 1.0, (1.0 - x - y) / y) for x, y in primaries]).T
    white = np.array((D65[0] / D65[1], 1.0, (1.0 - D65[0] - D65[1]) / D65[1]))
    return columns * np.linalg.solve(columns, white)
