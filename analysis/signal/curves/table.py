"""A curve from rows of light and signal, and back again exactly."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from analysis.signal.curves.display import FloatArray

GREY = 0.18
STEPS_PER_STOP = 32
"""A table in stops is refined by a monotone cubic to this many straight pieces a stop."""
LARGEST_STOPS = 100.0
"""Farthest stop that is worked out, so that a wild signal stays a finite light."""
Doubles = npt.NDArray[np.float64]


class StopsTable:
    """Rows of stops from an 18 % card against signal V (0 black, 1 nominal white), both rising.

    Between rows a monotone cubic (Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5, 1984), laid down
    in steps of at most 1/32 stop and straight between those, so that the inverse is exact. Above the
    last row the last piece goes on, straight in stops; below the first row straight in light, as
    cameras do near black, so that no light has a signal too.

    >>> table = StopsTable(np.array([-1.0, 0.0, 1.0, 2.0]), np.array([0.3, 0.4, 0.5, 0.6]))
    >>> table.encode(np.array([0.18, 0.36, 0.72 * 2**0.5])).round(6).tolist()
    [0.4, 0.5, 0.65]
    """

    def __init__(self, stops: Doubles, signal: Doubles) -> None:
        self._stops, self._signal = refine(stops, signal)
        first, second = GREY * 2.0 ** stops[0], GREY * 2.0 ** stops[1]
        self._dark, self._dark_signal = float(first), float(signal[0])
        self._dark_slope = float((signal[1] - signal[0]) / (second - first))
        self._top, self._top_signal = float(stops[-1]), float(signal[-1])
        self._top_slope = float((signal[-1] - signal[-2]) / (stops[-1] - stops[-2]))

    def encode(self, light: FloatArray) -> FloatArray:
        """Signal V of linear light of any shape."""
        light = np.asarray(light)
        stops = np.log2(np.maximum(light, self._dark) / GREY)
        within = np.interp(stops, self._stops, self._signal)
        above = self._top_signal + (stops - self._top) * self._top_slope
        below = self._dark_signal + (light - self._dark) * self._dark_slope
        return np.where(light < self._dark, below, np.where(stops > self._top, above, within))

    def decode(self, signal: FloatArray) -> FloatArray:
        """Linear light of signal V, the inverse of :meth:`encode`."""
        signal = np.asarray(signal)
        above = self._top + (signal - self._top_signal) / self._top_slope
        within = np.interp(signal, self._signal, self._stops)
        stops = np.where(signal > self._top_signal, np.minimum(above, LARGEST_STOPS), within)
        below = self._dark + (signal - self._dark_signal) / self._dark_slope
        return np.where(signal < self._dark_signal, below, GREY * np.exp2(stops))


class LightTable:
    """Rows of linear light (0.18 for an 18 % card) against signal V, both rising; straight between and beyond.

    >>> table = LightTable(np.array([0.0, 0.18, 1.0]), np.array([0.0, 0.4, 1.0]))
    >>> table.encode(np.array([-0.09, 0.09, 1.82])).round(6).tolist()
    [-0.2, 0.2, 1.6]
    """

    def __init__(self, light: Doubles, signal: Doubles) -> None:
        self._light, self._signal = light, signal

    def encode(self, light: FloatArray) -> FloatArray:
        """Signal V of linear light of any shape."""
        return _straight(np.asarray(light), self._light, self._signal)

    def decode(self, signal: FloatArray) -> FloatArray:
        """Linear light of signal V, the inverse of :meth:`encode`."""
        return _straight(np.asarray(signal), self._signal, self._light)


def _straight(values: FloatArray, x: Doubles, y: Doubles) -> FloatArray:
    low = y[0] + (values - x[0]) * ((y[1] - y[0]) / (x[1] - x[0]))
    high = y[-1] + (values - x[-1]) * ((y[-1] - y[-2]) / (x[-1] - x[-2]))
    return np.where(values < x[0], low, np.where(values > x[-1], high, np.interp(values, x, y)))


def refine(x: Doubles, y: Doubles) -> tuple[Doubles, Doubles]:
    """The rows with more rows between them on a monotone cubic, at most 1/32 of a stop apart."""
    widths, slope = np.diff(x), slopes(x, y)
    parts_x, parts_y = [], []
    for i, width in enumerate(widths):
        count = max(1, int(np.ceil(width * STEPS_PER_STOP)))
        t = np.arange(count) / count
        rise = y[i + 1] - y[i]
        # Hermite form: value and slope at both ends.
        bend = t * (1.0 - t) * ((1.0 - t) * (slope[i] * width - rise) - t * (slope[i + 1] * width - rise))
        parts_x.append(x[i] + t * width)
        parts_y.append(y[i] + t * rise + bend)
    fine = np.maximum.accumulate(np.append(np.concatenate(parts_y), y[-1]))
    return np.append(np.concatenate(parts_x), x[-1]), fine


def slopes(x: Doubles, y: Doubles) -> Doubles:
    """Slope of the monotone cubic at each row: the weighted harmonic mean of the pieces beside it."""
    widths = np.diff(x)
    pieces = np.diff(y) / widths
    if len(pieces) == 1:
        return np.repeat(pieces, 2)
    one, two = widths[:-1] + 2.0 * widths[1:], 2.0 * widths[:-1] + widths[1:]
    inner = (one + two) / (one / pieces[:-1] + two / pieces[1:])
    return np.concatenate(([_end(widths, pieces)], inner, [_end(widths[::-1], pieces[::-1])]))


def _end(widths: Doubles, pieces: Doubles) -> float:
    slope = ((2.0 * widths[0] + widths[1]) * pieces[0] - widths[0] * pieces[1]) / (widths[0] + widths[1])
    return float(np.clip(slope, 0.0, 3.0 * pieces[0]))
