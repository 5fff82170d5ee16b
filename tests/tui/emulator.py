"""A small terminal: enough of one to see what a stream of bytes leaves on the screen.

It understands what the screen sends: text, cursor position (CUP, CUF), SGR, private modes,
cursor reports. Anything else it refuses loudly, so that a test notices.
"""

from __future__ import annotations

import re

from rich.cells import get_character_cell_size

from tui.sgr import PLAIN, Pen, parse_pen

_NEXT = re.compile(
    r"\x1b\[(?P<private>[?<>=]?)(?P<numbers>[0-9;:]*)(?P<middle>[$ ]?)(?P<final>[@-~])"
    r"|(?P<bell>\a)|(?P<text>[^\x1b\a]+)|(?P<osc>\x1b\][^\a\x1b]*(?:\a|\x1b\\))|(?P<strange>\x1b.)",
    re.DOTALL,
)


class Emulator:
    """Cells of (character, pen); ``marks`` are the cursor columns it was asked to report."""

    def __init__(self, width: int, height: int) -> None:
        self.marks: list[int] = []
        self.bells = 0
        self.modes: set[str] = set()
        self._rest = ""
        self.resize(width, height)

    def resize(self, width: int, height: int) -> None:
        self.width, self.height = width, height
        self.cells = [[(" ", PLAIN)] * width for _ in range(height)]
        self.x = self.y = 0
        self.pen: Pen = PLAIN

    def feed(self, data: str) -> None:
        """Take some output; a sequence cut at its end is kept for the next call."""
        data = self._rest + data
        cut = data.rfind("\x1b")
        self._rest = ""
        if cut >= 0 and not re.match(r"\x1b(\[[?<>=]?[0-9;:]*[$ ]?[@-~]|\][^\a\x1b]*(\a|\x1b\\)|[^\[\]])", data[cut:]):
            data, self._rest = data[:cut], data[cut:]
        for match in _NEXT.finditer(data):
            if match["text"]:
                self._write(match["text"])
            elif match["bell"]:
                self.bells += 1
            elif match["final"]:
                self._control(match["private"], match["numbers"], match["final"])
            elif match["strange"]:
                raise AssertionError(f"unknown sequence {match['strange']!r}")

    def _control(self, private: str, numbers: str, final: str) -> None:
        if private:
            if final in "hl":
                for mode in numbers.split(";"):
                    (self.modes.add if final == "h" else self.modes.discard)(mode)
                if "1049" in numbers:
                    self.resize(self.width, self.height)
            return
        if final == "m":
            now = ";".join(
                part for part in (self.pen.attributes, _colour(self.pen.front), _colour(self.pen.back)) if part
            )
            self.pen = parse_pen(";".join(part for part in (now, numbers or "0") if part))
        elif final == "H":
            row, _, column = numbers.partition(";")
            self.y = min(int(row or 1), self.height) - 1
            self.x = min(int(column or 1), self.width) - 1
        elif final == "C":
            self.x = min(self.x + int(numbers or 1), self.width - 1)
        elif final == "n" and numbers == "6":
            self.marks.append(self.x + 1)
        elif final not in "pu":
            raise AssertionError(f"unknown control {numbers!r} {final!r}")

    def _write(self, text: str) -> None:
        for character in text:
            if character == "\r":
                self.x = 0
                continue
            if character == "\n":
                self.y = min(self.y + 1, self.height - 1)
                continue
            width = get_character_cell_size(character)
            if width == 0 or self.x + width > self.width:
                continue
            self.cells[self.y][self.x] = (character, self.pen)
            if width == 2:
                self.cells[self.y][self.x + 1] = ("", self.pen)
            self.x += width

    def lines(self) -> list[str]:
        """What is on the screen, as text."""
        return ["".join(character for character, _ in row) for row in self.cells]

    def pens(self) -> set[Pen]:
        """Every pen in use on the screen."""
        return {pen for row in self.cells for _, pen in row}


def _colour(parameters: str) -> str:
    return "" if parameters in {"39", "49"} else parameters
