"""Colour tables: what an operator's 1-D or 3-D look-up table makes of R'G'B'."""

from __future__ import annotations

from itertools import product
from typing import Any

import msgspec
import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.floating[Any]]
Triple = tuple[float, float, float]


class LookUpTable(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """A colour table: output R'G'B' at evenly spaced input R'G'B' from ``low`` to ``high``, per channel.

    ``values`` is float32 of shape (n, 3) for a 1-D table, one column per channel, or (n, n, n, 3) for a
    3-D table, indexed blue, green, red: red changes fastest, as .cube files list them. 0 is black and 1
    nominal white (0 and 100 IRE) on both sides; outputs beyond that are allowed.

    >>> half = LookUpTable(values=np.array([[0, 0, 0], [0.5, 0.5, 0.5]], np.float32))
    >>> half.apply(np.array([1.0, 0.5, -3.0])).tolist()
    [0.5, 0.25, 0.0]
    """

    values: npt.NDArray[np.float32]
    low: Triple = (0.0, 0.0, 0.0)
    high: Triple = (1.0, 1.0, 1.0)
    title: str = ""

    @property
    def is_cube(self) -> bool:
        """Whether each output depends on all three inputs (a 3-D table)."""
        return self.values.ndim == 4

    @property
    def size(self) -> int:
        """Nodes along one axis."""
        return int(self.values.shape[0])

    def nodes(self, channel: int) -> npt.NDArray[np.float64]:
        """Inputs of the nodes along one axis: channel 0 is red."""
        return np.linspace(self.low[channel], self.high[channel], self.size)

    def apply(self, colours: Floats) -> npt.NDArray[np.float64]:
        """Output for finite R'G'B' of shape (..., 3): linear between nodes, in 3-D along all axes, held beyond them.

        Inputs outside ``low`` to ``high`` count as the nearest bound, as both .cube descriptions have it.
        """
        wanted = np.asarray(colours, np.float64)
        if not self.is_cube:
            columns = [np.interp(wanted[..., c], self.nodes(c), self.values[:, c]) for c in range(3)]
            return np.stack(columns, axis=-1)
        low, high = np.array(self.low), np.array(self.high)
        place = np.clip((wanted - low) / (high - low), 0.0, 1.0) * (self.size - 1)
        cell = np.minimum(place.astype(np.intp), self.size - 2)
        part = place - cell
        result = np.zeros(wanted.shape)
        for red, green, blue in product((0, 1), repeat=3):
            corner = np.array((red, green, blue))
            weight = np.prod(np.where(corner == 1, part, 1.0 - part), axis=-1)
            r, g, b = np.moveaxis(cell + corner, -1, 0)
            result += weight[..., np.newaxis] * self.values[b, g, r]
        return result


def identity_cube(size: int) -> npt.NDArray[np.float64]:
    """Node colours of a 3-D table from 0 to 1, shape (size, size, size, 3), in the order of ``LookUpTable.values``.

    >>> identity_cube(2)[0, 1, 0].tolist()
    [0.0, 1.0, 0.0]
    """
    steps = np.linspace(0.0, 1.0, size)
    blue, green, red = np.meshgrid(steps, steps, steps, indexing="ij")
    return np.stack((red, green, blue), axis=-1)
