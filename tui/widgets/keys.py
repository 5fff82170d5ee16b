"""The last line: keys that may be pressed (or clicked), and where alarms are heard."""

from __future__ import annotations

from rich.segment import Segment
from rich.style import Style
from textual.strip import Strip

from tui.bridge import Showing
from tui.keys import ACTIONS, HINTS
from tui.palette import Ink
from tui.sheet import Sheet
from tui.widgets.panel import Panel
from tui.wording import outlet

_SOUND = next(hint for hint in ACTIONS if hint.action == "sound_from")


class KeysPanel(Panel):
    """As many key hints as fit, in the order of their weight."""

    _spots: tuple[tuple[int, int, str], ...] = ()

    def draw(self, sheet: Sheet, showing: Showing) -> None:
        """Hints from the left, the sound outlet at the right, with the key that changes it."""
        status = showing.snapshot.outlet
        words = outlet(status, showing.notices)
        muted = status.muted_seconds > 0
        start = sheet.put_right(sheet.width - 1, 0, words, Ink.CARE if muted or status.outlet == "off" else Ink.SOFT)
        end = start + len(words)
        if not muted:
            start -= len(_SOUND.shown) + 1
            sheet.put(start, 0, _SOUND.shown, Ink.KEY)
        hints = list(HINTS)
        while hints and sum(len(hint.shown) + len(hint.word) + 3 for hint in hints) > start - 1:
            hints.remove(min(hints, key=lambda hint: hint.weight))
        x, spots = 1, []
        for hint in hints:
            begin = x
            x = sheet.put(x, 0, hint.shown, Ink.KEY)
            x = sheet.put(x + 1, 0, hint.word, Ink.SOFT)
            spots.append((begin, x, hint.action))
            x += 2
        if not muted:
            spots.append((start, end, _SOUND.action))
        self._spots = tuple(spots)

    def render_line(self, y: int) -> Strip:
        """The line, with each hint's action laid under it for the mouse."""
        strip = super().render_line(y)
        parts, cut = [], 0
        for begin, end, action in self._spots:
            click = Style(meta={"@click": f"app.{action}"})
            parts += [strip.crop(cut, begin), strip.crop(begin, end).apply_style(click)]
            cut = end
        parts.append(strip.crop(cut, strip.cell_length))
        return Strip([Segment(*segment) for part in parts for segment in part], strip.cell_length)
