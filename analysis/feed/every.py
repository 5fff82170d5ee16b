"""Every frame of a feed in order, for commands that read a while and end.

The watch drops frames rather than fall behind; a command that prints one line a frame must
not. A reader thread fills a short queue and waits for the caller, except for live feeds,
where nothing can wait: there the oldest frame is dropped and counted.
"""

from __future__ import annotations

import contextlib
import queue
import threading
from collections.abc import Iterator

import msgspec

from analysis.feed.clock import Clock
from analysis.feed.pool import FramePool
from analysis.feed.source import FeedOptions, Source
from analysis.model.errors import FeedCorrupt, FeedEnded, FeedError, FeedSilent, FeedUnreadable
from analysis.model.feed import SourceKind
from analysis.model.frame import Frame, FrameFormat, Picture
from analysis.model.instant import Instant

_QUEUE = 3
_OPEN_SECONDS: dict[SourceKind, float] = {"network": 10.0}
_READ_SECONDS: dict[SourceKind, float] = {"network": 5.0, "file": 30.0, "pipe": 30.0}
_DEFAULT_SECONDS = 5.0
_SETTLING: dict[SourceKind, int] = {"camera": 5, "hdmi": 5}
_LIVE: frozenset[SourceKind] = frozenset({"camera", "hdmi", "network"})


def settling_frames(kind: SourceKind) -> int:
    """How many first frames of such a source are still settling (automatic exposure); 0 where nothing settles.

    >>> settling_frames("camera"), settling_frames("file")
    (5, 0)
    """
    return _SETTLING.get(kind, 0)


def seconds_since(frame: Frame, first: Frame) -> float:
    """Seconds from the first frame to this by the feed's own clock, by arrival where it has none or it ran back."""
    if frame.source_seconds is not None and first.source_seconds is not None:
        past = frame.source_seconds - first.source_seconds
        if past >= 0:
            return past
    return frame.instant.since(first.instant)


def on_feed_clock(frame: Frame, first: Frame) -> Frame:
    """The frame at its own time on the feed's clock: files and scenes are read faster than they play."""
    past = seconds_since(frame, first)
    return msgspec.structs.replace(frame, instant=Instant(first.instant.monotonic + past, first.instant.utc + past))


class EveryFrame:
    """Iterates over the frames of one source, each once, with deadlines from outside.

    Iteration ends where the source ends. A frame that the source calls damaged comes with
    ``corrupt`` set (and no planes when none could be had). Raises FeedError when the source
    fails, and FeedSilent when it says nothing within its deadline. Call ``close`` when done.
    """

    def __init__(self, source: Source, options: FeedOptions, pool: FramePool, clock: Clock) -> None:
        self._source, self._pool, self._clock = source, pool, clock
        self._open_seconds = options.open_seconds or _OPEN_SECONDS.get(source.kind, _DEFAULT_SECONDS)
        self._read_seconds = options.read_seconds or _READ_SECONDS.get(source.kind, _DEFAULT_SECONDS)
        self._live = source.kind in _LIVE
        self._queue: queue.Queue[Frame | FeedError] = queue.Queue(_QUEUE)
        self._opened = threading.Event()
        self._stop = threading.Event()
        self._format: FrameFormat | None = None
        self._sequence = 0
        self.skipped = 0
        self._thread = threading.Thread(target=self._read, name="every-frame", daemon=True)
        self._thread.start()

    def __iter__(self) -> Iterator[Frame]:
        """Yield frames until the source ends or fails."""
        if not self._opened.wait(self._open_seconds):
            raise FeedSilent(f"did not open within {self._open_seconds:g} s", self._source.address, "check the feed")
        while True:
            item = self._next()
            if isinstance(item, FeedEnded):
                return
            if isinstance(item, FeedError):
                raise item
            yield item

    def give_back(self, frame: Frame) -> None:
        """Say that nobody reads this frame's planes any more."""
        self._pool.give(frame.planes)

    def close(self) -> None:
        """Stop reading and let the source go; does not wait for a reader that hangs."""
        self._stop.set()
        self._thread.join(0.5)
        if not self._thread.is_alive():
            self._source.close()

    def _next(self) -> Frame | FeedError:
        try:
            return self._queue.get(timeout=self._read_seconds)
        except queue.Empty:
            raise FeedSilent(
                f"no picture within {self._read_seconds:g} s", self._source.address, "check the feed"
            ) from None

    def _read(self) -> None:
        try:
            self._source.open()
            self._opened.set()
            while not self._stop.is_set():
                self._read_one()
        except FeedError as error:
            self._put(error)
        except Exception as error:  # noqa: BLE001 - whatever a reader dies of is told in the caller's thread
            self._put(FeedUnreadable(f"{type(error).__name__}: {error}", self._source.address, "report this"))
        finally:
            self._opened.set()

    def _read_one(self) -> None:
        try:
            picture = self._source.read()
        except FeedCorrupt:
            if self._format is None:
                return
            picture = Picture(planes=(), format=self._format, corrupt=True)
        self._format = picture.format
        frame = Frame(
            planes=picture.planes,
            format=picture.format,
            instant=self._clock.now(),
            generation=1,
            sequence=self._sequence,
            source_sequence=picture.source_sequence,
            source_seconds=picture.source_seconds,
            corrupt=picture.corrupt,
        )
        self._sequence += 1
        self._put(frame)

    def _put(self, item: Frame | FeedError) -> None:
        while not self._stop.is_set():
            try:
                self._queue.put(item, timeout=0.1)
                return
            except queue.Full:
                if self._live:
                    self._drop_oldest()

    def _drop_oldest(self) -> None:
        with contextlib.suppress(queue.Empty):
            old = self._queue.get_nowait()
            if isinstance(old, Frame):
                self._pool.give(old.planes)
                self.skipped += 1
