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
    """The best way first, then as much of the rest as there is room for."""

    def draw(self, sheet: Sheet, showing: Showing) -> None:
        """Heading and moves."""
        matching = showing.snapshot.matching
        sheet.rule(0, "TO MATCH IT", "", Ink.STRONG)
        if showing.reading is None or matching is None or matching.difference is None:
            return
        width, room = max(sheet.width - 1, 8), sheet.height - 1
        first, rest = told(matching, width)
        for y, (text, ink) in enumerate((first + rest)[:room]):
            late = showing.trust == "mind" and ink != Ink.CARE
            sheet.put(1, y + 1, text, Ink.STALE if late else ink)


class MatchCautions(Panel):
    """What to mind beside that advice, across the whole width; as many lines as :func:`minded` says."""

    def draw(self, sheet: Sheet, showing: Showing) -> None:
        """Lines from the top; none where there is no picture."""
        for y, text in enumerate(minded(showing, sheet.width)[: sheet.height]):
            sheet.put(1, y, text, Ink.CARE)


def minded(showing: Showing, width: int) -> list[str]:
    """The cautions in lines for a panel of that width."""
    matching = showing.snapshot.matching
    if showing.reading is None or matching is None or matching.difference is None:
        return []
    return [line for each in matching.cautions for line in textwrap.wrap(f"! {each}", max(width - 2, 8))]


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
