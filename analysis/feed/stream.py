"""Pictures from the network through PyAV, with a deadline on every wait."""

from __future__ import annotations

from urllib.parse import parse_qsl, urlencode, urlsplit, urlunsplit

import msgspec

from analysis.feed.address import Address
from analysis.feed.clock import Clock
from analysis.feed.demuxed import Demuxed
from analysis.feed.pace import Pace
from analysis.feed.pool import FramePool
from analysis.feed.source import FeedOptions
from analysis.model.errors import FeedEnded, FeedGone, FeedSilent, FeedUnreadable
from analysis.model.feed import SourceKind
from analysis.model.frame import Picture

OPEN_SECONDS = 10.0
READ_SECONDS = 2.5
_PLAYLIST_READ_SECONDS = 15.0

# Formats that arrive in pieces or as a whole and therefore have to be played by their own clock;
# everything else is live and shown as it comes.
_STORED = ("hls", "dash", "mov", "matroska", "avi", "flv")


class StreamSource:
    """A network stream: MPEG-TS over UDP and TCP, RTP, RTSP, HTTP; SRT where FFmpeg has it.

    RTSP runs over TCP unless the address says ``?transport=udp``; ``?listen=1`` waits for a
    sender instead of asking one. A stream that ends is lost, not finished; only a file served
    over HTTP, which knows its own length, can finish.
    """

    kind: SourceKind = "network"
    approximate = False

    def __init__(self, address: Address, options: FeedOptions, pool: FramePool, clock: Clock) -> None:
        self.address = address.masked
        self._target, self._options, self._clock = address.target, options, clock
        self._video = Demuxed(options, pool, self.address)
        self._pace = Pace(clock, self._video.closing)
        self._stored = False
        self._last: float | None = None

    def open(self) -> None:
        """Connect and find the picture. Raises FeedGone, FeedRefused, FeedSilent or FeedUnreadable."""
        opening = self._options.open_seconds or OPEN_SECONDS
        playlist = urlsplit(self._target).path.lower().endswith((".m3u8", ".mpd"))
        reading = self._options.read_seconds or (_PLAYLIST_READ_SECONDS if playlist else READ_SECONDS)
        target, asked = asked_of(self._target, opening)
        began = self._clock.now()
        try:
            self._video.open(target, options=asked, timeout=(opening, reading))
        except FeedUnreadable:
            # FFmpeg's RTSP client tells an interrupted wait as invalid data.
            if self._clock.now().since(began) < 0.9 * opening:
                raise
            what = f"no picture came within {opening:g} s"
            raise FeedSilent(what, self.address, "check the sender and the network") from None
        self._stored = self._video.format_name.startswith(_STORED)

    def read(self) -> Picture:
        """The next picture. Raises FeedSilent after the read deadline and FeedGone when the stream ends."""
        try:
            picture, seconds = self._video.read(None, None)
        except StopIteration:
            if self._stored and self._last is not None and self._video.seconds_expected is not None:
                raise FeedEnded("finished", self.address) from None
            raise FeedGone("the stream ended", self.address, "check the sender") from None
        if self._stored and seconds is not None and self._options.realtime:
            self._pace.wait_for(seconds)
        self._last = seconds
        return msgspec.structs.replace(picture, source_seconds=seconds)

    def close(self) -> None:
        """Disconnect; from another thread as soon as the running read returns."""
        self._video.close()


def asked_of(target: str, opening: float) -> tuple[str, dict[str, str]]:
    """The address as FFmpeg wants it and the options that go with it.

    >>> asked_of("rtsp://host/door?transport=udp&size=2", 10.0)
    ('rtsp://host/door?size=2', {'flags': 'low_delay', 'fflags': 'nobuffer', 'rtsp_transport': 'udp'})
    """
    parts = urlsplit(target)
    # "nobuffer" throws away what was read while looking for the picture: right for what is live,
    # wrong for what may be a stored file.
    asked = {"flags": "low_delay"} | ({} if parts.scheme.lower().startswith("http") else {"fflags": "nobuffer"})
    match parts.scheme.lower():
        case "rtsp" | "rtsps":
            pairs = parse_qsl(parts.query, keep_blank_values=True)
            own = {name: value for name, value in pairs if name in {"transport", "listen"}}
            asked["rtsp_transport"] = "udp" if own.get("transport") == "udp" else "tcp"
            if own.get("listen", "0") not in {"0", ""}:
                asked |= {"rtsp_flags": "listen", "listen_timeout": str(max(1, round(opening)))}
            if own:
                rest = urlencode([(name, value) for name, value in pairs if name not in own])
                target = urlunsplit(parts._replace(query=rest))
        case "udp" | "rtp":
            # A burst of a large key frame must fit, and an overrun must not end the feed.
            asked |= {"buffer_size": "4194304", "fifo_size": "57344", "overrun_nonfatal": "1"}
            asked |= {"analyzeduration": "1000000"}
        case "tcp" | "srt":
            asked |= {"analyzeduration": "1000000"}
    return target, asked
