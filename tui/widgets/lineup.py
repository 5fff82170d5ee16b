"""What a line-up picture says of the chain: the verdict, what to set, and every bar in codes."""

from __future__ import annotations

import textwrap

from analysis.measure.lineup.result import TOLERANCE, TOLERANCE_RGB, BarDifference, Lineup
from analysis.model.frame import Encoding
from tui.bridge import Showing
from tui.palette import Ink
from tui.sheet import Sheet
from tui.widgets.banner import put_banner
from tui.widgets.panel import Panel
from tui.wording import encoding

_SEND = "send colour bars or a grey ramp that fill the picture; 75 % bars say most"
_NAME = 19
_CELL = 8


class LineupPanel(Panel):
    """The newest line-up result."""

    def draw(self, sheet: Sheet, showing: Showing) -> None:
        """Verdict, faults, then as many bars as fit."""
        found = showing.snapshot.lineup
        sheet.rule(0, "LINE-UP", "codes of the feed", Ink.STRONG)
        if showing.reading is None:
            put_banner(sheet, 0, 1, sheet.width, sheet.height - 1, showing.banner)
            return
        if not isinstance(found, Lineup):
            put_banner(sheet, 0, 1, sheet.width, sheet.height - 1, ("LOOKING", _SEND))
            return
        if found.pattern is None:
            put_banner(sheet, 0, 1, sheet.width, sheet.height - 1, ("NO LINE-UP PICTURE", _SEND))
            return
        code = showing.reading.encoding
        sheet.put(1, 1, found.pattern, Ink.STRONG)
        sheet.put(1, 2, f"compared as {', '.join(encoding(code))}", Ink.SOFT)
        y = self._put_verdict(sheet, 4, found)
        self._put_bars(sheet, y + 1, found, code)

    def _put_verdict(self, sheet: Sheet, y: int, found: Lineup) -> int:
        if found.true:
            sheet.put(1, y, " [x] THE CHAIN IS TRUE ", Ink.GONE)
            return y + 1
        sheet.put(1, y, " [ ] THE CHAIN IS NOT TRUE ", Ink.NEW)
        y += 1
        for fault in found.faults:
            for text, ink in ((f"{fault.what}: {fault.detail}", Ink.TEXT), (f"→ set {fault.set}", Ink.STRONG)):
                for row in textwrap.wrap(text, max(sheet.width - 4, 10)):
                    sheet.put(3, y, row, ink)
                    y += 1
        return y

    def _put_bars(self, sheet: Sheet, y: int, found: Lineup, code: Encoding) -> None:
        if not found.bars or y + 2 > sheet.height:
            return
        parts = len(found.bars[0].found)
        names = ("R'", "G'", "B'") if code.matrix == "rgb" and parts == 3 else ("Y'", "Cb", "Cr")[:parts]
        groups = groups_for(sheet.width, parts)
        x = _NAME + 2
        for group in groups:
            sheet.put(x + 1, y, group, Ink.SOFT)
            for number, name in enumerate(names):
                sheet.put_right(x + (number + 1) * _CELL, y + 1, name, Ink.SOFT)
            x += parts * _CELL + 2
        room = sheet.height - y - 2
        bars = found.bars if len(found.bars) <= room else found.bars[: room - 1]
        for number, bar in enumerate(bars):
            self._put_bar(sheet, y + 2 + number, bar, groups, found, code)
        if len(bars) < len(found.bars):
            sheet.put(1, y + 2 + len(bars), f"+{len(found.bars) - len(bars)} more", Ink.SOFT)

    def _put_bar(
        self, sheet: Sheet, y: int, bar: BarDifference, groups: tuple[str, ...], found: Lineup, code: Encoding
    ) -> None:
        sheet.put(1, y, bar.name[:_NAME], Ink.TEXT)
        limit = (TOLERANCE_RGB if code.matrix == "rgb" else TOLERANCE) * 2 ** (code.bits - 8)
        x = _NAME + 2
        for group in groups:
            values = {"expected": bar.expected, "found": bar.found, "difference": bar.difference}[group]
            for number, value in enumerate(values):
                off = group == "difference" and not found.true and abs(value) > limit
                text = signed(value) if group == "difference" else f"{value:.0f}"
                ink = Ink.SEEN if off else Ink.STRONG if group == "difference" else Ink.SOFT
                sheet.put_right(x + (number + 1) * _CELL, y, f"! {text}" if off else text, ink)
            x += len(values) * _CELL + 2


def groups_for(width: int, parts: int) -> tuple[str, ...]:
    """The groups of columns that fit; the difference always does.

    >>> groups_for(80, 3), groups_for(120, 3)
    (('found', 'difference'), ('expected', 'found', 'difference'))
    """
    room = (width - _NAME - 2) // (parts * _CELL + 2)
    return ("expected", "found", "difference")[-max(room, 1) :]


def signed(code: float) -> str:
    """A difference in codes with its sign.

    >>> signed(3.0), signed(-0.5), signed(0.0)
    ('+3', '-0.5', '0')
    """
    return "0" if not code else f"{code:+.0f}" if code == round(code) else f"{code:+.1f}"
