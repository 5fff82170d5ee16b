"""Large figures drawn with blocks, readable at arm's length."""

from __future__ import annotations

import numpy as np

from tui.sheet import Sheet

# Our own drawings, 3 wide and 5 high; '#' is a filled square.
_SHAPES: dict[str, tuple[str, ...]] = {
    "0": ("###", "#.#", "#.#", "#.#", "###"),
    "1": (".#.", "##.", ".#.", ".#.", "###"),
    "2": ("###", "..#", "###", "#..", "###"),
    "3": ("###", "..#", ".##", "..#", "###"),
    "4": ("#.#", "#.#", "###", "..#", "..#"),
    "5": ("###", "#..", "###", "..#", "###"),
    "6": ("###", "#..", "###", "#.#", "###"),
    "7": ("###", "..#", "..#", ".#.", ".#."),
    "8": ("###", "#.#", "###", "#.#", "###"),
    "9": ("###", "#.#", "###", "..#", "###"),
    "-": ("...", "...", "###", "...", "..."),
    "<": ("..#", ".#.", "#..", ".#.", "..#"),
    ".": (".", ".", ".", ".", "#"),
    " ": (".", ".", ".", ".", "."),
}
_HEIGHT = 5


def figure_size(text: str, scale: int) -> tuple[int, int]:
    """Cells (columns, rows) that ``text`` takes; scale 1 is three rows, scale 2 is five, 0 is plain text.

    >>> figure_size("41.2", 2)
    (26, 5)
    """
    if scale == 0:
        return len(text), 1
    columns = sum(len(_SHAPES[character][0]) + 1 for character in text) - 1
    return columns * scale, (3 if scale == 1 else _HEIGHT)


def put_figure(sheet: Sheet, x: int, y: int, text: str, scale: int, ink: int) -> int:
    """Draw ``text`` (digits, point, minus, less-than) at ``x, y``; returns the column after it.

    Scale 1 uses half blocks; on an ASCII sheet there are none, so it falls back to spaced
    plain text in the middle row.
    """
    if scale == 0:
        return sheet.put(x, y, text, ink)
    if scale == 1 and sheet.ascii:
        return sheet.put(x, y + 1, " ".join(text), ink)
    rows = ["".join(_SHAPES[character][line] + "." for character in text)[:-1] for line in range(_HEIGHT)]
    dots = np.array([[square == "#" for square in row] for row in rows])
    if scale == 2:
        mark = "#" if sheet.ascii else "█"
        cells = np.where(np.repeat(dots, 2, axis=1), np.uint32(ord(mark)), np.uint32(0x20))
    else:
        even = np.vstack([dots, np.zeros((1, dots.shape[1]), bool)])
        halves = np.array([0x20, 0x2580, 0x2584, 0x2588], np.uint32)
        cells = halves[even[0::2] + 2 * even[1::2]]
    sheet.block(x, y, cells, ink)
    return x + int(cells.shape[1])
