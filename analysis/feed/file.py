"""Pictures from a file, in their own bit depth, at their own pace or as fast as they can be read."""

from __future__ import annotations

from pathlib import Path

from analysis.feed.address import Address
from analysis.feed.clock import Clock
from analysis.feed.demuxed import Demuxed
from analysis.feed.failures import as_feed_error
from analysis.feed.pace import Pace
from analysis.feed.pool import FramePool
from analysis.feed.source import FeedOptions
from analysis.model.errors import FeedEnded, FeedUnreadable
from analysis.model.feed import SourceKind
from analysis.model.frame import Picture

_CUT_SECONDS = 0.5
"""A file that ends this much before its own length, or more, was cut off."""

_STILLS = ("_pipe", "image2")  # FFmpeg's names for single pictures end like this
_STILL_INTERVAL = 0.2


class FileSource:
    """A video file or still picture. Numbers its frames; its clock starts at 0 and grows through loops.

    At its own pace a still picture stays, five frames a second, until it is closed; read as fast as
    it goes it is one frame.
    """

    kind: SourceKind = "file"
    approximate = False

    def __init__(self, address: Address, options: FeedOptions, pool: FramePool, clock: Clock) -> None:
        self.address = address.masked
        self._path, self._options = Path(address.target), options
        self._video = Demuxed(options, pool, self.address)
        self._pace = Pace(clock, self._video.closing)
        self._number = 0
        self._in_round = 0
        self._rounds = 1
        self._first: float | None = None
        self._offset = 0.0
        self._last = 0.0

    def open(self) -> None:
        """Open the file. Raises FeedGone, FeedRefused or FeedUnreadable with what is wrong with it."""
        try:
            size = self._path.stat().st_size if self._path.is_file() else None
            with self._path.open("rb"):
                pass
        except (OSError, ValueError) as error:
            raise as_feed_error(error, self.address) from None
        if size == 0:
            raise FeedUnreadable("the file is empty", self.address, "name another file")
        # "file:" keeps FFmpeg from reading a name with a colon as an address.
        self._video.open(f"file:{self._path}")

    def read(self) -> Picture:
        """The next picture. Raises FeedEnded after the last, FeedUnreadable where the file was cut off."""
        while True:
            interval = 1.0 / self._video.rate if self._video.rate else 0.04
            try:
                picture, seconds = self._video.read(self._number, self._in_round * interval)
                break
            except StopIteration:
                self._finish(interval)
        seconds = seconds if seconds is not None else self._in_round * interval
        if self._first is None:
            self._first = seconds
        own = self._offset + seconds - self._first
        self._number += 1
        self._in_round += 1
        self._last = max(own, self._last) if self._in_round > 1 else own
        if self._options.realtime:
            self._pace.wait_for(own)
        return _timed(picture, own)

    def close(self) -> None:
        """Let go of the file."""
        self._video.close()

    def _finish(self, interval: float) -> None:
        """At the end of the container: complain, stop, or begin again."""
        if self._in_round == 0:
            raise FeedUnreadable("there is no whole picture in it", self.address, "name another file") from None
        expected, came = self._video.seconds_expected, self._last - self._offset + interval
        if expected is not None and expected - came > max(_CUT_SECONDS, 2 * interval):
            raise FeedUnreadable(
                f"the file is cut off after {came:.1f} of {expected:.1f} s", self.address, "copy it again"
            ) from None
        still = self._options.realtime and self._number == self._rounds and self._video.format_name.endswith(_STILLS)
        if not self._options.loop and not still:
            raise FeedEnded("finished", self.address) from None
        self._offset = self._last + (max(interval, _STILL_INTERVAL) if still else interval)
        self._in_round, self._first = 0, None
        self._rounds += 1
        self._video.rewind()


def _timed(picture: Picture, seconds: float) -> Picture:
    from msgspec.structs import replace

    return replace(picture, source_seconds=round(seconds, 9))
