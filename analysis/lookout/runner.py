"""The thread that searches for faces: it is offered frames and takes the few it needs, and nobody ever waits for it."""

from __future__ import annotations

import threading
from typing import Protocol

from analysis.measure.face import WIDE, WIDTH, Face
from analysis.measure.follow import Company, choose, follow
from analysis.measure.shrunken import Shrinker, Shrunken, fitted
from analysis.measure.unpack import Area
from analysis.model.frame import Frame, FrameFormat
from analysis.model.instant import Instant

EVERY = 0.2
"""Seconds between searches."""
WIDE_EVERY = 1.0
"""Seconds between wider searches, which are made only while nobody is found."""
GIVE_UP = 5
"""Searches that may fail one after the other before no more are made."""


class Finder(Protocol):
    """What finds faces: see :class:`analysis.measure.face.FaceFinder`."""

    def find(self, small: Shrunken) -> tuple[Face, ...]:
        """The faces on a small picture, in picture pixels."""


class _Task:
    """One search: the small picture, when it was seen, and what black and the end of the signal are."""

    __slots__ = ("black", "end", "now", "round", "small")

    def __init__(self, small: Shrunken, now: Instant, black: float, end: float, round_: int) -> None:
        self.small, self.now, self.black, self.end, self.round = small, now, black, end, round_


class SitterWatch:
    """Follows the sitters of one feed. ``offer``, ``company``, ``choose`` and ``close`` may be called from any thread.

    At most one picture waits and at most one is searched: a search that takes longer than it should costs
    searches, never time. ``trouble`` is one line when searching had to be given up, else None.
    """

    def __init__(self, finder: Finder) -> None:
        self.trouble: str | None = None
        self._finder = finder
        self._state = threading.Condition()
        self._company = Company()
        self._task: _Task | None = None
        self._busy = False
        self._closing = False
        self._round = 0
        self._failures = 0
        self._last = self._last_wide = float("-inf")
        self._shrinker: Shrinker | None = None
        self._format: FrameFormat | None = None
        self._thread = threading.Thread(target=self._run, name="lookout", daemon=True)
        self._thread.start()

    def offer(self, frame: Frame, area: Area, now: Instant, *, black: float = 0.0, end: float = 100.0) -> bool:
        """Offer a measured frame; True when a search of it was started.

        Costs nothing unless a search is due and the thread is free; then a small copy is made, so the planes
        are the caller's again on return. ``area`` is the active picture, ``black`` the level of no light and
        ``end`` the level at which the signal ends, in IRE. Pictures of another size start afresh. Raises
        FeedUnreadable for a layout that cannot be read.
        """
        if frame.corrupt or self.trouble is not None or self._closing:
            return False
        if self._format != frame.format:
            self._change_to(frame.format)
        at = now.monotonic
        if self._busy or 0.0 <= at - self._last < EVERY - 1e-6:
            return False
        wide = not 0.0 <= at - self._last_wide < WIDE_EVERY - 1e-6 and self._nobody(now) and _worth(area)
        assert self._shrinker is not None
        small = self._shrinker.take(frame, area, WIDE if wide else WIDTH)
        self._last = at
        if wide:
            self._last_wide = at
        with self._state:
            self._busy = True
            self._task = _Task(small, now, black, end, self._round)
            self._state.notify_all()
        return True

    def company(self) -> Company:
        """Everybody followed, as of the last search; ask it what is so at the time of a frame."""
        return self._company

    def choose(self, name: str | None) -> None:
        """Make this sitter the main one whenever present; None lets size and steadiness decide."""
        with self._state:
            self._company = choose(self._company, name)

    def settle(self, timeout: float) -> bool:
        """Wait until no search is running, at most ``timeout`` seconds; False when one still is."""
        with self._state:
            return self._state.wait_for(lambda: not self._busy, timeout)

    def close(self, timeout: float = 1.0) -> None:
        """Stop searching; waits at most ``timeout`` seconds for a search that is running."""
        with self._state:
            self._closing = True
            self._task = None
            self._state.notify_all()
        if threading.current_thread() is not self._thread:
            self._thread.join(timeout)

    def _nobody(self, now: Instant) -> bool:
        """Whether the searches have found nobody for a second, or never yet."""
        found = [sitter.found for sitter in self._company.sitters]
        return not found or now.monotonic - max(found) >= WIDE_EVERY - EVERY / 2

    def _change_to(self, shape: FrameFormat) -> None:
        before, self._format = self._format, shape
        self._shrinker = Shrinker(shape)
        if before is not None and (before.width, before.height) != (shape.width, shape.height):
            with self._state:
                self._round += 1
                self._company = Company(chosen=self._company.chosen)
            self._last = self._last_wide = float("-inf")

    def _run(self) -> None:
        while True:
            with self._state:
                self._state.wait_for(lambda: self._task is not None or self._closing)
                task, self._task = self._task, None
            if task is None:
                break
            self._search(task)
            with self._state:
                self._busy = False
                self._state.notify_all()

    def _search(self, task: _Task) -> None:
        try:
            faces = self._finder.find(task.small)
            with self._state:
                if task.round == self._round:
                    self._company = follow(self._company, faces, task.small, task.now, black=task.black, end=task.end)
            self._failures = 0
        except Exception as mistake:  # noqa: BLE001 - a search that dies unheard would look like an empty chair
            self._failures += 1
            if self._failures >= GIVE_UP:
                reason = " ".join(str(mistake).split()) or type(mistake).__name__
                self.trouble = f"sitters are not looked for any more: {reason}"


def _worth(area: Area) -> bool:
    """Whether the picture has pixels that a wider search would show and the usual one does not."""
    return fitted(area, WIDE) != fitted(area, WIDTH)
