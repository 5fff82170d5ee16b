"""A picture as running sums over its light, and light as signal: what predictions are read off."""

from __future__ import annotations

from math import log2

import numpy as np
import numpy.typing as npt

from analysis.exposure.aims import FAINTEST, stops_of
from analysis.model.reading import StopsSpread
from analysis.signal.curves import MIDDLE_GREY, Curve

Floats = npt.NDArray[np.float64]


class Shares:
    """A spread as running sums: the percent of the picture above or below any light."""

    def __init__(self, table: StopsSpread | None) -> None:
        counts = np.asarray(table.counts if table else (100.0,), np.float64)
        low, step = (table.low, table.step) if table else (-10.0, 0.25)
        self._edges = low + step * np.arange(counts.size + 1)
        self._below = np.concatenate([[0.0], np.cumsum(counts)])
        self._known, self.step = table is not None, step

    def below(self, stops: Floats | float) -> Floats:
        """Percent of the picture darker than this, in stops; 0 without a table."""
        if not self._known:
            return np.zeros(np.shape(stops))
        return np.asarray(np.interp(stops, self._edges, self._below))

    def above(self, stops: Floats | float) -> Floats:
        """Percent of the picture at least so bright; 0 without a table."""
        return np.asarray(self._below[-1] - self.below(stops)) if self._known else np.zeros(np.shape(stops))

    def percentile(self, part: float) -> float | None:
        """Stops below which ``part`` percent of the picture lie."""
        if not self._known or self._below[-1] <= 0.0:
            return None
        return float(np.interp(part / 100.0 * self._below[-1], self._below, self._edges))


def light_stops(level: float, curve: Curve) -> float:
    """Stops from middle grey of a level in IRE, as far down as any curve tells."""
    found = stops_of(level, curve)
    return log2(FAINTEST / MIDDLE_GREY) if found is None else found


def signals(stops: Floats, curve: Curve) -> Floats:
    """Signal (1 is 100 IRE) of light in stops from middle grey."""
    return np.asarray(curve.encode(MIDDLE_GREY * 2.0 ** np.minimum(stops, 30.0)), np.float64)


def signal_of(stops: float, curve: Curve) -> float:
    """The same of one light."""
    return float(signals(np.array([stops]), curve)[0])
