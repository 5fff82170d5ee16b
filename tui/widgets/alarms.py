"""Alarms: what is wrong now, what was, and what watches quietly."""

from __future__ import annotations

import textwrap

from analysis.model.alarm import AlarmStatus
from tui.bridge import Showing
from tui.look import Look
from tui.palette import Ink
from tui.sheet import Sheet
from tui.steady import SteadyRows, blinks_bright
from tui.widgets.panel import Panel
from tui.widgets.pieces import Piece, put_pieces
from tui.wording import alarm_state, clock, standing

_SHORT_WORD = 4
"""Beside a longer word for the state there is no room for its age in front of the alarm's words."""


def in_order(alarms: tuple[AlarmStatus, ...]) -> list[AlarmStatus]:
    """First what nobody has acknowledged, then by priority (1 first), then the newest."""
    return sorted(alarms, key=lambda a: (alarm_state(a).rank, a.priority, -a.since.monotonic, a.alarm))


def summary(alarms: tuple[AlarmStatus, ...]) -> tuple[str, Ink]:
    """One line on all alarms: how many there are of each kind that somebody ought to know of, the worst first."""
    if not alarms:
        return "none set", Ink.SOFT
    ranks = [alarm_state(alarm).rank for alarm in alarms]
    owed = sum(alarm.state == "latched-acknowledged" and not alarm.quiet for alarm in alarms)
    new, seen, was, hushed = ranks.count(0), ranks.count(1), ranks.count(2) - owed, ranks.count(3)
    counts = ((new, "NEW"), (seen, "seen, still there"), (was, "over"), (owed, "to reset"), (hushed, "without sound"))
    told = [f"{count} {word}" for count, word in counts if count]
    if len(told) > 1:
        told = [text.replace(", still there", "") for text in told]
    words = ", ".join(told)
    if new or was:
        return f"{words}: a acknowledges", Ink.SEEN if new else Ink.BACK
    if seen or owed:
        return words, Ink.SEEN
    if hushed:
        return f"{words}, {len(alarms) - hushed} watching", Ink.CARE
    if any(alarm.frozen for alarm in alarms):
        return "held: no picture to judge", Ink.CARE
    return f"{len(alarms)} watching, nothing wrong", Ink.SOFT


def put_heading(sheet: Sheet, hidden: int, alarms: tuple[AlarmStatus, ...]) -> None:
    """The heading of a list: how many of it are not in sight, and as much of the sum as there is room for."""
    title = "ALARMS" if not hidden else f"ALARMS +{hidden} more"
    text, ink = summary(alarms)
    hint = text.partition(":")[2]
    while len(title) + 2 + len(text) > sheet.width and (hint or "," in text):
        # The key is told in the footer as well; of the counts the least pressing go first.
        text, hint = (text.partition(":")[0], "") if hint else (text.rpartition(",")[0], "")
    sheet.rule(0, title, text, Ink.STRONG, ink)


def moment(showing: Showing) -> float:
    """Seconds on the watch's own clock, which go on while it does not answer."""
    return showing.snapshot.at.monotonic + showing.unheard


def wants_bright(alarm: AlarmStatus, now: float) -> bool:
    """Whether its line is to be inverse: all the time while nobody has seen it, every other second for priority one."""
    if alarm_state(alarm).rank != 0:
        return False
    return alarm.priority > 1 or blinks_bright(now, alarm.since.monotonic)


class AlarmsPanel(Panel):
    """A heading with the sum of it, then one line for each alarm; advice beneath it where there is room."""

    def __init__(self, look: Look, name: str) -> None:
        super().__init__(look, name)
        self._steady = SteadyRows()

    def draw(self, sheet: Sheet, showing: Showing) -> None:
        """The most pressing first; what does not fit is counted."""
        everyone = in_order(showing.snapshot.alarms)
        alarms = [alarm for alarm in everyone if alarm_state(alarm).rank < 4]
        resting = [alarm for alarm in everyone if alarm_state(alarm).rank == 4]
        hidden = max(len(alarms) - (sheet.height - 1), 0)
        put_heading(sheet, hidden, showing.snapshot.alarms)
        spare = sheet.height - 1 - len(alarms)
        rows: dict[int, AlarmStatus] = {}
        y = 1
        for alarm in alarms:
            if y >= sheet.height:
                break
            rows[y] = alarm
            y += 1
            if spare > 0 and alarm_state(alarm).rank < 3 and alarm.advice:
                sheet.put(13, y, f"→ {alarm.advice}", Ink.TEXT)
                spare -= 1
                y += 1
        now = moment(showing)
        wanted = frozenset(row for row, alarm in rows.items() if wants_bright(alarm, now))
        bright = self._steady.show(wanted, sheet.height, now)
        for row in bright:
            sheet.fill(0, row, sheet.width, 1, " ", Ink.NEW)
        for row, alarm in rows.items():
            self._put_alarm(sheet, row, alarm, showing, row in bright)
        if resting and y < sheet.height:
            self._put_resting(sheet, y, resting)

    def _put_resting(self, sheet: Sheet, y: int, alarms: list[AlarmStatus]) -> None:
        """Those with nothing to say, by name only; where no picture can be judged it is said once."""
        sheet.put(1, y, "· quiet", Ink.SOFT)
        frozen = [alarm.alarm for alarm in alarms if alarm.frozen]
        width = max(sheet.width - 14, 8)
        watching = "  ".join(alarm.alarm for alarm in alarms if not alarm.frozen)
        lines = textwrap.wrap(watching, width, break_on_hyphens=False)
        if frozen:
            lines += textwrap.wrap(f"held: no picture: {'  '.join(frozen)}", width, break_on_hyphens=False)
        for line in lines[: sheet.height - y]:
            sheet.put(13, y, line, Ink.SOFT)
            y += 1

    def _put_alarm(self, sheet: Sheet, y: int, alarm: AlarmStatus, showing: Showing, bright: bool) -> None:
        state = alarm_state(alarm)
        ink, plain = (Ink.NEW, Ink.NEW) if bright else (Ink.SEEN if state.rank == 0 else state.ink, Ink.TEXT)
        sheet.put(1, y, f"{state.glyph} {state.word}", ink)
        if state.rank == 3:
            pieces = [
                Piece(alarm.alarm, ink, 9),
                Piece(alarm.quiet_words, plain, 8, cut=True),
                Piece(standing(alarm), Ink.CARE, 7),
                Piece(alarm.words, Ink.SOFT, 1),
            ]
            put_pieces(sheet, 13, y, sheet.width - 14, pieces)
            return
        since = clock(max(showing.snapshot.at.since(alarm.since), 0.0) + showing.unheard)
        beside = len(state.word) <= _SHORT_WORD
        if beside:
            sheet.put_right(12, y, since if len(since) < 6 else since[:-3], plain)
        held = "held: no picture" if alarm.frozen else "away now" if alarm.lull else ""
        pieces = [
            Piece(alarm.words, ink, 3),
            Piece("" if beside else since, plain, 2),
            Piece(held, Ink.CARE if not bright else ink, 2),
            Piece(alarm.reason, plain, 1, cut=True),
        ]
        put_pieces(sheet, 13, y, sheet.width - 14, pieces)
