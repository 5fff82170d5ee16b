"""Keeping the screen from flashing: at most one flash in any second, wherever something changes fast."""

from __future__ import annotations

from collections import deque

FLASH_SECONDS = 1.0
"""The least time from the beginning of one flash to the beginning of the next.

WCAG 2.2, success criterion 2.3.1, allows three flashes in any second; a calm screen needs no more than one.
"""
BLINK_SECONDS = 2.0
"""An alarm of priority one that nobody has acknowledged is bright for half of this and plain for the other half."""


class Steady:
    """What one place on the screen shows, bright or plain: two changes in a second at most, which is one flash.

    A change that comes too soon is not lost: it is shown as soon as it may be, if it still holds then.

    >>> place = Steady()
    >>> [place.show(bright, now) for now, bright in ((0.0, True), (0.1, False), (0.2, True), (0.9, True), (1.0, True))]
    [True, False, False, False, True]
    """

    def __init__(self) -> None:
        self._bright = False
        self._changed: deque[float] = deque(maxlen=2)

    def show(self, wanted: bool, now: float) -> bool:
        """Whether to draw it bright at ``now`` (seconds that only grow)."""
        recent = len(self._changed) == 2 and now - self._changed[0] < FLASH_SECONDS
        if wanted != self._bright and not recent:
            self._bright = wanted
            self._changed.append(now)
        return self._bright


class SteadyRows:
    """One :class:`Steady` for each row of a panel."""

    def __init__(self) -> None:
        self._rows: dict[int, Steady] = {}

    def show(self, bright: frozenset[int], height: int, now: float) -> frozenset[int]:
        """Of the rows that want to be bright, and those that were, the ones to draw bright at ``now``."""
        for row in bright:
            self._rows.setdefault(row, Steady())
        for row in [row for row in self._rows if row >= height]:
            del self._rows[row]
        return frozenset(row for row, place in self._rows.items() if place.show(row in bright, now))


def blinks_bright(now: float, since: float) -> bool:
    """Whether something that blinks since ``since`` is bright at ``now``; it begins bright.

    >>> [blinks_bright(now, 10.0) for now in (10.0, 10.9, 11.0, 11.9, 12.0)]
    [True, True, False, False, True]
    """
    return (now - since) % BLINK_SECONDS < BLINK_SECONDS / 2
