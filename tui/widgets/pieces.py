"""Putting pieces of text on a line by importance."""

from __future__ import annotations

from typing import NamedTuple

from rich.cells import cell_len, set_cell_size

from tui.palette import Ink
from tui.sheet import Sheet


class Piece(NamedTuple):
    """A piece of a line; of two pieces that do not both fit, the one with the higher ``weight`` stays.

    ``cut`` allows it to be shortened before it is left out.
    """

    text: str
    ink: int = Ink.TEXT
    weight: int = 1
    cut: bool = False


_SHORTEST = 10


def choose(pieces: list[Piece], width: int, gap: int = 2) -> list[Piece]:
    """The pieces that fit in ``width`` cells, in their order, the least important left out first.

    >>> pieces = [Piece("scene", weight=2), Piece("25.0 a second"), Piece("LIVE", weight=3)]
    >>> [piece.text for piece in choose(pieces, 12)]
    ['scene', 'LIVE']
    """
    kept = [piece for piece in pieces if piece.text]
    while len(kept) > 1 and (excess := sum(cell_len(piece.text) + gap for piece in kept) - gap - width) > 0:
        least = min(piece.weight for piece in kept)
        last = max(index for index, piece in enumerate(kept) if piece.weight == least)
        piece = kept.pop(last)
        room = cell_len(piece.text) - excess
        if piece.cut and room >= _SHORTEST:
            kept.insert(last, piece._replace(text=_cut(piece.text, room)))
    if len(kept) == 1 and kept[0].cut and cell_len(kept[0].text) > width >= _SHORTEST:
        kept[0] = kept[0]._replace(text=_cut(kept[0].text, width))
    return kept


def _cut(text: str, room: int) -> str:
    return f"{set_cell_size(text, room - 1).rstrip()}…"


def put_pieces(sheet: Sheet, x: int, y: int, width: int, pieces: list[Piece], gap: int = 2) -> int:
    """Write the pieces that fit from ``x`` on; returns the column after the last."""
    for number, piece in enumerate(choose(pieces, width, gap)):
        x = sheet.put(x + (gap if number else 0), y, piece.text, piece.ink)
    return x
