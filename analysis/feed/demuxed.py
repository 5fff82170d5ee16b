"""The video of one PyAV container, frame by frame, with damage noticed and closing made safe."""

from __future__ import annotations

import logging
import threading
from collections import deque
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from analysis.feed.decoded import Decoded
from analysis.feed.failures import as_feed_error
from analysis.feed.pool import FramePool
from analysis.feed.source import FeedOptions
from analysis.model.errors import FeedCorrupt, FeedGone, FeedUnreadable
from analysis.model.frame import Picture

if TYPE_CHECKING:
    from av.video.frame import VideoFrame

# FFmpeg can render text files as pictures of a terminal; for this program they are no pictures.
_TEXT_FORMATS = {"tty", "bin", "adf", "idf", "xbin", "subviewer", "srt", "ass", "webvtt"}


def quiet_decoder_log() -> None:
    """Keep FFmpeg's messages off the terminal but within reach: a decoder reports damage only there.

    Errors of the thread that decodes are captured by :class:`Demuxed`; all others end here.
    """
    import av

    logger = logging.getLogger("libav")
    if not any(isinstance(handler, logging.NullHandler) for handler in logger.handlers):
        logger.addHandler(logging.NullHandler())
    logger.propagate = False
    av.logging.set_skip_repeated(False)
    av.logging.set_level(av.logging.ERROR)


class Demuxed:
    """Opens an address with PyAV and hands out its pictures in order.

    FFmpeg's containers may not be closed while another thread reads from them: ``close`` from
    outside only asks, and the reading thread closes when its call returns.

    Decoding uses one thread: with more, FFmpeg 8 no longer marks the frames in which it concealed
    errors (measured with damaged H.264). After an error, frames count as damaged until the next
    whole key frame, because later ones are predicted from it.
    """

    def __init__(self, options: FeedOptions, pool: FramePool, where: str) -> None:
        self.closing = threading.Event()
        self.seconds_expected: float | None = None
        self.rate: float | None = None
        self.frames_expected = 0
        self.format_name = ""
        self._where = where
        self._decoded = Decoded(options, pool, where)
        self._container: Any = None
        self._stream: Any = None
        self._packets: Iterator[Any] = iter(())
        self._frames: deque[tuple[VideoFrame, bool]] = deque()
        self._busy = threading.Lock()
        self._suspect = False
        self._damaged_at: int | None = None

    def open(self, address: str, **how: Any) -> None:
        """Open ``address``. Raises FeedError, whatever FFmpeg raises."""
        import av

        quiet_decoder_log()
        with self._busy:
            try:
                self._container = av.open(address, **how)
                self._choose()
            except Exception as error:
                self._close_now()
                if isinstance(error, (FeedUnreadable, StopIteration, av.FFmpegError, OSError, ValueError)):
                    raise as_feed_error(error, self._where) from None
                raise
        self._close_if_asked()

    def _choose(self) -> None:
        self.format_name = self._container.format.name
        pictures = [s for s in self._container.streams.video if not _is_cover(s)]
        if self.format_name in _TEXT_FORMATS:
            raise FeedUnreadable("this is text, not a picture", self._where, "name a picture or a video")
        if not pictures:
            heard = self._container.streams.audio
            words = "there is only sound in it, no picture" if heard else "there is no picture in it"
            raise FeedUnreadable(words, self._where, "name a picture or a video")
        stream = self._stream = pictures[0]
        context = stream.codec_context
        if context is None:
            raise FeedUnreadable("the installed FFmpeg cannot decode this picture", self._where, "convert it")
        context.thread_count = 1
        rate = stream.average_rate or stream.guessed_rate
        self.rate = float(rate) if rate else None
        self.frames_expected = stream.frames
        duration = stream.duration
        if duration is not None and stream.time_base is not None:
            self.seconds_expected = float(duration * stream.time_base)
        elif self._container.duration is not None and len(self._container.streams) == 1:
            self.seconds_expected = self._container.duration / 1e6
        self._packets = self._container.demux(stream)

    def rewind(self) -> None:
        """Begin again at the first frame."""
        with self._busy:
            self._container.seek(0)
            self._frames.clear()
            self._suspect, self._damaged_at = False, None
            self._packets = self._container.demux(self._stream)

    def read(self, number: int | None, seconds_from: float | None) -> tuple[Picture, float | None]:
        """The next picture and its own time in seconds.

        ``number`` becomes its sequence; ``seconds_from`` its time when the stream gives none.
        Raises StopIteration at the end of the container, FeedCorrupt for a packet without a
        picture in it, FFmpeg's errors as FeedError.
        """
        import av

        with self._busy:
            self._check_open()
            try:
                while not self._frames:
                    self._decode_next()
                    self._check_open()
                frame, corrupt = self._frames.popleft()
                own = frame.time if frame.pts is not None else seconds_from
                picture = self._decoded.picture(frame, self.rate, number, own, corrupt)
            except (av.FFmpegError, OSError) as error:
                raise as_feed_error(error, self._where) from None
            finally:
                if self.closing.is_set():
                    self._close_now()
        self._close_if_asked()
        return picture, own

    def close(self) -> None:
        """Let go of the container, or have the reading thread do it."""
        self.closing.set()
        self._close_if_asked()

    def _decode_next(self) -> None:
        import av

        packet = next(self._packets)
        capture = av.logging.Capture()
        with capture as complaints:
            try:
                frames = packet.decode()
            except (av.error.InvalidDataError, av.error.ArgumentError, av.error.PatchWelcomeError):
                self._note_damage(packet)
                raise FeedCorrupt("a frame could not be decoded", self._where, "check the source") from None
        if complaints or packet.is_corrupt:
            self._note_damage(packet)
        for frame in frames:
            whole_key = frame.key_frame and not frame.is_corrupt
            later = self._damaged_at is None or frame.pts is None or frame.pts > self._damaged_at
            if frame.is_corrupt:
                self._suspect, self._damaged_at = True, frame.pts
            elif whole_key and later:
                self._suspect = False
            self._frames.append((frame, self._suspect))

    def _note_damage(self, packet: Any) -> None:
        self._suspect, self._damaged_at = True, packet.pts

    def _check_open(self) -> None:
        if self.closing.is_set() or self._container is None:
            raise FeedGone("the feed was closed", self._where, "open it again")

    def _close_if_asked(self) -> None:
        if self.closing.is_set() and self._busy.acquire(blocking=False):
            try:
                self._close_now()
            finally:
                self._busy.release()

    def _close_now(self) -> None:
        container, self._container = self._container, None
        self._packets = iter(())
        self._frames.clear()
        self._stream = None
        if container is not None:
            container.close()


def _is_cover(stream: Any) -> bool:
    """Whether a video stream is only the cover picture of a sound file (FFmpeg's attached_pic, 0x400)."""
    return bool(int(stream.disposition) & 0x400)
