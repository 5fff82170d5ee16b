"""The level scale of a plot, shared out over rows of cells."""

from __future__ import annotations

from typing import NamedTuple

_HEADROOM, _FOOTROOM = 9.0, 7.0  # IRE a narrow-range signal can hold above 100 and below 0


class Scale(NamedTuple):
    """The level scale of a plot: rows above 100, between 100 and 0, below 0. 0 and 100 lie on row borders."""

    over: int
    main: int
    under: int

    @property
    def rows(self) -> int:
        """All rows."""
        return self.over + self.main + self.under

    @property
    def top(self) -> float:
        """Level of the upper border, IRE."""
        return 100 + self.over * 100 / self.main

    @property
    def bottom(self) -> float:
        """Level of the lower border, IRE."""
        return -self.under * 100 / self.main

    def position(self, ire: float) -> float:
        """Rows from the top to a level."""
        return round((self.top - ire) / (self.top - self.bottom) * self.rows, 6)


def scale_for(rows: int) -> Scale:
    """Share ``rows`` out so that 0 and 100 IRE fall exactly between rows.

    >>> scale_for(22)
    Scale(over=2, main=18, under=2)
    """
    if rows < 4:
        return Scale(0, max(rows, 1), 0)
    whole = 100 + _HEADROOM + _FOOTROOM
    over = max(1, -(-rows * _HEADROOM // whole))
    under = max(1, -(-rows * _FOOTROOM // whole))
    return Scale(int(over), rows - int(over) - int(under), int(under))
