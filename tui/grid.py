"""What the terminal should show against what it was sent: only the difference is encoded."""

from __future__ import annotations

import re

from rich.cells import get_character_cell_size

from tui.plain import plain
from tui.sgr import PLAIN, Pen, change_pen, parse_pen

_TOKEN = re.compile(r"\x1b\[([0-9;]*)([A-Za-z])([^\x1b]*)")
# Ranges that are one cell wide in every terminal; anything else is looked up character by character.
_NARROW = re.compile(r"[ -~\u00a0-\u02ff\u2010-\u2027\u2190-\u22ff\u2500-\u25fc\u2800-\u28ff]*")
_SHORT_GAP = 4  # re-sending up to this many bytes is no longer than moving the cursor over them


class Grid:
    """Two pictures of the terminal: the wanted one and the one that was sent. No I/O.

    ``accept`` takes what Textual's compositor writes, ``encode`` returns what must go to
    the terminal so that it shows the wanted picture, and counts it as sent.

    >>> grid = Grid(6, 2)
    >>> grid.accept("\\x1b[1;1H\\x1b[1mhello\\x1b[0m")
    True
    >>> _ = grid.encode()
    >>> grid.accept("\\x1b[1;1H\\x1b[1mhallo\\x1b[0m")
    True
    >>> grid.encode()
    '\\x1b[1;2H\\x1b[0;1ma'
    """

    def __init__(self, width: int, height: int, ascii: bool = False) -> None:
        self._ascii = ascii  # whatever is drawn, only ASCII is sent
        self._pens: list[Pen] = [PLAIN]
        self._pen_of: dict[str, int] = {"": 0, "0": 0}
        self._index: dict[Pen, int] = {PLAIN: 0}
        self._pen: int | None = None
        self.cells = 0
        self.resize(width, height)

    def resize(self, width: int, height: int) -> None:
        """Take a new size; everything is blank and nothing counts as sent."""
        self.width, self.height = width, height
        self._text = [[" "] * width for _ in range(height)]
        self._ink = [[0] * width for _ in range(height)]
        self.invalidate()

    def invalidate(self) -> None:
        """Forget what was sent: the next ``encode`` sends everything."""
        self._sent_text: list[list[str] | None] = [None] * self.height
        self._sent_ink: list[list[int] | None] = [None] * self.height
        self.dirty = set(range(self.height))
        self._age = dict.fromkeys(range(self.height), 0)
        self._turn = 0
        self._pen = None

    def accept(self, data: str) -> bool:
        """Apply one compositor write; False when it is not purely text, pens and cursor positions.

        What is refused changes nothing here: the caller passes it through.
        """
        tokens = _TOKEN.findall(data)
        length = 0
        for parameters, final, text in tokens:
            length += 3 + len(parameters) + len(text)
            if final not in "mH":
                return False
        if not tokens or length != len(data):
            return False
        x = y = pen = 0
        for parameters, final, text in tokens:
            if final == "m":
                pen = self._pen_number(parameters)
            else:
                row, _, column = parameters.partition(";")
                y, x = int(row or 1) - 1, int(column or 1) - 1
            if text:
                x = self._put(x, y, text.rstrip("\r\n"), pen)
        return True

    def _pen_number(self, parameters: str) -> int:
        number = self._pen_of.get(parameters)
        if number is None:
            pen = parse_pen(parameters)
            number = self._index.setdefault(pen, len(self._pens))
            if number == len(self._pens):
                self._pens.append(pen)
            self._pen_of[parameters] = number
        return number

    def _put(self, x: int, y: int, text: str, pen: int) -> int:
        if not text or not 0 <= y < self.height or not 0 <= x < self.width:
            return x + len(text)
        cells = list(text) if _NARROW.fullmatch(text) else _wide_cells(text)
        if self._ascii and not text.isascii():
            cells = [plain(cell[0]) if cell else " " for cell in cells]
        end = min(x + len(cells), self.width)
        self._text[y][x:end] = cells[: end - x]
        self._ink[y][x:end] = [pen] * (end - x)
        self.dirty.add(y)
        return x + len(cells)

    def encode(self, limit: int | None = None) -> str:
        """The bytes (as text) that bring the terminal up to date; rows not sent for long go first.

        With ``limit`` it stops after the row that exceeds about that many bytes; the rest
        stays ``dirty``. ``cells`` then says how many cells changed.
        """
        out: list[str] = []
        self.cells = size = 0
        for y in sorted(self.dirty, key=lambda row: (self._age[row], row)):
            if limit is not None and size > limit:
                break
            start = len(out)
            self._encode_row(y, out)
            self.dirty.discard(y)
            if len(out) > start:
                self._turn += 1
                self._age[y] = self._turn
                size += sum(len(part.encode()) for part in out[start:])
        return "".join(out)

    def _encode_row(self, y: int, out: list[str]) -> None:
        text, ink, old_text, old_ink = self._text[y], self._ink[y], self._sent_text[y], self._sent_ink[y]
        if old_text is None or old_ink is None:
            columns = list(range(self.width))
        elif text == old_text and ink == old_ink:
            return
        else:
            both = zip(text, old_text, ink, old_ink, strict=True)
            columns = [x for x, (a, b, c, d) in enumerate(both) if a != b or c != d]
        self.cells += len(columns)
        after: int | None = None  # the column the terminal's cursor is at
        for column in columns:
            x = column
            if text[x] == "":  # right half of a wide character
                if after is not None and x < after:
                    continue
                x -= 1
            if after is None:
                out.append(f"\x1b[{y + 1};{x + 1}H" if x else f"\x1b[{y + 1}H")
            elif x > after:
                out.append(self._bridge(y, after, x))
            if ink[x] != self._pen:
                out.append(change_pen(None if self._pen is None else self._pens[self._pen], self._pens[ink[x]]))
                self._pen = ink[x]
            out.append(text[x])
            after = x + (2 if x + 1 < self.width and text[x + 1] == "" else 1)
        self._sent_text[y], self._sent_ink[y] = list(text), list(ink)

    def _bridge(self, y: int, start: int, end: int) -> str:
        """The way from column ``start`` to ``end`` over cells that have not changed."""
        gap = end - start
        if gap <= _SHORT_GAP and all(pen == self._pen for pen in self._ink[y][start:end]):
            between = self._text[y][start:end]
            again = "".join(between)
            if "" not in between and len(again.encode()) <= _SHORT_GAP:
                return again
        return f"\x1b[{gap}C" if gap > 1 else "\x1b[C"


def _wide_cells(text: str) -> list[str]:
    cells: list[str] = []
    for character in text:
        width = get_character_cell_size(character)
        if width == 0:
            if cells:
                cells[-1 if cells[-1] else -2] += character
        else:
            cells.append(character)
            if width == 2:
                cells.append("")
    return cells
