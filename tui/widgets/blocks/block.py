"""What a part of the figures is, and how the rows are shared out among them."""

from __future__ import annotations

from typing import NamedTuple, Protocol

from analysis.model.reading import Reading
from tui.bridge import Showing
from tui.palette import Ink
from tui.sheet import Sheet


class Told(NamedTuple):
    """The moment that is drawn; ``reading`` is None where nothing may be shown."""

    showing: Showing
    width: int

    @property
    def reading(self) -> Reading | None:
        """The reading, if any may be shown."""
        return self.showing.reading

    @property
    def stale(self) -> bool:
        """Whether figures are to be drawn dim."""
        return self.showing.trust == "mind"

    def ink(self, ink: Ink) -> Ink:
        """The ink of a figure, dim where the picture is late or doubtful."""
        return Ink.STALE if self.stale else ink


class Step(NamedTuple):
    """A number of rows a block can do with, and how much it is wanted; the first of a block is always given."""

    rows: int
    weight: int = 0


class Block(Protocol):
    """A part of the figures."""

    def steps(self, told: Told) -> tuple[Step, ...]:
        """The rows it can be drawn in, ascending."""
        ...

    def draw(self, sheet: Sheet, y: int, rows: int, told: Told) -> None:
        """Draw it from row ``y`` on in one of those numbers of rows."""
        ...


def share_out(wanted: list[tuple[Step, ...]], rows: int) -> list[int]:
    """Rows for every block: the least each can do with, then what is wanted most for as long as it fits.

    >>> share_out([(Step(2), Step(5, 9)), (Step(1), Step(3, 5), Step(6, 1))], 8)
    [5, 3]
    """
    given = [steps[0].rows for steps in wanted]
    order = sorted(((step, number) for number, steps in enumerate(wanted) for step in steps[1:]), key=_by_weight)
    for step, number in order:
        if step.rows > given[number] and sum(given) - given[number] + step.rows <= rows:
            given[number] = step.rows
    return given


def _by_weight(wish: tuple[Step, int]) -> tuple[int, int]:
    return -wish[0].weight, wish[1]
