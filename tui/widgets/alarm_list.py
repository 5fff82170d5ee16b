"""All alarms one below the other, one of them picked, and everything known of that one."""

from __future__ import annotations

import textwrap
from typing import NamedTuple

import msgspec
from textual.events import Click

from analysis.model.alarm import AlarmStatus
from analysis.model.snapshot import OutletStatus
from tui.bridge import Showing
from tui.look import Look
from tui.palette import Ink
from tui.sheet import Sheet
from tui.steady import SteadyRows
from tui.widgets.alarms import in_order, moment, put_heading, wants_bright
from tui.widgets.panel import Panel
from tui.widgets.pieces import Piece, put_pieces
from tui.wording import alarm_state, clock, standing

_STATE, _PRIORITY, _AGE, _NAME, _WORDS = 2, 13, 20, 22, 37
"""Columns: the state, the priority, where the age ends, the name, what is wrong."""
_LABEL = 8
_LULL = "it comes and goes and is away now; it stays on until it has been calm for long"
_RAISES_LAMPS, _OPENS = ("bring up", "key up", "bring light", "bring it back", "more light"), ("ND off", "open up")
"""Words by which advice raises lamps, or opens the camera."""
_LEAST_ROWS = 3
"""However low the screen is, so many alarms stay in sight."""
_ROOMY = 30
"""From this many rows on, an empty one keeps the list apart from what is beneath it."""


class Fact(NamedTuple):
    """One labelled line about the picked alarm."""

    label: str
    text: str
    ink: Ink = Ink.TEXT


def facts(alarm: AlarmStatus, seconds: float) -> list[Fact]:
    """What is known of one alarm, line by line; ``seconds`` is how long its state has lasted."""
    state = alarm_state(alarm)
    stands = standing(alarm)
    word = f"{state.word}, {stands}" if alarm.quiet and stands else state.word
    times = "has not risen yet" if not alarm.occurrence else f"rise no. {alarm.occurrence}"
    head = f"{word} for {clock(seconds)}, priority {alarm.priority}, {times}"
    told = [Fact("alarm", f"{alarm.alarm} ({alarm.words}): {head}", Ink.STRONG)]
    if alarm.lull:
        told.append(Fact("now", _LULL, Ink.CARE))
    if alarm.frozen:
        told.append(Fact("now", "held as it was: there is no picture to judge", Ink.CARE))
    elif alarm.measured or alarm.limits:
        told.append(Fact("now", "; ".join(filter(None, (alarm.measured or "not measured", alarm.limits)))))
    told.append(Fact("why", alarm.reason))
    told.append(Fact("to do", alarm.advice, Ink.FIGURE))
    if minding := mind(alarm.advice):
        told.append(Fact("mind", minding, Ink.CARE))
    if alarm.quiet_words:
        told.append(Fact("silent", alarm.quiet_words, Ink.CARE))
    return told


def mind(advice: str) -> str:
    """What to mind beside advice that raises lamps or opens the camera, empty where it does neither.

    >>> mind("bring up the fill, or lower the ISO and open up")
    "lamps: heat, mains, stands, cables, the fixture's manual; never at the sun unfiltered"
    >>> mind("add ND, or take light off the bright part")
    ''
    """
    lamps = "lamps: heat, mains, stands, cables, the fixture's manual" if _says(advice, _RAISES_LAMPS) else ""
    sun = "never at the sun unfiltered" if _says(advice, _OPENS) else ""
    return "; ".join(filter(None, (lamps, sun)))


def _says(advice: str, words: tuple[str, ...]) -> bool:
    return any(each in advice for each in words)


def heard_words(status: OutletStatus, notices: str = "") -> str:
    """Where alarms come out, why there, and what is sent to the terminal besides.

    >>> heard_words(OutletStatus(outlet="speakers", reason="speakers of this machine", muted_seconds=61.0))
    'muted for 1:01 more; then speakers: speakers of this machine'
    """
    where = {"speakers": "speakers", "bell": "bell", "off": "no sound"}[status.outlet]
    words = status.reason if status.reason.startswith(("terminal bell", "sound is")) else f"{where}: {status.reason}"
    muted = f"muted for {clock(status.muted_seconds)} more; then " if status.muted_seconds > 0 else ""
    return "; ".join(filter(None, (muted + words, notices)))


def _without_hold(alarm: AlarmStatus, showing: Showing) -> AlarmStatus:
    """What is judged against a hold has no value while none is chosen."""
    matching = showing.snapshot.matching
    chosen = matching is not None and matching.hold is not None
    return alarm if chosen or alarm.kind != "hold" else msgspec.structs.replace(alarm, measured="")


class AlarmList(Panel):
    """A line an alarm, the most pressing first; beneath them the picked one in full, and what was refused."""

    def __init__(self, look: Look, name: str, notices: str = "") -> None:
        super().__init__(look, name)
        self.picked: str | None = None
        self.notices = notices
        self._first = 0
        self._steady = SteadyRows()
        self._rows: dict[int, str] = {}

    def pick(self, step: int) -> None:
        """Pick the one so many places further down, or up; it stays picked wherever the order moves it."""
        if self._showing is None or not self._showing.snapshot.alarms:
            return
        names = [alarm.alarm for alarm in in_order(self._showing.snapshot.alarms)]
        at = names.index(self.picked) if self.picked in names else 0
        self.picked = names[min(max(at + step, 0), len(names) - 1)]
        self.show(self._showing)

    def on_click(self, event: Click) -> None:
        """The mouse picks as well."""
        if event.y in self._rows and self._showing is not None:
            self.picked = self._rows[event.y]
            self.show(self._showing)

    def draw(self, sheet: Sheet, showing: Showing) -> None:
        """The list, then the picked one."""
        alarms = [_without_hold(alarm, showing) for alarm in in_order(showing.snapshot.alarms)]
        names = [alarm.alarm for alarm in alarms]
        if self.picked not in names:
            self.picked = names[0] if names else None
        below = self._below(sheet.width, alarms, showing)
        below = below[: max(sheet.height - 1 - _LEAST_ROWS, 0)]
        apart = sheet.height >= _ROOMY
        room = max(sheet.height - 1 - len(below) - apart, 1)
        at = names.index(self.picked) if self.picked is not None else 0
        self._first = min(max(self._first, at - room + 1, 0), at, max(len(alarms) - room, 0))
        shown = alarms[self._first : self._first + room]
        put_heading(sheet, len(alarms) - len(shown), showing.snapshot.alarms)
        if not alarms:
            sheet.put(_STATE, 1, "no alarms are set", Ink.SOFT)
        self._rows = {1 + place: alarm.alarm for place, alarm in enumerate(shown)}
        now = moment(showing)
        wanted = frozenset(1 + place for place, alarm in enumerate(shown) if wants_bright(alarm, now))
        bright = self._steady.show(wanted, sheet.height, now)
        for place, alarm in enumerate(shown):
            self._put(sheet, 1 + place, alarm, showing, 1 + place in bright)
        for place, fact in enumerate(below):
            y = min(sheet.height - len(below), 1 + max(len(shown), 1) + apart) + place
            sheet.fill(0, y, sheet.width, 1, " ", Ink.TEXT)
            sheet.put(1, y, fact.label, Ink.SOFT)
            sheet.put(1 + _LABEL, y, fact.text, fact.ink)

    def _put(self, sheet: Sheet, y: int, alarm: AlarmStatus, showing: Showing, bright: bool) -> None:
        state = alarm_state(alarm)
        if bright:
            sheet.fill(0, y, sheet.width, 1, " ", Ink.NEW)
        ink = Ink.NEW if bright else Ink.SEEN if state.rank == 0 else state.ink
        plain = Ink.NEW if bright else Ink.SOFT if state.rank == 4 else Ink.TEXT
        if alarm.alarm == self.picked:
            sheet.put(0, y, "▶", Ink.NEW if bright else Ink.SITTER)
        sheet.put(_STATE, y, f"{state.glyph} {state.word}", ink)
        sheet.put(_PRIORITY, y, f"p{alarm.priority}", plain)
        since = clock(max(showing.snapshot.at.since(alarm.since), 0.0) + showing.unheard)
        sheet.put_right(_AGE + 1, y, since if len(since) < 6 else f"{since[:-3]}m", plain)
        sheet.put(_NAME, y, alarm.alarm[: _WORDS - _NAME - 1], ink)
        # The reason of a rise begins with the value it rose at; the one of now is worth more.
        why = "" if state.rank == 4 or alarm.quiet or alarm.reason.startswith(alarm.measured or " ") else alarm.reason
        pieces = [
            Piece(standing(alarm) if alarm.quiet else "", Ink.NEW if bright else Ink.CARE, 6),
            Piece("held: no picture" if alarm.frozen else "", Ink.NEW if bright else Ink.CARE, 5),
            Piece("away now" if alarm.lull else "", Ink.NEW if bright else Ink.SOFT, 5),
            Piece(alarm.quiet_words, plain, 4, cut=True),
            Piece(alarm.measured, plain, 3, cut=True),
            Piece(why, plain, 2, cut=True),
            Piece(f"→ {alarm.advice}" if state.rank < 2 else "", plain, 1),
        ]
        put_pieces(sheet, _WORDS, y, sheet.width - _WORDS - 1, pieces)

    def _below(self, width: int, alarms: list[AlarmStatus], showing: Showing) -> list[Fact]:
        """The lines beneath the list."""
        picked = next((alarm for alarm in alarms if alarm.alarm == self.picked), None)
        told = [] if picked is None else facts(picked, moment(showing) - picked.since.monotonic)
        told.append(Fact("sound", heard_words(showing.snapshot.outlet, self.notices), Ink.SOFT))
        lines = []
        for fact in told:
            rows = textwrap.wrap(fact.text, max(width - _LABEL - 2, 8))
            lines += [Fact(fact.label if not number else "", row, fact.ink) for number, row in enumerate(rows)]
        refusal = showing.snapshot.refusal
        lines.append(Fact("answer" if refusal else "", refusal or "", Ink.CARE))
        return lines
