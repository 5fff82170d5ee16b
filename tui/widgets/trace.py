"""The trace: level against picture column, for luma and for R G B side by side."""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np
import numpy.typing as npt

from analysis.exposure.ghost import Ghost
from analysis.model.reading import Reading, View
from tui.arrange import Box
from tui.bridge import Showing
from tui.cells import Floats, TraceCells
from tui.look import Glyphs, Look
from tui.measured_words import set_by, where_found
from tui.palette import Ink
from tui.placing import band_of, main_sitter
from tui.sheet import BLANK, Codes, Sheet
from tui.widgets.banner import put_banner
from tui.widgets.ghost import GhostMarks
from tui.widgets.marks import put_aim, put_sitters, put_spots
from tui.widgets.panel import Panel
from tui.widgets.scale import Scale, scale_for
from tui.wording import lasted, level, share

_SCALE = 4  # cells for the numbers at the left
_MARGIN = 8  # cells for the words at the right


LineKind = Literal["sparse", "solid", "double", "dashed"]
"""Grid; where counting begins; an end found in the picture; the aim. Told apart without colour."""


class Label(NamedTuple):
    """Words beside a plot: how many rows from the top they belong, and whether they may be left out."""

    at: float
    text: str
    ink: Ink
    spare: bool = False


def spaced(labels: list[Label], rows: int) -> list[tuple[int, Label]]:
    """The labels, each on a row of its own: pushed down past those above, spare ones left out where it is full.

    >>> [(row, label.text) for row, label in spaced([Label(3.4, "b", Ink.OVER), Label(3.1, "a", Ink.OVER)], 9)]
    [(3, 'a'), (4, 'b')]
    """
    taken: dict[int, Label] = {}
    for label in sorted(labels, key=lambda each: (each.spare, each.at)):
        row = min(max(int(label.at), 0), rows - 1)
        if label.spare:
            if row not in taken and int(label.at) < rows:
                taken[row] = label
            continue
        down = next((r for r in range(row, rows) if r not in taken), None)
        free = down if down is not None else next((r for r in range(row, -1, -1) if r not in taken), None)
        if free is not None:
            taken[free] = label
    return sorted(taken.items())


class _Plot(Panel):
    """What both traces share: the scale, the grid, the lines where counting begins and where the signal ends."""

    def __init__(self, look: Look, name: str) -> None:
        super().__init__(look, name)
        self._codes: dict[str, Codes] = {}
        self._cells: dict[str, TraceCells] = {}
        self._drawn: tuple[object, int, int] | None = None

    def forget(self) -> None:
        """Nothing of an earlier picture may show through."""
        self._codes.clear()
        self._cells.clear()
        self._drawn = None

    def _trace(self, key: str, counts: Floats, view: View, columns: int, scale: Scale) -> Codes:
        cells = self._cells.setdefault(key, TraceCells(self.look.glyphs))
        span = (scale.bottom, scale.top)
        self._codes[key] = cells.draw(counts, view.low, view.step, (columns, scale.rows), span)
        return self._codes[key]

    def _put_scale(self, sheet: Sheet, y: int, scale: Scale) -> None:
        every = 10 if scale.main >= 30 else 20 if scale.main >= 10 else 50
        for ire in range(0, 101, every):
            sheet.put_right(_SCALE - 1, y + int(scale.position(ire)), str(ire), Ink.SOFT)

    def _put_grid(self, sheet: Sheet, x: int, y: int, columns: int, scale: Scale) -> None:
        every = 20 if scale.main >= 10 else 50
        for ire in range(0, 101, every):
            self._line(sheet, x, y, columns, scale.position(ire), Ink.FAINT, "sparse")

    def _line(self, sheet: Sheet, x: int, y: int, columns: int, at: float, ink: Ink, kind: LineKind) -> None:
        """A horizontal line where the plot is empty, as exactly placed as the glyphs allow."""
        row = int(at)
        if not 0 <= row < sheet.height - y:
            return
        line = sheet.codes[y + row, x : x + columns]
        inks = sheet.inks[y + row, x : x + columns]
        empty = line == BLANK
        code = _line_code(self.look.glyphs, kind, int((at - row) * 4))
        if kind == "sparse" and self.look.glyphs != "braille":
            empty &= np.arange(len(line)) % 4 == 0
        if kind == "dashed":
            empty &= np.arange(len(line)) % 4 < 2
        line[empty], inks[empty] = code, ink

    def _put_limits(self, sheet: Sheet, plot: Box, scale: Scale, reading: Reading, channel: str) -> None:
        """Where counting begins (single lines), and the ends found in the picture (double ones)."""
        for at, ink, kind in _limit_lines(reading, channel):
            self._line(sheet, plot.x, plot.y, plot.width, scale.position(at), ink, kind)

    def _row_inks(self, scale: Scale, reading: Reading | None, ink: Ink) -> npt.NDArray[np.uint16]:
        """One ink for every row: above the clip level and below the floor they differ."""
        inks = np.full((scale.rows, 1), ink, np.uint16)
        middles = scale.top - (np.arange(scale.rows) + 0.5) * (scale.top - scale.bottom) / scale.rows
        if ink == Ink.STALE:
            return inks
        if reading is not None and reading.clipped is not None:
            inks[middles > reading.clipped.level] = Ink.OVER
        if reading is not None and reading.crushed is not None:
            inks[middles < reading.crushed.level] = Ink.UNDER
        return inks

    def _heading(self, sheet: Sheet, title: str, showing: Showing) -> None:
        if showing.paused is not None:
            note = f" PAUSED, {lasted(showing.paused.seconds)} old, space goes on "
            if len(title) + len(note) + 3 > sheet.width:
                note = f" PAUSED {lasted(showing.paused.seconds)} "
            sheet.rule(0, title, note, Ink.STRONG, Ink.GONE)
        elif showing.trust == "mind" and showing.banner:
            sheet.rule(0, title, f" {showing.banner[0]} ", Ink.STRONG, Ink.CARE)
        else:
            sheet.rule(0, title, self._limits_note(showing.reading, sheet.width - len(title) - 4), Ink.STRONG)

    def _limits_note(self, reading: Reading | None, width: int) -> str:
        if reading is None or reading.clipped is None or reading.crushed is None:
            return ""
        clip, crush = reading.clipped, reading.crushed
        found = reading.ceiling
        apart = found is not None and clip.by != "ceiling"
        also = f"ceiling {level(found.level)} found, " if found is not None and apart else ""
        notes = (
            f"{also}clip {level(clip.level)} ({set_by(clip.by)}), crush {level(crush.level)} ({set_by(crush.by)})",
            f"{also}clip {level(clip.level)} ({set_by(clip.by)})",
            f"{also}clip {level(clip.level)}" if also else "",
            f"clip {level(clip.level)} ({set_by(clip.by)}), crush {level(crush.level)} ({set_by(crush.by)})",
            f"clip {level(clip.level)} {set_by(clip.by)}, crush {level(crush.level)}",
            f"clip {level(clip.level)} {set_by(clip.by)}",
        )
        return next((note for note in notes if note and len(note) <= width), "")

    def _source(self, showing: Showing) -> tuple[View, Reading] | None:
        """The picture to draw: the paused one, or the newest."""
        if showing.paused is not None:
            return showing.paused.view, showing.paused.reading
        if showing.view is None or showing.reading is None:
            self.forget()
            return None
        return showing.view, showing.reading

    def _is_new(self, view: View, columns: int, rows: int) -> bool:
        """Whether this view has not been drawn at this size; redrawing the same one would smooth it twice."""
        key = (view, columns, rows)
        old = self._drawn
        self._drawn = key
        return old is None or old[0] is not view or old[1:] != (columns, rows)


class TracePanel(_Plot):
    """Luma against picture column."""

    def __init__(self, look: Look, name: str) -> None:
        super().__init__(look, name)
        self._ghost = GhostMarks()

    def draw(self, sheet: Sheet, showing: Showing) -> None:
        """Scale at the left, the trace, clip and floor as lines with words at the right; a ghost over it all."""
        ghost = showing.ghost if showing.view is not None else None
        self._heading(sheet, _title(ghost, sheet.width), showing)
        rows = sheet.height - 1
        margin = _MARGIN if sheet.width >= 50 else 0
        columns = sheet.width - _SCALE - margin
        if rows < 2 or columns < 4:
            return
        scale = scale_for(rows)
        self._put_scale(sheet, 1, scale)
        source = self._source(showing)
        if source is None:
            put_banner(sheet, _SCALE, 1, columns, rows, showing.banner)
            return
        view, reading = source
        if self._is_new(view, columns, rows):
            self._trace("luma", view.trace, view, columns, scale)
        ink = Ink.STALE if showing.trust == "mind" and showing.paused is None else Ink.TRACE
        inks = np.repeat(self._row_inks(scale, reading, ink), columns, axis=1)
        plot = Box(_SCALE, 1, columns, rows)
        sheet.block(_SCALE, 1, self._codes["luma"], inks)
        self._put_limits(sheet, plot, scale, reading, "luma")
        sitter = main_sitter(reading)
        band = None
        if reading.sitters is not None:
            band = band_of(reading, sitter.name if sitter is not None else "sitter", showing.snapshot.aims)
        if band is not None:
            for edge in (band.low, band.high):
                self._line(sheet, _SCALE, 1, columns, scale.position(edge), Ink.AIM, "dashed")
            put_aim(sheet, plot, scale, band)
        self._put_grid(sheet, _SCALE, 1, columns, scale)
        put_spots(sheet, plot, scale, reading, showing.snapshot.spots)
        put_sitters(sheet, plot, scale, reading)
        if ghost is not None:
            self._ghost.put(sheet, plot, scale, ghost)
        else:
            self._ghost.forget()
        if margin:
            labels = _limit_labels(reading, scale)
            if ghost is not None and ghost.skin is not None:
                labels.append(Label(scale.position(ghost.skin), "ghost", Ink.GHOST))
            if band is not None:
                labels.append(Label(scale.position(band.centre), "aim", Ink.AIM))
            if sitter is not None and sitter.level is not None:
                labels.append(Label(scale.position(sitter.level), "skin", Ink.SITTER))
            for row, label in spaced(labels, rows):
                sheet.put(_SCALE + columns + 1, 1 + row, label.text, label.ink)


def _title(ghost: Ghost | None, width: int) -> str:
    if ghost is None:
        return "LUMA"
    titles = (f"LUMA, GHOST OF {ghost.label}", f"GHOST OF {ghost.label}", f"GHOST {ghost.label}")
    return next((title for title in titles if len(title) <= width), "GHOST")


def _line_code(glyphs: Glyphs, kind: LineKind, dot: int) -> int:
    """The character of a horizontal line; with braille it lies on one of the four rows of dots in a cell."""
    if glyphs == "braille":
        if kind == "sparse":
            return 0x2800 + (0x01, 0x02, 0x04, 0x40)[dot]
        rows = (0x09, 0x12, 0x24, 0xC0)
        return 0x2800 + (rows[dot] if kind != "double" else rows[min(dot, 2)] + rows[min(dot, 2) + 1])
    table = {"sparse": "-", "solid": "-", "double": "=", "dashed": "~"}
    return ord(table[kind]) if glyphs == "ascii" else {"double": 0x2550, "dashed": 0x254C}.get(kind, 0x2500)


def _limit_lines(reading: Reading, channel: str) -> list[tuple[float, Ink, LineKind]]:
    """Levels, inks and kinds of the lines in the plot of one channel."""
    lines: list[tuple[float, Ink, LineKind]] = []
    for end, ink in ((reading.ceiling, Ink.OVER), (reading.floor, Ink.UNDER)):
        if end is not None and (channel == "luma" or channel in end.channels):
            lines.append((end.level, ink, "double"))
    for shares, ink in ((reading.clipped, Ink.OVER), (reading.crushed, Ink.UNDER)):
        if shares is not None:
            lines.append((shares.level, ink, "solid"))
    return lines


def _limit_labels(reading: Reading, scale: Scale) -> list[Label]:
    """Words for those lines: an end that was found with its share, the level where counting begins if it is another."""
    labels = []
    for end, word, ink in ((reading.ceiling, "ceiling", Ink.OVER), (reading.floor, "floor", Ink.UNDER)):
        if end is None:
            continue
        where = where_found(end)
        at = scale.position(end.level)
        labels.append(Label(at, f"{word[:4]} {where}" if where else word, ink))
        if end.share > 0:  # it stands although nothing lies on it at this moment
            labels.append(Label(at + 1, f"{share(end.share)} %", Ink.SOFT, spare=True))
    for shares, word, ink in ((reading.clipped, "clip", Ink.OVER), (reading.crushed, "crush", Ink.UNDER)):
        if shares is not None and shares.by not in {"ceiling", "floor"}:
            labels.append(Label(scale.position(shares.level), word, ink))
    return labels


class PartsPanel(_Plot):
    """R', G' and B' side by side, each against picture column, each named by its letter."""

    def draw(self, sheet: Sheet, showing: Showing) -> None:
        """Three plots on one scale."""
        self._heading(sheet, "R G B", showing)
        rows = sheet.height - 2
        columns = (sheet.width - _SCALE - 2) // 3
        if rows < 2 or columns < 3:
            return
        scale = scale_for(rows)
        self._put_scale(sheet, 2, scale)
        source = self._source(showing)
        if source is None:
            put_banner(sheet, _SCALE, 1, sheet.width - _SCALE, rows + 1, showing.banner)
            return
        view, reading = source
        if view.trace_rgb is None:
            put_banner(sheet, _SCALE, 1, sheet.width - _SCALE, rows + 1, ("NO COLOUR", "this feed carries luma only"))
            return
        new = self._is_new(view, columns, rows)
        stale = showing.trust == "mind" and showing.paused is None
        names = (("R", "red", Ink.RED), ("G", "green", Ink.GREEN), ("B", "blue", Ink.BLUE))
        for number, (letter, word, ink) in enumerate(names):
            x = _SCALE + number * (columns + 1)
            sheet.put(x, 1, f"{letter} {word}", ink)
            if new:
                self._trace(letter, view.trace_rgb[number], view, columns, scale)
            inks = np.repeat(self._row_inks(scale, reading, Ink.STALE if stale else ink), columns, axis=1)
            sheet.block(x, 2, self._codes[letter], inks)
            self._put_limits(sheet, Box(x, 2, columns, rows), scale, reading, letter.lower())
            self._put_grid(sheet, x, 2, columns, scale)
