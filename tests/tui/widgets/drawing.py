"""Drawing one panel without an application."""

from __future__ import annotations

import numpy as np

from analysis.model.snapshot import Snapshot
from tui.bridge import Paused, Showing, judge
from tui.look import Look
from tui.palette import Ink
from tui.sheet import Sheet
from tui.widgets.panel import Panel

BRAILLE = Look(glyphs="braille", colours="full")
PLAIN = Look(glyphs="ascii", colours="mono")


def draw(
    kind: type[Panel],
    size: tuple[int, int],
    moment: Snapshot | Showing,
    look: Look = BRAILLE,
    paused: Paused | None = None,
) -> Sheet:
    """What a new panel of this kind draws."""
    showing = moment if isinstance(moment, Showing) else judge(moment, 0.0, paused)
    sheet = Sheet(*size, look.glyphs == "ascii")
    kind(look, "panel").draw(sheet, showing)
    return sheet


def text(sheet: Sheet) -> str:
    return "\n".join(sheet.lines())


def inks(sheet: Sheet) -> set[Ink]:
    """Inks in use."""
    return {Ink(int(ink)) for ink in np.unique(sheet.inks) if ink < 100}


def ink_of(sheet: Sheet, words: str) -> Ink:
    """The ink a piece of text stands in."""
    for y, line in enumerate(sheet.lines()):
        x = line.find(words)
        if x >= 0:
            found = set(sheet.inks[y, x : x + len(words)].tolist())
            assert len(found) == 1, f"{words!r} stands in several inks"
            return Ink(found.pop())
    raise AssertionError(f"{words!r} is not on the sheet:\n{text(sheet)}")
