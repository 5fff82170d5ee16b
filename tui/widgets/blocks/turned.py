"""The newest changes of exposure that were recognised in the picture."""

from __future__ import annotations

from analysis.model.turn import Turn
from tui.palette import Ink
from tui.sheet import Sheet
from tui.turn_words import short_effect, short_turn, turn_words
from tui.widgets.blocks.block import Step, Told
from tui.wording import clock

SHOWN_SECONDS = 300.0
"""A turn that is older than this stands in the journal only."""
MOST = 3


class Turned:
    """A heading and a line for each, the newest first; nothing where nothing has turned lately."""

    def steps(self, told: Told) -> tuple[Step, ...]:
        """No rows, or a heading and lines."""
        count = min(len(_lines(told)), MOST)
        return (Step(0), *(Step(1 + lines, 71 - 8 * lines) for lines in range(1, count + 1)))

    def draw(self, sheet: Sheet, y: int, rows: int, told: Told) -> None:
        """How long ago, and what changed by how much."""
        if rows < 2:
            return
        sheet.rule(y, "TURNS", "", Ink.STRONG)
        for number, (when, full, short) in enumerate(_lines(told)[: rows - 1]):
            x = sheet.put(1, y + 1 + number, when, Ink.SOFT)
            room = max(sheet.width - x, 0)
            words = full if len(full) <= room else short
            text = words if len(words) <= room else words[: max(room - 1, 0)] + ("~" if sheet.ascii else "…")
            sheet.put(x, y + 1 + number, text, told.ink(Ink.TEXT))


def _lines(told: Told) -> list[tuple[str, str, str]]:
    """When, what, and what in fewer words; below a turn what the key adds that was switched."""
    lines: list[tuple[str, str, str]] = []
    for ago, turn in recent(told):
        when = f"{clock(ago)} "
        lines.append((when, turn_words(turn), short_turn(turn)))
        if turn.effect is not None:
            added = short_effect(turn.effect)
            lines.append((" " * len(when), added, added))
    return lines


def recent(told: Told) -> list[tuple[float, Turn]]:
    """Seconds ago and turn, the newest first."""
    at = told.showing.snapshot.at
    ages = ((max(at.since(turn.stands_at), 0.0) + told.showing.unheard, turn) for turn in told.showing.snapshot.turns)
    return [(ago, turn) for ago, turn in reversed(list(ages)) if ago < SHOWN_SECONDS]
