"""The view for very small terminals: a few lines, the most important first."""

from __future__ import annotations

from tui.bridge import Showing
from tui.look import Look
from tui.measured_words import distance_words, sitter_state, stops
from tui.palette import Ink
from tui.placing import main_sitter, sitter_distance
from tui.sheet import Sheet
from tui.widgets.alarms import in_order
from tui.widgets.panel import Panel
from tui.widgets.pieces import Piece, put_pieces
from tui.widgets.trace import TracePanel
from tui.wording import alarm_state, clock, feed_state, lasted, level, outlet, share

_TRACE_ROWS, _TRACE_COLUMNS = 5, 24


class MiniPanel(Panel):
    """Feed state, worst alarm, level, shares: one line each, cut where the terminal ends."""

    def __init__(self, look: Look, name: str) -> None:
        super().__init__(look, name)
        self._trace = TracePanel(look, "mini-trace")

    def draw(self, sheet: Sheet, showing: Showing) -> None:
        """With a single row there is one line that holds all of it in short; with rows to spare, a trace."""
        if sheet.height == 1:
            lines = [self._feed(showing)[:1] + self._alarm(showing)[:1] + self._level(showing)]
        else:
            lines = [self._feed(showing), self._alarm(showing), self._level(showing), self._shares(showing)]
            lines += [self._spread(showing), self._others(showing), self._sound(showing)]
        for y, pieces in enumerate([line for line in lines if line][: sheet.height]):
            put_pieces(sheet, 0, y, sheet.width, pieces, gap=1)
        used = min(len([line for line in lines if line]), sheet.height)
        if sheet.height - used >= _TRACE_ROWS and sheet.width >= _TRACE_COLUMNS:
            plot = Sheet(sheet.width, sheet.height - used, sheet.ascii)
            self._trace.draw(plot, showing)
            sheet.block(0, used, plot.codes, plot.inks)

    def _feed(self, showing: Showing) -> list[Piece]:
        feed = showing.snapshot.feed
        words = feed_state(feed.state)
        if showing.trust == "none" and showing.banner and "ANSWER" in showing.banner[0]:
            return [Piece("○ NO ANSWER", Ink.GONE, 9)]
        age = "" if feed.age is None else f"{lasted(feed.age + showing.unheard)} old"
        state = Piece(f"{words.glyph} {words.word}", words.ink, 9)
        return [state, Piece(age, Ink.TEXT, 8), Piece(feed.address, Ink.SOFT, 1)]

    def _alarm(self, showing: Showing) -> list[Piece]:
        alarms = in_order(showing.snapshot.alarms)
        if not alarms or alarm_state(alarms[0]).rank >= 3:
            return [Piece("no alarm", Ink.SOFT)]
        state = alarm_state(alarms[0])
        since = clock(max(showing.snapshot.at.since(alarms[0].since), 0.0) + showing.unheard)
        return [Piece(f"{state.glyph} {state.word} {alarms[0].words}", state.ink, 9), Piece(since, Ink.TEXT, 5)]

    def _level(self, showing: Showing) -> list[Piece]:
        reading = showing.reading
        luma = reading.luma if reading else None
        ink = Ink.STALE if showing.trust == "mind" else Ink.STRONG
        note = Piece(showing.banner[0], Ink.CARE, 2) if showing.banner else Piece("IRE", Ink.SOFT, 2)
        middle = Piece(f"middle {level(luma.p50 if luma else None)}", ink, 8)
        sitter = main_sitter(reading)
        if reading is None or sitter is None:
            return [middle, note]
        off = distance_words(sitter_distance(reading, sitter, showing.snapshot.aims)) or sitter_state(sitter)
        return [Piece(f"skin {level(sitter.level)} {off}".rstrip(), ink, 9), middle, note]

    def _shares(self, showing: Showing) -> list[Piece]:
        reading = showing.reading
        ink = Ink.STALE if showing.trust == "mind" else Ink.TEXT
        clipped = reading.clipped.any if reading and reading.clipped else None
        crushed = reading.crushed.any if reading and reading.crushed else None
        return [Piece(f"clip {share(clipped)} %", ink, 5), Piece(f"crush {share(crushed)} %", ink, 4)]

    def _spread(self, showing: Showing) -> list[Piece]:
        luma = showing.reading.luma if showing.reading else None
        ink = Ink.STALE if showing.trust == "mind" else Ink.TEXT
        headroom = showing.reading.headroom_stops if showing.reading else None
        return [
            Piece("" if headroom is None else f"headroom {stops(headroom, signed=False)}", ink, 5),
            Piece(f"low {level(luma.p1 if luma else None)}", ink, 3),
            Piece(f"high {level(luma.p99 if luma else None)}", ink, 3),
        ]

    def _others(self, showing: Showing) -> list[Piece]:
        raised = [a for a in in_order(showing.snapshot.alarms)[1:] if alarm_state(a).rank < 3]
        return [Piece(f"{alarm_state(a).glyph} {alarm_state(a).word} {a.words}", alarm_state(a).ink) for a in raised]

    def _sound(self, showing: Showing) -> list[Piece]:
        heard = outlet(showing.snapshot.outlet, showing.notices)
        return [Piece(heard, Ink.SOFT, 2), Piece("? help, q quit", Ink.SOFT, 1)]
