"""The live picture against the chosen hold, in one line or three."""

from __future__ import annotations

from analysis.model.hold import Apart, Matching
from tui.hold_words import NEAR, apart_figure
from tui.palette import Ink
from tui.sheet import Sheet
from tui.widgets.blocks.block import Step, Told
from tui.widgets.pieces import Piece, put_pieces


class Held:
    """A heading with the hold's name, then skin, background and the rest in stops; nothing without a chosen hold."""

    def steps(self, told: Told) -> tuple[Step, ...]:
        """No rows, a heading and a line, or a second line."""
        if _matching(told) is None:
            return (Step(0),)
        return (Step(0), Step(2, 62), Step(3, 30))

    def draw(self, sheet: Sheet, y: int, rows: int, told: Told) -> None:
        """Above zero the live picture is brighter than the hold."""
        matching = _matching(told)
        if rows < 2 or matching is None or matching.hold is None:
            return
        sheet.rule(y, "HOLD", matching.hold.name, Ink.STRONG)
        found = matching.difference
        if found is None:
            sheet.put(1, y + 1, matching.trouble or "not compared yet", Ink.SOFT)
            return
        lines = [
            [("skin", found.sitter), ("ground", found.background), ("middle", found.middle)],
            [("ratio", found.ratio), ("bright end", found.highlights), ("sides", found.side_ratio)],
        ]
        for number, parts in enumerate(lines[: rows - 1]):
            pieces = [
                Piece(f"{name} {apart_words(part)}", told.ink(_ink(part)), 9 - place)
                for place, (name, part) in enumerate(parts)
                if part is not None
            ]
            put_pieces(sheet, 1, y + 1 + number, sheet.width - 1, pieces, gap=2)


def apart_words(apart: Apart) -> str:
    """Stops as in the match view; a match is said in words.

    >>> apart_words(Apart(stops=0.34)), apart_words(Apart(stops=-0.04)), apart_words(Apart(stops=-2.0, at_least=True))
    ('+0.3', 'as held', '≤ -2.0')
    """
    if abs(apart.stops) < NEAR and not apart.at_least:
        return "as held"
    return apart_figure(apart)


def _ink(apart: Apart) -> Ink:
    return Ink.AIM if abs(apart.stops) < NEAR and not apart.at_least else Ink.SEEN


def _matching(told: Told) -> Matching | None:
    matching = told.showing.snapshot.matching
    return matching if matching is not None and matching.hold is not None else None
