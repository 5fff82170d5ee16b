"""One line of the benchmark report."""

from __future__ import annotations

import msgspec


class Row(msgspec.Struct, frozen=True, kw_only=True):
    """A figure with its unit, and the budget it is held against (None when there is none).

    ``most`` is the largest value within budget, ``least`` the smallest.
    """

    section: str
    name: str
    value: float
    unit: str
    most: float | None = None
    least: float | None = None

    def verdict(self) -> str:
        """Whether the figure keeps its budget, in words."""
        if self.most is not None:
            return f"{'within' if self.value <= self.most else 'OVER'} {self.most:g}"
        if self.least is not None:
            return f"{'above' if self.value >= self.least else 'BELOW'} {self.least:g}"
        return ""
