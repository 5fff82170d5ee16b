"""The power of a key light: percent on its dial to light and stops, on a linear dimmer or by the dimmer's own curve."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from math import log2

import numpy as np
import numpy.typing as npt

Dimmer = Sequence[tuple[float, float]]
"""A dimmer curve: (percent on the dial, percent of full light), both rising."""


def key_light(percent: float, dimmer: Dimmer | None = None) -> float:
    """Part of full light (0 to 1) at a power in percent: the same on a linear dimmer, else by its curve.

    >>> key_light(50.0), key_light(50.0, ((0, 0), (100, 100))), key_light(75.0, ((0, 0), (50, 20), (100, 100)))
    (0.5, 0.5, 0.6)
    """
    if dimmer is None:
        return percent / 100.0
    dial, light = [each[0] for each in dimmer], [each[1] for each in dimmer]
    return _between(percent, dial, light) / 100.0


def key_stops(before: float, after: float, dimmer: Dimmer | None = None) -> float:
    """Stops gained from one key power to another, both in percent: log2 of the ratio of their light.

    Raises ValueError where either is dark: no light has no stops.

    >>> key_stops(25.0, 100.0)
    2.0
    """
    dim, bright = key_light(before, dimmer), key_light(after, dimmer)
    if dim <= 0.0 or bright <= 0.0:
        raise ValueError("a key at no power has no stops")
    return log2(bright / dim)


def key_power(before: float, stops: float, dimmer: Dimmer | None = None) -> float:
    """The power in percent for so many stops more than at ``before``; above 100 there is not that much light.

    >>> key_power(50.0, -1.0), key_power(50.0, 2.0)
    (25.0, 200.0)
    """
    wanted: float = 100.0 * key_light(before, dimmer) * 2.0**stops
    if dimmer is None:
        return wanted
    dial, light = [each[0] for each in dimmer], [each[1] for each in dimmer]
    return float(dial[-1] * wanted / light[-1]) if wanted > light[-1] else _between(wanted, light, dial)


def key_powers(before: float, stops: npt.NDArray[np.float64], dimmer: Dimmer | None = None) -> npt.NDArray[np.float64]:
    """:func:`key_power` of many amounts at once.

    >>> key_powers(50.0, np.array([-1.0, 2.0])).tolist()
    [25.0, 200.0]
    """
    wanted = np.asarray(100.0 * key_light(before, dimmer) * 2.0**stops)
    if dimmer is None:
        return wanted
    dial, light = [each[0] for each in dimmer], [each[1] for each in dimmer]
    return np.where(wanted > light[-1], dial[-1] * wanted / light[-1], np.interp(wanted, light, dial))


def _between(value: float, known: Sequence[float], given: Sequence[float]) -> float:
    """Straight lines between the points of a table; its ends beyond them."""
    if value <= known[0]:
        return float(given[0])
    if value >= known[-1]:
        return float(given[-1])
    place = bisect_left(known, value)
    part = (value - known[place - 1]) / (known[place] - known[place - 1])
    return float(given[place - 1] + part * (given[place] - given[place - 1]))
