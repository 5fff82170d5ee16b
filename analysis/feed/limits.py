"""How patient the watch is with each kind of source. Chosen values, common practice, no published source."""

from __future__ import annotations

import msgspec

from analysis.feed.source import FeedOptions
from analysis.model.feed import SourceKind


class FeedLimits(msgspec.Struct, frozen=True, kw_only=True):
    """Limits of one feed, in seconds unless the name says otherwise.

    ``prime_frames`` / ``prime_seconds``: a camera's automatic controls settle first; whichever
    is reached first ends it. ``late_seconds`` and ``late_intervals``: a frame older than the
    longer of the two is late. ``lost_seconds``: the picture counts as gone; never sooner than
    ``lost_intervals`` frame intervals, so that a slow feed is not lost between two frames.

    ``frozen_seconds``: identical pixels whose stamps stand still. ``frozen_unstamped``: treat a
    source without stamps as if they stood still. ``still_seconds``: identical pixels, noted.
    ``still_trouble`` and ``still_frozen``: from when that needs attention or counts as frozen,
    None for never. Sensor noise makes identical frames of a bare camera nearly impossible, but
    digital links and coded video repeat a still scene bit for bit, so the evidence is weighed
    by kind of source.

    ``dark_share`` (0 to 1) of pixels dark for ``dark_seconds``; ``dark_back`` ends it.
    ``suspect_share`` of frames damaged within ``suspect_seconds``, judged as if at least
    ``suspect_frames`` had come. ``open_seconds`` and ``first_seconds`` are the deadlines for
    opening and for the first picture after it. ``retry_seconds`` paces the first
    ``quick_retries`` attempts of an outage, ``slow_retry_seconds`` all later ones.
    ``reopen`` is False where opening again makes no sense: a pipe has no second beginning, and
    a file would start again from its first frame.
    """

    prime_frames: int = 5
    prime_seconds: float = 0.5
    late_seconds: float = 0.5
    late_intervals: float = 5.0
    lost_seconds: float = 1.0
    lost_intervals: float = 8.0
    frozen_seconds: float | None = 1.0
    frozen_unstamped: bool = False
    frozen_reopen: float = 5.0
    still_seconds: float = 2.0
    still_trouble: float | None = None
    still_frozen: float | None = None
    dark_share: float = 0.98
    dark_back: float = 0.96
    dark_seconds: float = 2.0
    suspect_share: float = 0.05
    suspect_seconds: float = 10.0
    suspect_frames: int = 100
    damaged_in_a_row: int = 100
    open_seconds: float = 5.0
    first_seconds: float = 5.0
    retry_seconds: float = 0.5
    quick_retries: int = 10
    slow_retry_seconds: float = 5.0
    reopen: bool = True


_OF: dict[SourceKind, FeedLimits] = {
    "camera": FeedLimits(frozen_unstamped=True, still_frozen=10.0),
    "hdmi": FeedLimits(still_trouble=60.0),
    "network": FeedLimits(lost_seconds=3.0, open_seconds=12.0, first_seconds=10.0, damaged_in_a_row=600),
    "file": FeedLimits(
        prime_frames=0,
        late_seconds=2.0,
        lost_seconds=10.0,
        frozen_seconds=None,
        open_seconds=10.0,
        first_seconds=10.0,
        reopen=False,
    ),
    "scene": FeedLimits(
        prime_frames=0, late_seconds=2.0, lost_seconds=10.0, frozen_seconds=None, open_seconds=10.0, first_seconds=10.0
    ),
    "pipe": FeedLimits(prime_frames=0, lost_seconds=3.0, frozen_seconds=None, first_seconds=30.0, reopen=False),
}


def limits_for(kind: SourceKind, options: FeedOptions | None = None) -> FeedLimits:
    """The limits of a kind of source, with the deadlines that the operator asked for.

    An asked ``open_seconds`` bounds the source itself; the watch outside waits twice as long,
    because FFmpeg counts connecting and finding the picture separately.

    >>> limits_for("network").lost_seconds, limits_for("camera").lost_seconds
    (3.0, 1.0)
    >>> limits_for("network", FeedOptions(open_seconds=30.0, read_seconds=8.0)).lost_seconds
    9.0
    """
    limits = _OF[kind]
    if options is not None and options.open_seconds is not None:
        limits = msgspec.structs.replace(limits, open_seconds=2.0 * options.open_seconds + 1.0)
    if options is not None and options.read_seconds is not None:
        limits = msgspec.structs.replace(limits, lost_seconds=options.read_seconds + 1.0)
    return limits
