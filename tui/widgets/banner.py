"""A notice in words in the middle of a panel that has nothing true to show."""

from __future__ import annotations

import textwrap

from tui.palette import Ink
from tui.sheet import Sheet


def put_banner(sheet: Sheet, x: int, y: int, width: int, height: int, lines: tuple[str, ...]) -> None:
    """Put ``lines`` in the middle of a box: the first inverse, the others wrapped beneath it."""
    if not lines or width < 4 or height < 1:
        return
    head = f"  {lines[0]}  " if len(lines[0]) + 4 <= width else lines[0][:width]
    rest = [row for text in lines[1:] for row in textwrap.wrap(text, width)]
    roomy = height >= len(rest) + 3
    rest = rest[: max(height - (4 if roomy else 1), 0)]
    start = y + max((height - len(rest) - (2 if roomy else 1)) // 2, 0)
    sheet.put(x + (width - len(head)) // 2, start, head, Ink.GONE)
    for number, row in enumerate(rest):
        sheet.put(x + (width - len(row)) // 2, start + (2 if roomy else 1) + number, row, Ink.TEXT)
