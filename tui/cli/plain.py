"""The watch without a screen: lines of words, for screen readers, logs and terminals that cannot draw."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from typing import TYPE_CHECKING

from analysis.model.alarm import AlarmChange
from analysis.model.feed import FeedEvent
from analysis.model.snapshot import Snapshot
from analysis.model.turn import Turn
from tui.cli.read import words as reading_words
from tui.turn_words import turn_line

if TYPE_CHECKING:
    from analysis.watch import Watch


class PlainLines:
    """Says changes as they happen, each in a line that begins with the time of day (UTC)."""

    def __init__(self, say: Callable[[str], None]) -> None:
        self._say = say

    def note(self, text: str) -> None:
        """A remark that is not about one moment."""
        self._say(text)

    def alarm_changed(self, change: AlarmChange) -> None:
        """One line for an alarm."""
        self._say(f"{change.at.text()}  ALARM {change.alarm}: {change.after}; {change.reason}")

    def feed_changed(self, event: FeedEvent) -> None:
        """One line for the feed."""
        self._say(f"{event.at.text()}  FEED {event.after}: {event.evidence}")

    def turned(self, turn: Turn) -> None:
        """One line for a change of exposure."""
        self._say(f"{turn.stands_at.text()}  TURN {turn_line(turn)}")

    def ring(self) -> None:
        """The terminal's bell, where standard error is one."""
        if sys.stderr is not None and sys.stderr.isatty():
            sys.stderr.write("\a")
            sys.stderr.flush()

    def say(self, snapshot: Snapshot) -> None:
        """The state of things in one line."""
        when = snapshot.at.text()
        if snapshot.fault:
            self._say(f"{when}  FAULT {snapshot.fault}")
        elif snapshot.reading is None:
            self._say(f"{when}  no picture: {snapshot.feed.evidence}")
        else:
            self._say(f"{when}  {reading_words(snapshot.reading)}")


def run_plain(watch: Watch, lines: PlainLines, note: str | None, seconds: float | None) -> None:
    """Say one line a second until the feed is over for good, ``seconds`` have passed, or the program is stopped."""
    if note:
        lines.note(note)
    began = time.monotonic()
    try:
        watch.start()
        turn = 0
        while watch.failure is None:
            turn += 1
            left = began + turn - time.monotonic()
            if seconds is not None and turn > seconds:
                break
            time.sleep(max(left, 0.0))
            snapshot = watch.snapshot()
            lines.say(snapshot)
            if snapshot.feed.state == "ended":
                break
    finally:
        watch.close()
    if watch.failure is not None:
        raise watch.failure
