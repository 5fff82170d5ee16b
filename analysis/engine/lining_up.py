"""Looking for a line-up picture while the operator asks for it."""

from __future__ import annotations

from analysis.measure.lineup.result import Lineup
from analysis.model.frame import Frame
from analysis.model.instant import Instant

LINEUP_SECONDS = 0.5


class LineupDesk:
    """Looks twice a second while it is asked to, and forgets what it found when it is no longer."""

    def __init__(self) -> None:
        self.found: Lineup | None = None
        self._asked = False
        self._looked: Instant | None = None

    def ask(self, on: bool) -> None:
        """Begin or end looking."""
        self._asked, self.found, self._looked = on, None, None

    def look(self, frame: Frame, now: Instant) -> None:
        """Look at this frame if it is time to."""
        if not self._asked or (self._looked is not None and now.since(self._looked) < LINEUP_SECONDS):
            return
        from analysis.measure.lineup.look import look  # the patterns are only loaded where somebody lines up

        self._looked, self.found = now, look(frame)
