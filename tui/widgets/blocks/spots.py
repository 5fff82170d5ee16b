"""What the spots read, one line each."""

from __future__ import annotations

from analysis.model.sitter import Spot, SpotKind
from tui.measured_words import distance_words, spot_words
from tui.palette import Ink
from tui.placing import spot_distance
from tui.sheet import Sheet
from tui.widgets.blocks.block import Step, Told
from tui.widgets.pieces import Piece, put_pieces
from tui.wording import NOTHING

MARKS: dict[SpotKind, str] = {"watch": "○", "let go": "△", "background": "·"}
"""Glyphs of the kinds: read it, it may clip, the ground behind."""


class Spots:
    """A heading and a line for every spot; nothing where there are none."""

    def steps(self, told: Told) -> tuple[Step, ...]:
        """No rows, or a heading and as many lines as there is room for."""
        count = len(told.showing.snapshot.spots)
        return (Step(0), *(Step(1 + lines, 58 - lines) for lines in range(1, count + 1)))

    def draw(self, sheet: Sheet, y: int, rows: int, told: Told) -> None:
        """Name, level, stops, clipped share; the distance to the aim where there is one."""
        if rows < 2:
            return
        spots = told.showing.snapshot.spots
        hidden = len(spots) - (rows - 1)
        sheet.rule(y, "SPOTS" if hidden <= 0 else f"SPOTS +{hidden} more", "", Ink.STRONG)
        for number, spot in enumerate(spots[: rows - 1]):
            put_spot(sheet, 1, y + 1 + number, sheet.width - 1, spot, told)


def put_spot(sheet: Sheet, x: int, y: int, width: int, spot: Spot, told: Told) -> None:
    """One spot on one line."""
    sheet.put(x, y, MARKS[spot.kind], Ink.SPOT)
    reading = told.reading
    read = (reading.spots or {}).get(spot.name) if reading is not None else None
    name = Piece(spot.name, told.ink(Ink.TEXT), 9, cut=True)
    if reading is None or read is None:
        put_pieces(sheet, x + 2, y, width - 2, [name, Piece(NOTHING, Ink.SOFT, 8)])
        return
    level, *others = spot_words(read)
    pieces = [name, Piece(level, told.ink(Ink.STRONG), 8)]
    for text in others:
        lost = text.startswith("clip") and spot.kind != "let go"
        pieces.append(Piece(text, told.ink(Ink.OVER if lost else Ink.TEXT), 7 if lost else 4))
    off = spot_distance(reading, spot.name, read, told.showing.snapshot.aims)
    if off is not None:
        pieces.append(Piece(distance_words(off), told.ink(Ink.AIM if off.within else Ink.SEEN), 6))
    put_pieces(sheet, x + 2, y, width - 2, pieces, gap=1)
