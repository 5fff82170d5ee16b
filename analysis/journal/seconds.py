"""Readings brought down to one row a second; takes what it is given, keeps no clock."""

from __future__ import annotations

from collections.abc import Callable

from analysis.journal.entry import ReadingRow
from analysis.model.instant import Instant
from analysis.model.reading import Reading


class Seconds:
    """Gathers the readings of one second of UTC into a row.

    The row holds the worst of the second where there is a worst (lowest low, highest high, largest
    shares, least headroom) and the last of everything else. A second in which nothing valid was
    measured keeps its validity and nothing else.
    """

    def __init__(self) -> None:
        self._row: ReadingRow | None = None

    def add(self, reading: Reading, at: Instant) -> ReadingRow | None:
        """Take in a reading; returns the row of the second before when a new second began."""
        row = _row(reading, at)
        before = self._row
        if before is None or before.second != row.second:
            self._row = row
            return before
        self._row = _joined(before, row)
        return None

    def finished(self, now: Instant) -> ReadingRow | None:
        """The row of a second that is over, once; None while it still goes on or there is none."""
        if self._row is None or self._row.second == int(now.utc):
            return None
        row, self._row = self._row, None
        return row

    def so_far(self) -> ReadingRow | None:
        """What was gathered of the second that goes on; it is gathered further."""
        return self._row

    def rest(self) -> ReadingRow | None:
        """Whatever was gathered, finished or not."""
        row, self._row = self._row, None
        return row


def _row(reading: Reading, at: Instant) -> ReadingRow:
    good = reading.validity == "good"
    luma = reading.luma if good else None
    main = next((s for s in reading.sitters or () if s.main), None) if good else None
    return ReadingRow(
        second=int(at.utc),
        validity=reading.validity,
        low=luma.p1 if luma else None,
        middle=luma.p50 if luma else None,
        high=luma.p99 if luma else None,
        clipped=reading.clipped.any if good and reading.clipped else None,
        crushed=reading.crushed.luma if good and reading.crushed else None,
        headroom=reading.headroom_stops if good else None,
        skin_ire=main.level if main else None,
        skin_stops=main.stops if main else None,
    )


def _joined(before: ReadingRow, row: ReadingRow) -> ReadingRow:
    if row.validity != "good":
        return before if before.validity == "good" else row
    return row._replace(
        low=_worst(min, before.low, row.low),
        middle=row.middle if row.middle is not None else before.middle,
        high=_worst(max, before.high, row.high),
        clipped=_worst(max, before.clipped, row.clipped),
        crushed=_worst(max, before.crushed, row.crushed),
        headroom=_worst(min, before.headroom, row.headroom),
        skin_ire=row.skin_ire if row.skin_ire is not None else before.skin_ire,
        skin_stops=row.skin_stops if row.skin_stops is not None else before.skin_stops,
    )


def _worst(pick: Callable[[list[float]], float], one: float | None, other: float | None) -> float | None:
    known = [value for value in (one, other) if value is not None]
    return pick(known) if known else None
