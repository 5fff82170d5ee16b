"""When what came and went before is past: the operator has exposed anew, or it is another shot."""

from __future__ import annotations

from collections.abc import Iterable

from analysis.engine.step import Reset
from analysis.model.alarm import AlarmStatus
from analysis.model.instant import Instant
from analysis.model.turn import Turn

QUICK_SECONDS = 1.0
"""A filter, ISO or another shot changes the picture faster than a cloud does."""
LEAST_STOPS = 0.3
HEEDED_SECONDS = 15.0
"""How long after it an alarm that goes away goes for good."""
MOST_CUTS, CUTS_SECONDS = 2, 600.0
"""More cuts than this in so many seconds are a programme that is cut to and fro: the shot before will be back."""


class ExposedAnew:
    """Ends the coming and going of alarms that a change of exposure has ended.

    An alarm that comes and goes stands through its lulls. Where the operator changed the exposure of the whole picture
    in one quick step, or the picture is another one, and the condition is away then, it is over. Where shots alternate
    no cut ends anything, or one of them that clips would be told each time it comes.

    >>> anew, t = ExposedAnew(), Instant(0.0, 0.0)
    >>> anew.saw((Turn(kind="whole", at=t, stops=-2.0, seconds=0.3, share=0.9),), t)
    >>> anew.heeding(Instant(5.0, 5.0)), anew.heeding(Instant(20.0, 20.0))
    (True, False)
    """

    def __init__(self) -> None:
        self._since: Instant | None = None
        self._cuts: tuple[Instant, ...] = ()

    def saw(self, turns: Iterable[Turn], now: Instant) -> None:
        """Turns that were just recognised."""
        for turn in turns:
            quick = turn.kind == "whole" and turn.seconds <= QUICK_SECONDS and abs(turn.stops) >= LEAST_STOPS
            if turn.kind == "cut":
                lately = (at for at in self._cuts if now.since(at) < CUTS_SECONDS)
                self._cuts = (*lately, now)[-MOST_CUTS - 1 :]
            if quick or (turn.kind == "cut" and len(self._cuts) <= MOST_CUTS):
                self._since = now

    def heeding(self, now: Instant) -> bool:
        """Whether such a change was a moment ago."""
        return self._since is not None and 0.0 <= now.since(self._since) < HEEDED_SECONDS

    def ended(self, alarms: Iterable[AlarmStatus], now: Instant) -> tuple[Reset, ...]:
        """What to reset now."""
        if not self.heeding(now):
            return ()
        return tuple(Reset(alarm=alarm.alarm) for alarm in alarms if alarm.lull)
