"""How far the picture lies from the chosen hold: a line for each part, with a bar to the side it lies on."""

from __future__ import annotations

from typing import NamedTuple

from analysis.model.hold import Apart, Difference
from tui.bridge import Showing
from tui.hold_words import BACKGROUND_BY, NEAR, apart_figure, apart_words, points_words
from tui.measured_words import stops
from tui.palette import Ink
from tui.sheet import Sheet
from tui.widgets.banner import put_banner
from tui.widgets.panel import Panel

SCALE = 2.0
"""Stops from the middle of a bar to its end; what lies further out ends in an arrow."""


class Row(NamedTuple):
    """A part of a difference: its name, the same short, and the words for its two directions."""

    part: str
    name: str
    short: str
    more: str
    less: str


ROWS = (
    Row("sitter", "skin", "skin", "brighter", "darker"),
    Row("background", "background", "backgr.", "brighter", "darker"),
    Row("highlights", "highlights", "highl.", "brighter", "darker"),
    Row("middle", "middle", "middle", "brighter", "darker"),
    Row("ratio", "skin over background", "ratio", "more", "less"),
    Row("side_ratio", "left side over right", "sides", "more left", "more right"),
)
POINTS = (("clipped", "clipped, %"), ("crushed", "crushed, %"))


class _Columns(NamedTuple):
    """Where the columns of the table lie; ``reads`` is None where there is no room for what each picture reads."""

    wide: bool
    reads: int | None
    figure: int
    bar: int
    length: int
    words: int


class MatchTable(Panel):
    """The difference from the hold, in stops; above zero the picture is brighter now."""

    def draw(self, sheet: Sheet, showing: Showing) -> None:
        """Heading, scale, a row for each part, and what the background is read from."""
        matching = showing.snapshot.matching
        found = matching.difference if matching is not None else None
        sheet.rule(0, "NOW AGAINST THE HOLD", "in stops", Ink.STRONG)
        if showing.reading is None:
            put_banner(sheet, 0, 1, sheet.width, sheet.height - 1, showing.banner)
            return
        if matching is None or matching.hold is None:
            told = "k keeps what is read now" if matching is None or not matching.names else "Enter on one of the list"
            put_banner(sheet, 0, 1, sheet.width, sheet.height - 1, ("NO HOLD IS CHOSEN", told))
            return
        if found is None:
            lines = ("NOT COMPARED", matching.trouble) if matching.trouble else ("COMPARING",)
            put_banner(sheet, 0, 1, sheet.width, sheet.height - 1, lines)
            return
        columns = _columns(sheet.width)
        apart = 2 if sheet.height >= 2 * (len(ROWS) + len(POINTS)) + 4 else 1
        y = self._put_head(sheet, 1, columns)
        stale = showing.trust == "mind"
        room = sheet.width - columns.words
        # All of them short as soon as one has no room: a column of words is read down.
        whole = all(len(apart_words(getattr(found, row.part), row.more, row.less)) <= room for row in ROWS)
        for row in ROWS:
            self._put_row(sheet, y, row, getattr(found, row.part), columns, stale, whole)
            y += apart
        for part, name in POINTS:
            figure, words = points_words(getattr(found, part), part)
            ink = Ink.STALE if stale else Ink.TEXT
            sheet.put(1, y, name if columns.wide else part, Ink.SOFT)
            sheet.put_right(columns.figure, y, figure, ink)
            sheet.put(columns.words, y, words[: sheet.width - columns.words], ink)
            y += apart
        for line in _notes(found):
            sheet.put(1, y, line[: sheet.width - 1], Ink.SOFT)
            y += 1

    def _put_head(self, sheet: Sheet, y: int, columns: _Columns) -> int:
        """The scale of the bars, its ends and its middle."""
        if columns.reads is not None:
            sheet.put_right(columns.reads, y, "hold", Ink.SOFT)
            sheet.put_right(columns.reads + 7, y, "now", Ink.SOFT)
        sheet.put_right(columns.figure, y, "apart", Ink.SOFT)
        if columns.length >= 9:
            end = columns.bar + columns.length
            sheet.put(columns.bar, y, f"-{SCALE:g}", Ink.SOFT)
            sheet.put(columns.bar + columns.length // 2, y, "0", Ink.SOFT)
            sheet.put_right(end, y, f"+{SCALE:g}", Ink.SOFT)
        return y + 1

    def _put_row(
        self, sheet: Sheet, y: int, row: Row, apart: Apart | None, columns: _Columns, stale: bool, whole: bool
    ) -> None:
        ink = Ink.STALE if stale else Ink.SOFT if apart is None else Ink.TEXT
        sheet.put(1, y, row.name if columns.wide else row.short, Ink.SOFT)
        if columns.reads is not None and apart is not None:
            sheet.put_right(columns.reads, y, stops(apart.hold), Ink.SOFT)
            sheet.put_right(columns.reads + 7, y, stops(apart.live), ink)
        strong = Ink.STALE if stale else Ink.STRONG if apart is not None and abs(apart.stops) >= NEAR else ink
        sheet.put_right(columns.figure, y, apart_figure(apart), strong)
        if columns.length:
            put_bar(sheet, columns.bar, y, columns.length, apart, stale)
        words = apart_words(apart, row.more, row.less, whole)
        sheet.put(columns.words, y, words[: sheet.width - columns.words], strong)


def put_bar(sheet: Sheet, x: int, y: int, length: int, apart: Apart | None, stale: bool = False) -> None:
    """A bar from the middle to the side a distance lies on; a dot where it lies near the middle.

    >>> sheet = Sheet(13, 4)
    >>> for y, value in enumerate((1.0, -0.6, 0.1, -3.0)):
    ...     put_bar(sheet, 0, y, 13, Apart(stops=value))
    >>> print("\\n".join(sheet.lines()))
    ······│███···
    ····██│······
    ······●······
    ◀█████│······
    """
    half = length // 2
    middle = x + half
    sheet.fill(x, y, length, 1, "·", Ink.FAINT)
    sheet.put(middle, y, "│", Ink.SOFT)
    if apart is None:
        return
    ink = Ink.STALE if stale else Ink.TRACE
    if abs(apart.stops) < NEAR:
        sheet.put(middle, y, "●", Ink.STALE if stale else Ink.AIM)
        return
    cells = min(max(round(abs(apart.stops) / SCALE * half), 1), half)
    beyond = abs(apart.stops) > SCALE * (1.0 + 0.5 / half) or (apart.at_least and cells == half)
    if apart.stops > 0.0:
        sheet.fill(middle + 1, y, cells, 1, "█", ink)
        if beyond or apart.at_least:
            sheet.put(middle + cells, y, ">" if sheet.ascii else "▶", ink)
    else:
        sheet.fill(middle - cells, y, cells, 1, "█", ink)
        if beyond or apart.at_least:
            sheet.put(middle - cells, y, "<" if sheet.ascii else "◀", ink)


def _columns(width: int) -> _Columns:
    wide = width >= 84
    name = 22 if wide else 9
    reads = name + 6 if width >= 58 else None
    figure = (reads + 7 if reads is not None else name) + 8
    left = width - figure - 2
    words = 27 if wide else 20 if reads is not None else 14
    length = min(max(left - words - 1, 0), 61)
    length = length - 1 + length % 2 if length >= 5 else 0
    return _Columns(wide, reads, figure, figure + 2, length, figure + 2 + length + bool(length))


def _notes(found: Difference) -> list[str]:
    told = [f"not told: {note}" for note in found.notes]
    return told + ([BACKGROUND_BY[found.background_by]] if found.background_by is not None else [])
