"""Alarms: what is wrong now, what was, and what watches quietly."""

from __future__ import annotations

import textwrap

from analysis.model.alarm import AlarmStatus
from tui.bridge import Showing
from tui.palette import Ink
from tui.sheet import Sheet
from tui.widgets.panel import Panel
from tui.widgets.pieces import Piece, put_pieces
from tui.wording import alarm_state, clock


def in_order(alarms: tuple[AlarmStatus, ...]) -> list[AlarmStatus]:
    """First what nobody has acknowledged, then by priority (1 first), then the newest."""
    return sorted(alarms, key=lambda a: (alarm_state(a).rank, a.priority, -a.since.monotonic, a.alarm))


def summary(alarms: tuple[AlarmStatus, ...]) -> tuple[str, Ink]:
    """One line on all alarms."""
    ranks = [alarm_state(alarm).rank for alarm in alarms]
    new, seen, hushed = ranks.count(0), ranks.count(1), ranks.count(3)
    owed = sum(alarm.state == "latched-acknowledged" and not alarm.quiet for alarm in alarms)
    was = ranks.count(2) - owed
    if new:
        return f"{new} NEW: a acknowledges", Ink.SEEN
    if seen:
        return f"{seen} seen, still there", Ink.SEEN
    if was:
        return f"{was} over: a acknowledges", Ink.BACK
    if owed:
        return f"{owed} to reset", Ink.SEEN
    if hushed:
        return f"{hushed} without sound, {len(alarms) - hushed} watching", Ink.CARE
    if any(alarm.frozen for alarm in alarms):
        return "held: no picture to judge", Ink.CARE
    return (f"{len(alarms)} watching, nothing wrong" if alarms else "none set"), Ink.SOFT


class AlarmsPanel(Panel):
    """A heading with the sum of it, then one line for each alarm; advice beneath it where there is room."""

    def draw(self, sheet: Sheet, showing: Showing) -> None:
        """The most pressing first; what does not fit is counted."""
        everyone = in_order(showing.snapshot.alarms)
        alarms = [alarm for alarm in everyone if alarm_state(alarm).rank < 4]
        resting = [alarm for alarm in everyone if alarm_state(alarm).rank == 4]
        text, ink = summary(showing.snapshot.alarms)
        hidden = max(len(alarms) - (sheet.height - 1), 0)
        title = "ALARMS" if not hidden else f"ALARMS +{hidden} more"
        sheet.rule(0, title, text, Ink.STRONG, ink)
        spare = sheet.height - 1 - len(alarms)
        y = 1
        for alarm in alarms:
            if y >= sheet.height:
                break
            self._put_alarm(sheet, y, alarm, showing)
            y += 1
            if spare > 0 and alarm_state(alarm).rank < 3 and alarm.advice:
                sheet.put(13, y, f"→ {alarm.advice}", Ink.TEXT)
                spare -= 1
                y += 1
        if resting and y < sheet.height:
            self._put_resting(sheet, y, resting)

    def _put_resting(self, sheet: Sheet, y: int, alarms: list[AlarmStatus]) -> None:
        """Those with nothing to say, by name only; where no picture can be judged it is said once."""
        sheet.put(1, y, "· quiet", Ink.SOFT)
        frozen = [alarm.alarm for alarm in alarms if alarm.frozen]
        lines = textwrap.wrap("  ".join(alarm.alarm for alarm in alarms if not alarm.frozen), max(sheet.width - 14, 8))
        if frozen:
            lines += textwrap.wrap(f"held: no picture: {'  '.join(frozen)}", max(sheet.width - 14, 8))
        for line in lines[: sheet.height - y]:
            sheet.put(13, y, line, Ink.SOFT)
            y += 1

    def _put_alarm(self, sheet: Sheet, y: int, alarm: AlarmStatus, showing: Showing) -> None:
        state = alarm_state(alarm)
        if state.rank == 0:
            sheet.fill(0, y, sheet.width, 1, " ", Ink.NEW)
        ink = state.ink
        plain = Ink.NEW if state.rank == 0 else Ink.TEXT
        since = clock(max(showing.snapshot.at.since(alarm.since), 0.0) + showing.unheard)
        held = "held: no picture" if alarm.frozen else ""
        sheet.put(1, y, f"{state.glyph} {state.word}", ink)
        if state.rank == 3:
            sheet.put(sheet.put(13, y, alarm.words, ink) + 2, y, alarm.quiet_words, ink)
            return
        sheet.put_right(12, y, since if len(since) < 6 else since[:-3], plain)
        pieces = [
            Piece(alarm.words, ink, 3),
            Piece(held, Ink.CARE if state.rank else ink, 2),
            Piece(alarm.reason, plain, 1, cut=True),
        ]
        put_pieces(sheet, 13, y, sheet.width - 14, pieces)
