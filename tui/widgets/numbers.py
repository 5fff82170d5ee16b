"""The levels and shares in figures, the most important ones large."""

from __future__ import annotations

from tui.bridge import Showing
from tui.look import Look
from tui.measured_words import distance_words, stops
from tui.palette import Ink
from tui.placing import main_sitter, sitter_distance
from tui.sheet import Sheet
from tui.widgets.blocks.block import Block, Told, share_out
from tui.widgets.blocks.held import Held
from tui.widgets.blocks.lead import Lead
from tui.widgets.blocks.lost import NOTED, Lost
from tui.widgets.blocks.signal import Signal
from tui.widgets.blocks.spots import Spots
from tui.widgets.blocks.spread import Spread
from tui.widgets.blocks.turned import Turned
from tui.widgets.panel import Panel
from tui.widgets.pieces import Piece, put_pieces
from tui.wording import level, share

__all__ = ["NOTED", "NumbersPanel"]


class NumbersPanel(Panel):
    """The sitter or the middle, headroom, levels, losses, the signal and the spots: each as large as there is room."""

    def __init__(self, look: Look, name: str) -> None:
        super().__init__(look, name)
        self._blocks: tuple[Block, ...] = (
            Lead(),
            Spread(),
            Lost("CLIPPED"),
            Lost("CRUSHED"),
            Held(),
            Turned(),
            Spots(),
            Signal(),
        )

    def draw(self, sheet: Sheet, showing: Showing) -> None:
        """Figures; dim when the picture is late, blank when there is none."""
        if sheet.height < 3:
            self._put_line(sheet, showing)
            return
        told = Told(showing, sheet.width)
        given = share_out([block.steps(told) for block in self._blocks], sheet.height)
        spare = sheet.height - sum(given)
        shown = sum(1 for rows in given if rows)
        y = 0
        for number, (block, rows) in enumerate(zip(self._blocks, given, strict=True)):
            block.draw(sheet, y, rows, told)
            # Blank lines between the parts, once there are enough for all of them.
            y += rows + (1 if rows and number and spare >= shown - 1 else 0)

    def _put_line(self, sheet: Sheet, showing: Showing) -> None:
        """The same on one line, where the trace has the room."""
        reading = showing.reading
        luma, clipped, crushed = (reading.luma, reading.clipped, reading.crushed) if reading else (None, None, None)
        stale = showing.trust == "mind"
        strong, plain = (Ink.STALE, Ink.STALE) if stale else (Ink.STRONG, Ink.TEXT)
        over = strong if stale or clipped is None or clipped.any < NOTED else Ink.OVER
        under = strong if stale or crushed is None or crushed.any < NOTED else Ink.UNDER
        headroom = stops(reading.headroom_stops if reading else None, signed=False)
        pieces = [
            Piece(showing.banner[0] if showing.banner else "", Ink.CARE, 9),
            *self._sitter(showing, strong),
            Piece(f"middle {level(luma.p50 if luma else None)} IRE", strong, 9),
            Piece(f"headroom {headroom}", strong, 8),
            Piece(f"clipped {share(clipped.any if clipped else None)} %", over, 8),
            Piece(f"crushed {share(crushed.any if crushed else None)} %", under, 7),
            Piece(f"high {level(luma.p99 if luma else None)}", plain, 6),
            Piece(f"low {level(luma.p1 if luma else None)}", plain, 5),
            Piece(f"mean {level(luma.mean if luma else None)}", plain, 4),
        ]
        put_pieces(sheet, 1, 0, sheet.width - 1, pieces, gap=3)

    def _sitter(self, showing: Showing, ink: Ink) -> list[Piece]:
        reading, sitter = showing.reading, main_sitter(showing.reading)
        if reading is None or sitter is None:
            return []
        off = distance_words(sitter_distance(reading, sitter, showing.snapshot.aims))
        return [Piece(f"{sitter.name} {level(sitter.level)} {off}".rstrip(), ink, 10)]
