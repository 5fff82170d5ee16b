"""What would be crushed with other settings: the darkest channel of every pixel, and the noise that pulls it down.

In the dark it is noise that reaches the floor before light does. Where the sensor catches less, its read noise stays
as large as it was, so it is larger against the signal: what is added is put on top of the picture as it was measured,
noise and all. Where it catches more, the noise that was measured cannot be taken out again, and the share is told as
the most it can be. What is crushed now hides how dark it is.
"""

from __future__ import annotations

import msgspec
import numpy as np
import numpy.typing as npt

from analysis.model.reading import StopsSpread
from analysis.signal.curves import MIDDLE_GREY

Floats = npt.NDArray[np.float64]

CHANNEL = 1.33
"""Noise of one channel against that of luma: 1 / sqrt(0.2126^2 + 0.7152^2 + 0.0722^2), weights of BT.709-6."""
CHANNELS = 1.7
"""How many channels are about equally dark in a dark place, each with noise of its own: between one and three; with
this number rendered scenes come out nearest, whatever the curve."""
NODE = 0.5
"""Stops between the settings that are worked out; between them straight lines."""


class Grain(msgspec.Struct, frozen=True, kw_only=True):
    """Noise of luma: at light ``x`` (0.18 is middle grey) its variance is ``shot x + read``, as things are set."""

    shot: float
    read: float

    @classmethod
    def of(cls, light: float, ratio: float, electrons: float, read_noise: float) -> Grain:
        """From a signal-to-noise ``ratio`` at a light that freed so many electrons (EMVA 1288 R4.0)."""
        total = (light / max(ratio, 1e-3)) ** 2
        part = electrons / (electrons + read_noise**2)
        return cls(shot=total * part / light, read=total * (1.0 - part))


class Depths:
    """A picture's darkest channels, ready to be asked what falls to the floor."""

    def __init__(self, table: StopsSpread | None, floor: float, now: float, grain: Grain | None) -> None:
        """``floor`` is the linear light at and below which a channel is crushed, ``now`` the share that is."""
        counts = np.asarray(table.counts if table else (100.0,), np.float64)
        low, step = (table.low, table.step) if table else (0.0, 1.0)
        edges = MIDDLE_GREY * 2.0 ** (low + step * np.arange(counts.size + 1))
        edges[0] = min(floor, 0.0) if floor < edges[0] else 0.0
        there = counts > 0.0
        self._light, self._wide = ((edges[1:] + edges[:-1]) / 2.0)[there], (np.diff(edges) / np.sqrt(12.0))[there]
        self._counts, self._floor, self._now, self._grain = counts[there], floor, now, grain

    def over(self, caught: Floats, gain: Floats) -> tuple[Floats, Floats]:
        """The least and the greatest crushed share, percent of the picture, for changes in stops."""
        # More light shrinks noise that is in the table: taken as gain, which leaves it in, it is the most there can be.
        less, gained = np.minimum(caught, 0.0), gain + np.maximum(caught, 0.0)
        catches, gains = _nodes(less), _nodes(gained)
        table = np.array([self._shares(float(each), gains) for each in catches])
        change = _between(table, catches, gains, less, gained) - self._shares(0.0, np.zeros(1))[0]
        whole = caught + gain
        # What is crushed now may lie anywhere below the floor: a brighter picture may keep all of it, or none.
        quieter = (caught >= 0.0) & (whole >= 0.0)
        most = np.where(quieter, self._now, np.clip(self._now + change, 0.0, 100.0))
        return np.where((caught > 0.0) | (whole > 0.0), 0.0, most), most

    def _shares(self, caught: float, gains: Floats) -> Floats:
        """Percent of the picture at or below the floor after one change of light, for several of gain."""
        light = self._light * 2.0**caught
        sigma = (self._wide * 2.0**caught) ** 2
        if self._grain is not None and caught < 0.0:
            shot, read = self._grain.shot * np.maximum(self._light, 0.0), self._grain.read
            # Shot noise falls by half of what light falls by, read noise not at all; what was measured fell with light.
            added = shot * (2.0**caught - 4.0**caught) + read * (1.0 - 4.0**caught)
            sigma = sigma + CHANNEL**2 * added
        floor = self._floor * 2.0**-gains
        below = normal((floor[:, None] - light[None, :]) / np.sqrt(np.maximum(sigma, 1e-18))[None, :])
        return np.asarray((1.0 - (1.0 - below) ** (CHANNELS if caught < 0.0 else 1.0)) @ self._counts)


def _nodes(values: Floats) -> Floats:
    low, high = min(float(values.min()), 0.0), max(float(values.max()), 0.0)
    return NODE * np.arange(np.floor(low / NODE), np.ceil(high / NODE) + 1.0)


def _between(table: Floats, rows: Floats, columns: Floats, row: Floats, column: Floats) -> Floats:
    """Straight lines between the nodes of a table in both directions."""
    y, x = (row - rows[0]) / NODE, (column - columns[0]) / NODE
    top = np.clip(np.floor(y + 1e-9).astype(np.intp), 0, max(rows.size - 2, 0))
    left = np.clip(np.floor(x + 1e-9).astype(np.intp), 0, max(columns.size - 2, 0))
    down, right = np.minimum(top + 1, rows.size - 1), np.minimum(left + 1, columns.size - 1)
    v, u = np.clip(y - top, 0.0, 1.0), np.clip(x - left, 0.0, 1.0)
    upper = table[top, left] * (1.0 - u) + table[top, right] * u
    lower = table[down, left] * (1.0 - u) + table[down, right] * u
    return np.asarray(upper * (1.0 - v) + lower * v)


def normal(z: Floats) -> Floats:
    """The normal distribution up to ``z``, within 0.0002.

    >>> [round(float(each), 3) for each in normal(np.array([-1.0, 0.0, 1.96]))]
    [0.159, 0.5, 0.975]
    """
    z = np.clip(z, -6.0, 6.0)
    return np.asarray(0.5 + 0.5 * np.tanh(0.7978845608 * (z + 0.044715 * z**3)))
