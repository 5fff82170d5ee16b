"""Sitters on every measured frame: offers it to the search and reads the skin of everybody followed."""

from __future__ import annotations

from analysis.lookout.runner import SitterWatch
from analysis.measure.examiner import known_curve
from analysis.measure.face import FaceFinder
from analysis.measure.skin import SkinReader, black_level
from analysis.model.frame import Frame
from analysis.model.instant import Instant
from analysis.model.reading import Reading
from analysis.model.sitter import SitterReading


class SitterDesk:
    """Reads sitters for one feed, in the measuring thread; the search runs beside it and never holds it up.

    ``patience`` is how many seconds a frame waits for the search it started: 0 in the watch, more where
    every frame must have the same answer each time, as in ``read``. ``trouble`` is one line when nobody is
    looked for any more.
    """

    def __init__(self, search: SitterWatch, patience: float = 0.0) -> None:
        self._search, self._patience = search, patience
        self._reader: SkinReader | None = None

    @property
    def trouble(self) -> str | None:
        """Why nobody is looked for, else None."""
        return self._search.trouble

    def read(self, frame: Frame, reading: Reading) -> tuple[SitterReading, ...] | None:
        """The sitters of a measured frame; None where the frame was not measured or nobody can be looked for.

        Raises FeedUnreadable for a layout that cannot be read.
        """
        if reading.luma is None or reading.clipped is None or self._search.trouble is not None:
            return None
        if self._reader is None or self._reader.format != frame.format:
            self._reader = SkinReader(frame.format, known_curve(frame.format.encoding.curve))
        now: Instant = frame.instant
        end = reading.ceiling.level if reading.ceiling is not None else 100.0
        black = black_level(self._reader.curve)
        started = self._search.offer(frame, reading.picture.active, now, black=black, end=end)
        if started and self._patience:
            self._search.settle(self._patience)
        return self._reader.read(frame, self._search.company(), now, clip=reading.clipped.level)

    def choose(self, name: str | None) -> None:
        """Make this sitter the main one; None lets size and steadiness decide."""
        self._search.choose(name)

    def close(self) -> None:
        """Stop searching."""
        self._search.close()


def open_desk(model: bytes, patience: float = 0.0) -> SitterDesk:
    """A desk with a search of its own. Raises SettingsError when the model cannot be used."""
    return SitterDesk(SitterWatch(FaceFinder(model)), patience)
