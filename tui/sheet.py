"""A sheet of character cells: what every panel draws on, and what decides which rows changed."""

from __future__ import annotations

import itertools

import numpy as np
import numpy.typing as npt
from rich.cells import get_character_cell_size

from tui.palette import Ink
from tui.plain import plain

Codes = npt.NDArray[np.uint32]
BLANK = 0x20


class Sheet:
    """``height`` rows of ``width`` cells, each with a character and an ink.

    ``ascii`` makes it impossible to put anything else on it: every character outside ASCII
    is replaced by a plain twin, or by ``?``. Control characters never get through.

    >>> sheet = Sheet(8, 1, ascii=True)
    >>> sheet.put(0, 0, "16×9 \\x1b[2J")
    8
    >>> sheet.lines()
    ['16x9 ?[2']
    """

    def __init__(self, width: int, height: int, ascii: bool = False) -> None:
        self.width, self.height, self.ascii = max(width, 0), max(height, 0), ascii
        self.codes: Codes = np.full((self.height, self.width), BLANK, np.uint32)
        self.inks: npt.NDArray[np.uint16] = np.zeros((self.height, self.width), np.uint16)

    def put(self, x: int, y: int, text: str, ink: int = Ink.TEXT) -> int:
        """Write ``text`` from column ``x`` on; what does not fit is cut. Returns the column after it."""
        if not 0 <= y < self.height:
            return x
        for character in text:
            code, width = self._cell(character)
            if width == 0:
                continue
            if x + width > self.width:
                return self.width
            if x >= 0:
                self.codes[y, x], self.inks[y, x] = code, ink
                if width == 2:
                    self.codes[y, x + 1], self.inks[y, x + 1] = 0, ink
            x += width
        return x

    def _cell(self, character: str) -> tuple[int, int]:
        code = ord(character)
        if 0x20 <= code < 0x7F:
            return code, 1
        if self.ascii:
            return ord(plain(character)), 1
        if code < 0x20 or 0x7F <= code < 0xA0:
            return ord("?"), 1
        if 0xD800 <= code < 0xE000:
            return 0xFFFD, 1
        return code, get_character_cell_size(character)

    def put_right(self, end: int, y: int, text: str, ink: int = Ink.TEXT) -> int:
        """Write ``text`` so that it ends before column ``end``; returns the column it starts at."""
        start = end - len(text)
        self.put(start, y, text, ink)
        return start

    def fill(self, x: int, y: int, width: int, height: int, character: str, ink: int) -> None:
        """Fill a box with one narrow character."""
        area = np.s_[max(y, 0) : max(y + height, 0), max(x, 0) : max(x + width, 0)]
        self.codes[area] = self._cell(character)[0]
        self.inks[area] = ink

    def block(self, x: int, y: int, codes: Codes, inks: npt.NDArray[np.uint16] | int) -> None:
        """Lay ready-made cells down at ``x, y``; what lies outside is cut."""
        rows, columns = min(codes.shape[0], self.height - y), min(codes.shape[1], self.width - x)
        if rows <= 0 or columns <= 0:
            return
        self.codes[y : y + rows, x : x + columns] = codes[:rows, :columns]
        self.inks[y : y + rows, x : x + columns] = inks if isinstance(inks, int) else inks[:rows, :columns]

    def rule(self, y: int, title: str, note: str = "", ink: int = Ink.SOFT, note_ink: int = Ink.SOFT) -> None:
        """A heading over the full width: title, a faint line, and a note at the right if there is room."""
        if not 0 <= y < self.height:
            return
        end = self.put(0, y, title, ink)
        start = self.width
        if note and end + 2 + len(note) <= self.width:
            start = self.put_right(self.width, y, note, note_ink) - 1
        if end + 1 < start:
            self.fill(end + 1, y, start - end - 1, 1, "─", Ink.FAINT)

    def changed_rows(self, before: Sheet | None) -> list[int]:
        """The rows that differ from another sheet; all of them when its size differs."""
        if before is None or before.codes.shape != self.codes.shape:
            return list(range(self.height))
        differ = ((self.codes != before.codes) | (self.inks != before.inks)).any(axis=1)
        return [int(row) for row in np.flatnonzero(differ)]

    def runs(self, y: int) -> list[tuple[str, int]]:
        """Row ``y`` as stretches of one ink."""
        inks = self.inks[y]
        edges = [0, *(np.flatnonzero(inks[1:] != inks[:-1]) + 1).tolist(), self.width]
        return [(_text(self.codes[y, a:b]), int(inks[a])) for a, b in itertools.pairwise(edges) if b > a]

    def lines(self) -> list[str]:
        """All rows as text, for tests and plain output."""
        return [_text(row) for row in self.codes]


def _text(codes: Codes) -> str:
    return codes.astype("<u4").tobytes().decode("utf-32-le").replace("\0", "")
