"""The hold's small picture, and the live one beside it."""

from __future__ import annotations

from analysis.exposure.match_light import Pixels, pixels_of
from analysis.model.hold import Hold
from analysis.model.instant import Instant
from analysis.signal.viewing import viewing_for
from tui.arrange import Box
from tui.bridge import Showing
from tui.cells import PictureCells, fit
from tui.hold_words import age, called, is_old, set_then
from tui.look import Look
from tui.palette import Ink
from tui.sheet import Sheet
from tui.widgets.frames import put_frames
from tui.widgets.panel import Panel
from tui.widgets.picture import PicturePanel
from tui.widgets.pieces import Piece, put_pieces


class HoldPicture(Panel):
    """The chosen hold as it looked, how old it is and where it is from.

    ``plain`` shows the signal as it came instead of a picture for the eye.
    """

    def __init__(self, look: Look, name: str) -> None:
        super().__init__(look, name)
        self.plain = look.viewing == "signal"
        self._cells = PictureCells(look.glyphs, greys=look.colours in {"full", "256", "auto"})
        self._shown: tuple[Hold, bool, Pixels | None] | None = None

    def draw(self, sheet: Sheet, showing: Showing) -> None:
        """Name and age, the picture with its sitters framed, and where it is from."""
        matching = showing.snapshot.matching
        hold = matching.hold if matching is not None else None
        if hold is None:
            sheet.rule(0, "HOLD", "", Ink.STRONG)
            self._put_words(sheet, "none is chosen")
            return
        self._put_heading(sheet, hold, showing.snapshot.at)
        pixels = self._viewed(hold)
        caption = sheet.height >= 5
        if pixels is None:
            self._put_words(sheet, "kept without a picture")
        else:
            height, width = pixels.shape[:2]
            columns, rows = fit(width, height, sheet.width, sheet.height - 1 - caption)
            if columns >= 2 and rows >= 1:
                place = Box((sheet.width - columns) // 2, 1, columns, rows)
                sheet.block(place.x, 1, *self._cells.draw(pixels, columns, rows))
                put_frames(sheet, place, hold.reading, ())
        if caption:
            pieces = [Piece(set_then(hold), Ink.SOFT, 2), Piece(hold.feed, Ink.SOFT, 1, cut=True)]
            put_pieces(sheet, 1, sheet.height - 1, sheet.width - 1, pieces)

    def _put_heading(self, sheet: Sheet, hold: Hold, now: Instant) -> None:
        old = is_old(hold.at, now)
        told = age(hold.at, now)
        note = f"OLD: {told}" if old else told if told == "just now" else f"{told} ago"
        title = hold.name if called(hold.name) == hold.name else f"HOLD {hold.name}"
        if len(title) + len(note) + 3 > sheet.width:
            title = hold.name[: max(sheet.width - len(note) - 3, 4)]
        sheet.rule(0, title, note, Ink.STRONG, Ink.CARE if old else Ink.SOFT)

    def _put_words(self, sheet: Sheet, text: str) -> None:
        sheet.put(max((sheet.width - len(text)) // 2, 0), sheet.height // 2, text, Ink.SOFT)

    def _viewed(self, hold: Hold) -> Pixels | None:
        """The hold's pixels through the viewing transform of its own encoding, made once."""
        if self._shown is None or self._shown[0] is not hold or self._shown[1] != self.plain:
            self._cells.forget()
            pixels = pixels_of(hold.picture)
            if pixels is not None:
                pixels = viewing_for(hold.reading.encoding, "signal" if self.plain else "auto", None).apply(pixels)
            self._shown = (hold, self.plain, pixels)
        return self._shown[2]


class LivePicture(PicturePanel):
    """The live picture under a heading of its own, with a line free where the hold has its caption."""

    title = "NOW"

    def draw(self, sheet: Sheet, showing: Showing) -> None:
        """As on the main view, but one line lower is left free."""
        below = Sheet(sheet.width, sheet.height - (1 if sheet.height >= 5 else 0), sheet.ascii)
        super().draw(below, showing)
        sheet.block(0, 0, below.codes, below.inks)
        end = 9 if self.seen in {"eye", "signal"} else 0
        if end:
            sheet.fill(0, 0, min(end, sheet.width), 1, "─", Ink.FAINT)
            sheet.put(0, 0, f"{self.title} ", Ink.STRONG)
