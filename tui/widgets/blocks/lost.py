"""What is lost of the picture: clipped or crushed shares, in any part and in each."""

from __future__ import annotations

from typing import Literal

from analysis.model.reading import Shares
from tui.figures import figure_size, put_figure
from tui.measured_words import set_by
from tui.palette import Ink
from tui.sheet import Sheet
from tui.widgets.blocks.block import Step, Told
from tui.wording import NOTHING, level, share

NOTED = 0.1
"""A clipped or crushed share from this many percent on is drawn in its ink and marked on the timeline."""


class Lost:
    """Clipped or crushed: a heading with the level where it begins, the share in any part, then part by part."""

    def __init__(self, what: Literal["CLIPPED", "CRUSHED"]) -> None:
        self.what = what
        self._clipped = what == "CLIPPED"

    def steps(self, told: Told) -> tuple[Step, ...]:
        """Two rows with the sum in the heading, three, or five with a larger figure."""
        return Step(2), Step(3, 55 if self._clipped else 54), Step(5, 15)

    def draw(self, sheet: Sheet, y: int, rows: int, told: Told) -> None:
        """Figures in the ink of what is lost only where something is."""
        shares = self._shares(told)
        there = shares is not None and shares.any >= NOTED
        ink = told.ink((Ink.OVER if self._clipped else Ink.UNDER) if there else Ink.STRONG)
        text = share(shares.any if shares else None)
        if rows == 2:
            sheet.rule(y, self.what, "", Ink.STRONG)
            note = f" any {text} {self._since(shares, 10)}"
            sheet.put_right(sheet.width, y, note, ink)
            self._put_channels(sheet, y + 1, shares, told.ink(Ink.TEXT), with_luma=sheet.width >= 34)
            return
        sheet.rule(y, self.what, self._since(shares, sheet.width - 9), Ink.STRONG)
        if rows >= 5:
            end = _put_large(sheet, y + 1, text, ink)
            sheet.put(end + 2, y + 2, "any", Ink.SOFT)
        else:
            sheet.put(sheet.put(1, y + 1, "any ", Ink.SOFT), y + 1, text, ink)
            end = sheet.put(14, y + 1, "luma ", Ink.SOFT)
            sheet.put(end, y + 1, share(shares.luma if shares else None), told.ink(Ink.TEXT))
        self._put_channels(sheet, y + rows - 1, shares, told.ink(Ink.TEXT), with_luma=rows >= 5)

    def _shares(self, told: Told) -> Shares | None:
        if told.reading is None:
            return None
        return told.reading.clipped if self._clipped else told.reading.crushed

    def _since(self, shares: Shares | None, width: int) -> str:
        """From which level on it counts and who said so, in as many words as fit."""
        if shares is None:
            return "% of picture" if width >= 12 else "%"
        at = f"% {'at' if self._clipped else 'under'} {level(shares.level)}"
        full = f"{at}, {set_by(shares.by)}"
        short = f"{at} {set_by(shares.by).split()[-1]}" if shares.by in {"ceiling", "floor"} else at
        return next((words for words in (full, short, at) if len(words) + 1 <= width), "%")

    def _put_channels(self, sheet: Sheet, y: int, shares: Shares | None, ink: Ink, with_luma: bool) -> None:
        values = [
            ("R", Ink.RED, shares.r if shares else None),
            ("G", Ink.GREEN, shares.g if shares else None),
            ("B", Ink.BLUE, shares.b if shares else None),
        ]
        if with_luma:
            values.append(("Y", Ink.SOFT, shares.luma if shares else None))
        step = max((sheet.width - 1) // len(values), 8)
        for number, (letter, letter_ink, value) in enumerate(values):
            x = sheet.put(1 + number * step, y, letter, letter_ink)
            sheet.put(x + 1, y, share(value), ink)


def _put_large(sheet: Sheet, y: int, text: str, ink: Ink) -> int:
    if text == NOTHING:
        return sheet.put(1, y + figure_size("0", 1)[1] // 2, text, Ink.SOFT)
    return put_figure(sheet, 1, y, text, 1, ink)
