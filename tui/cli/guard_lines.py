"""The guard's log: lines written by a thread of their own, so that a reader that stands still never holds the watch."""

from __future__ import annotations

import os
import select
import threading
from collections import deque
from collections.abc import Callable

from analysis.model.alarm import AlarmChange, named_state
from analysis.model.feed import FeedEvent
from analysis.model.turn import Turn
from analysis.output.change_line import change_line, is_hidden
from tui.turn_words import turn_line

MOST_LINES = 2000
# Priorities of syslog (RFC 5424, 6.2.1) as systemd's journal takes them before a line (sd-daemon(3)).
_ERROR, _WARNING, _NOTICE, _INFORMATION = 3, 4, 5, 6


class LineWriter:
    """Writes lines to an open file from its own thread; when more than ``most`` wait, the oldest are lost and counted.

    So are lines that the file does not take, on a full disk for one; the next is tried again. ``gone`` is set when
    nobody reads any more.
    """

    def __init__(self, descriptor: int, most: int = MOST_LINES) -> None:
        self._descriptor, self._most = descriptor, most
        self._changed = threading.Condition()
        self._waiting: deque[bytes] = deque()
        self._writing = False
        self._closing = False
        self.lost = 0
        self.gone = threading.Event()
        threading.Thread(target=self._work, name="lines", daemon=True).start()

    def put(self, line: bytes) -> None:
        """Take a line with its end; returns at once."""
        with self._changed:
            self._waiting.append(line)
            while len(self._waiting) > self._most:
                self._waiting.popleft()
                self.lost += 1
            self._changed.notify_all()

    def close(self, seconds: float = 0.3) -> None:
        """Give what waits ``seconds`` to be written, then let it be."""
        with self._changed:
            self._closing = True
            self._changed.notify_all()
            self._changed.wait_for(lambda: not self._waiting and not self._writing, seconds)
            self._waiting.clear()

    def _work(self) -> None:
        while True:
            with self._changed:
                self._changed.wait_for(lambda: self._waiting or self._closing)
                if not self._waiting:
                    return
                line = self._waiting.popleft()
                self._writing = True
            lost = False
            try:
                self._write(line)
            except BrokenPipeError:
                self.gone.set()
                lost = True
            except OSError:
                lost = True
            with self._changed:
                self._writing = False
                self.lost += lost
                self._changed.notify_all()

    def _write(self, line: bytes) -> None:
        while line:
            try:
                line = line[os.write(self._descriptor, line) :]
            except BlockingIOError:
                select.select([], [self._descriptor], [], 1.0)


class GuardLines:
    """Says what happens, a line each, beginning with the time (UTC).

    Alarms go to ``out``, as JSON when ``as_json``; what the guard says of the feed and of itself goes there too, but
    to ``errors`` beside JSON, and nowhere when ``quiet``. Failures always go to ``errors``. ``out_journal`` and
    ``errors_journal`` say whether systemd's journal reads there: it then gets the weight of each line.
    """

    def __init__(
        self,
        out: LineWriter,
        errors: LineWriter,
        now: Callable[[], str],
        *,
        as_json: bool = False,
        quiet: bool = False,
        out_journal: bool = False,
        errors_journal: bool = False,
    ) -> None:
        self._out, self._errors, self._now = out, errors, now
        self._as_json, self._quiet = as_json, quiet
        self._out_journal, self._errors_journal = out_journal, errors_journal

    def alarm_changed(self, change: AlarmChange) -> None:
        """One line for an alarm; none for what a shelf or suppression hides."""
        if is_hidden(change):
            return
        if self._as_json:
            self._out.put(change_line(change))
            return
        rose = change.after.endswith("unacknowledged") and change.before != change.after
        weight = (_ERROR if change.priority == 1 else _WARNING) if rose else _NOTICE
        before, after = named_state(change.before, change.quiet_before), named_state(change.after, change.quiet)
        what = f"ALARM {change.alarm} {change.occurrence}: {before} to {after}, priority {change.priority}"
        self._say(self._out, self._out_journal, weight, change.at.text(), f"{what}; {change.reason}")

    def feed_changed(self, event: FeedEvent) -> None:
        """One line for the feed."""
        self._note(event.at.text(), f"FEED {event.after}: {event.evidence}")

    def turned(self, turn: Turn) -> None:
        """One line for a change of exposure."""
        self._note(turn.stands_at.text(), f"TURN {turn_line(turn)}")

    def note(self, text: str) -> None:
        """Something of itself that is no failure."""
        self._note(self._now(), text)

    def complain(self, text: str) -> None:
        """A failure of the guard's own; from any thread."""
        self._say(self._errors, self._errors_journal, _WARNING, self._now(), text)

    def ring(self) -> None:
        """The terminal's bell."""
        self._errors.put(b"\a")

    def _note(self, when: str, text: str) -> None:
        if self._quiet:
            return
        if self._as_json:
            self._say(self._errors, self._errors_journal, _INFORMATION, when, text)
        else:
            self._say(self._out, self._out_journal, _INFORMATION, when, text)

    def _say(self, writer: LineWriter, journal: bool, weight: int, when: str, text: str) -> None:
        kept = "".join(char if char.isprintable() else "?" for char in " ".join(text.split()))
        prefix = f"<{weight}>" if journal else ""
        writer.put(f"{prefix}{when}  {kept}\n".encode(errors="replace"))
