"""What to move so that the picture matches the chosen hold: in terms of the controls, or in stops."""

from __future__ import annotations

import textwrap

from analysis.model.hold import Matching
from tui.bridge import Showing
from tui.palette import Ink
from tui.sheet import Sheet
from tui.widgets.panel import Panel

Line = tuple[str, Ink]


class MatchMoves(Panel):
    """The best way first; what has to be minded always has its room."""

    def draw(self, sheet: Sheet, showing: Showing) -> None:
        """Heading, moves, cautions, then as much of the rest as there is room for."""
        matching = showing.snapshot.matching
        sheet.rule(0, "TO MATCH IT", "", Ink.STRONG)
        if showing.reading is None or matching is None or matching.difference is None:
            return
        width, room = max(sheet.width - 1, 8), sheet.height - 1
        first, rest = told(matching, width)
        minded = [(line, Ink.CARE) for each in matching.cautions for line in textwrap.wrap(f"! {each}", width)]
        # A caution that is cut says less than one that pushes other words out.
        lines = (first + rest)[: max(room - len(minded), 1)] + minded
        for y, (text, ink) in enumerate(lines[:room]):
            late = showing.trust == "mind" and ink != Ink.CARE
            sheet.put(1, y + 1, text, Ink.STALE if late else ink)


def told(matching: Matching, width: int) -> tuple[list[Line], list[Line]]:
    """What to move first, and what may be left out where there is little room."""
    planned = matching.planned
    in_stops = [line for move in matching.moves for line in _wrapped(move, width, Ink.STRONG)]
    if planned is None or not planned.plans:
        why = _wrapped(f"no plan: {matching.trouble}", width, Ink.SOFT) if matching.trouble else []
        return in_stops, why
    best, *others = planned.plans
    first = _wrapped(f"no way reaches it: {planned.missing}", width, Ink.CARE) if planned.missing else []
    for number, move in enumerate(best.moves):
        head = ("nearest: " if planned.missing else "1  ") if number == 0 else "   "
        first += _wrapped(move, width, Ink.STRONG, head)
    rest = _wrapped(best.reason, width, Ink.TEXT, "   ")
    for number, way in enumerate(others, 2):
        for place, move in enumerate(way.moves):
            rest += _wrapped(move, width, Ink.TEXT, f"{number}  " if place == 0 else "   ")
        rest += _wrapped(way.reason, width, Ink.SOFT, "   ")
    rest += [("in stops:", Ink.SOFT), *((text, Ink.SOFT) for text, _ in in_stops)]
    return first, rest


def _wrapped(text: str, width: int, ink: Ink, head: str = "") -> list[Line]:
    lines = textwrap.wrap(text, width, initial_indent=head, subsequent_indent=" " * min(len(head), 3))
    return [(line, ink) for line in lines]
