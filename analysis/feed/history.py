"""What is remembered of the frames since a feed last began: enough to judge the next one, no pixels."""

from __future__ import annotations

import msgspec

from analysis.feed.evidence import Arrived
from analysis.feed.limits import FeedLimits
from analysis.model.instant import Instant


class History(msgspec.Struct, frozen=True, kw_only=True):
    """The run of frames since the feed began or changed its form.

    ``interval`` is the smoothed time between arrivals. ``same_since`` is the arrival of the
    first of the present run of identical pictures, ``stuck_since`` the same with stamps that
    stood still as well, ``dark_since`` that of the first of the present run of dark pictures;
    each None when the newest frame ended such a run. ``odd_stamps`` counts stamps that ran
    back or jumped.
    """

    began: Instant
    newest: Instant
    frames: int
    last: Arrived
    interval: float | None = None
    same_since: Instant | None = None
    stuck_since: Instant | None = None
    dark_since: Instant | None = None
    odd_stamps: int = 0


def begin(frame: Arrived, limits: FeedLimits, now: Instant) -> History:
    """A history of one frame."""
    dark = now if frame.dark_share >= limits.dark_share else None
    return History(began=now, newest=now, frames=1, last=frame, dark_since=dark)


def grow(past: History, frame: Arrived, limits: FeedLimits, now: Instant) -> History:
    """The history with one more frame. Order is that of arrival; stamps only tell whether they moved."""
    spacing = min(max(now.since(past.newest), 0.0), 1.0)
    interval = spacing if past.interval is None else 0.9 * past.interval + 0.1 * spacing
    same = stuck = dark = None
    if frame.fingerprint == past.last.fingerprint:
        same = past.same_since or past.newest
        if not stamps_move(past.last, frame, limits):
            stuck = past.stuck_since or past.newest
    if frame.dark_share >= limits.dark_share:
        dark = past.dark_since or now
    elif frame.dark_share >= limits.dark_back:
        dark = past.dark_since
    return History(
        began=past.began,
        newest=now,
        frames=past.frames + 1,
        last=frame,
        interval=interval,
        same_since=same,
        stuck_since=stuck,
        dark_since=dark,
        odd_stamps=past.odd_stamps + odd_stamp(past.last, frame),
    )


def stamps_move(before: Arrived, after: Arrived, limits: FeedLimits) -> bool:
    """Whether the source's own numbering or clock went on between two frames, in either direction."""
    if after.source_sequence is None and after.source_seconds is None:
        return not limits.frozen_unstamped
    return (after.source_sequence, after.source_seconds) != (before.source_sequence, before.source_seconds)


def odd_stamp(before: Arrived, after: Arrived) -> bool:
    """Whether the source's clock ran back, stood still or jumped by more than ten seconds."""
    if before.source_seconds is None or after.source_seconds is None:
        return False
    return not 0.0 < after.source_seconds - before.source_seconds <= 10.0


def interval(past: History | None, rate: float | None) -> float:
    """The frame interval to be patient with, in seconds: the longer of what the feed says and what it does."""
    nominal = 1.0 / rate if rate and rate > 0 else 0.0
    measured = past.interval if past and past.interval else 0.0
    return max(nominal, measured)


class DamageCount(msgspec.Struct, frozen=True, kw_only=True):
    """Frames and damaged frames per second of the recent past: ``(second, all, damaged)``."""

    seconds: tuple[tuple[int, int, int], ...] = ()

    def add(self, damaged: bool, limits: FeedLimits, now: Instant) -> DamageCount:
        """Count one more frame and forget what is too long ago."""
        second = int(now.monotonic)
        kept = [entry for entry in self.seconds if entry[0] > second - limits.suspect_seconds]
        if kept and kept[-1][0] == second:
            _, total, bad = kept.pop()
        else:
            total = bad = 0
        return DamageCount(seconds=(*kept, (second, total + 1, bad + damaged)))

    def share(self, limits: FeedLimits) -> float:
        """Share (0 to 1) of damaged frames, judged as if at least ``suspect_frames`` had come."""
        total = sum(entry[1] for entry in self.seconds)
        return sum(entry[2] for entry in self.seconds) / max(total, limits.suspect_frames)
