"""The thread that drives one source, and that may be left behind when a call never returns."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable
from typing import Literal, Protocol

from analysis.feed.clock import Clock
from analysis.feed.evidence import Arrived
from analysis.feed.failures import as_feed_error
from analysis.feed.likeness import Likeness
from analysis.feed.slate import SlateBook
from analysis.feed.source import Source
from analysis.measure.darkness import dark_share
from analysis.model.errors import FeedCorrupt, FeedError, FeedUnreadable, NoSignal, StopkeeperError, UsageError
from analysis.model.frame import Picture
from analysis.model.instant import Instant
from analysis.signal.layouts import check_planes

Phase = Literal["opening", "reading", "finished"]

_NO_SIGNAL_PAUSE = 0.25
"""Seconds between two questions to a device that says nothing is connected."""


class Receiver(Protocol):
    """Who hears from a reader. Every call names the reader, so that an abandoned one is recognised."""

    def opened(self, reader: Reader, source: Source) -> None:
        """The source is open."""

    def arrived(self, reader: Reader, picture: Picture, seen: Arrived) -> None:
        """A sound picture came."""

    def damaged(self, reader: Reader, reason: str, picture: Picture | None, malformed: bool) -> None:
        """A picture came that must not be measured."""

    def unconnected(self, reader: Reader, reason: str) -> None:
        """The device says that nothing is connected to it."""

    def failed(self, reader: Reader, error: StopkeeperError) -> None:
        """The source is over; the reader has let go of it."""


class Reader:
    """One life of a feed: makes its source, opens it and reads until it fails or is abandoned.

    ``step`` does one open or one read; ``run`` does them all and is what the thread runs.
    """

    def __init__(
        self,
        make: Callable[[], Source],
        generation: int,
        receiver: Receiver,
        clock: Clock,
        slates: SlateBook,
        damaged_in_a_row: int = 100,
    ) -> None:
        self.generation = generation
        self.finished = threading.Event()
        self._make, self._receiver, self._clock, self._slates = make, receiver, clock, slates
        self._damaged_limit, self._damaged = damaged_in_a_row, 0
        self._likeness = Likeness()
        self._source: Source | None = None
        self._abandoned = threading.Event()
        self._phase: tuple[Phase, Instant] = ("opening", clock.now())

    @property
    def phase(self) -> tuple[Phase, Instant]:
        """What it is doing, and since when."""
        return self._phase

    @property
    def abandoned(self) -> bool:
        """Whether nobody listens to it any more."""
        return self._abandoned.is_set()

    def abandon(self) -> None:
        """Stop listening to it. It lets go of its source when its present call returns."""
        self._abandoned.set()

    def close_source(self) -> None:
        """Ask the source to close, from another thread; may free a call that hangs, may hang itself."""
        source = self._source
        if source is not None:
            _close(source)

    def run(self) -> None:
        """Read until the end of this life."""
        while self.step():
            pass

    def step(self) -> bool:
        """Open, or read one picture; False when this life is over."""
        if self.finished.is_set():
            return False
        try:
            if not self.abandoned:
                if self._phase[0] == "opening":
                    self._open()
                else:
                    self._read()
            error: StopkeeperError | None = None
        except (FeedError, UsageError) as told:
            error = told
        except Exception as fault:  # noqa: BLE001 - a reader that dies unheard would look like a silent feed
            error = as_feed_error(fault, getattr(self._source, "address", ""))
        if error is None and not self.abandoned:
            return True
        self.close_source()
        self._phase = ("finished", self._clock.now())
        self.finished.set()
        if error is not None:
            self._receiver.failed(self, error)
        return False

    def _open(self) -> None:
        self._source = self._make()
        self._source.open()
        self._phase = ("reading", self._clock.now())
        if not self.abandoned:
            self._receiver.opened(self, self._source)

    def _read(self) -> None:
        assert self._source is not None
        picture: Picture | None = None
        try:
            picture = self._source.read()
            check_planes(picture)
        except NoSignal as error:
            self._receiver.unconnected(self, error.what)
            self._clock.wait(self._abandoned, _NO_SIGNAL_PAUSE)
            return
        except FeedCorrupt as error:
            self._count_damage(error.what, picture, malformed=picture is not None)
            return
        if picture.corrupt:
            self._count_damage("marked damaged by the source", picture, malformed=False)
            return
        self._damaged = 0
        seen = Arrived(
            format=picture.format,
            fingerprint=self._likeness.of(picture),
            dark_share=dark_share(picture),
            source_sequence=picture.source_sequence,
            source_seconds=picture.source_seconds,
            slate=self._slates.match(picture),
        )
        self._receiver.arrived(self, picture, seen)

    def _count_damage(self, reason: str, picture: Picture | None, malformed: bool) -> None:
        self._damaged += 1
        self._receiver.damaged(self, reason, picture, malformed)
        if self._damaged >= self._damaged_limit:
            where = self._source.address if self._source else ""
            raise FeedUnreadable(f"{self._damaged} damaged frames in a row: {reason}", where, "check the source")


def _close(source: Source) -> None:
    # It is being let go of: whatever it still has to say has no consequence.
    with contextlib.suppress(Exception):
        source.close()


def launch_thread(reader: Reader) -> None:
    """Run a reader in a daemon thread, which never keeps the program from ending."""
    threading.Thread(target=reader.run, name=f"feed-reader-{reader.generation}", daemon=True).start()


def launch_closer(reader: Reader) -> None:
    """Ask an abandoned reader's source to close, in a thread of its own: closing may hang like reading."""
    threading.Thread(target=reader.close_source, name=f"feed-closer-{reader.generation}", daemon=True).start()
