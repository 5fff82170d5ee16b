"""Every frame in order, and deadlines that hold whatever the source does."""

from __future__ import annotations

import threading

import numpy as np
import pytest

from analysis.feed.clock import SystemClock
from analysis.feed.every import EveryFrame
from analysis.feed.pool import FramePool
from analysis.feed.source import FeedOptions
from analysis.model.errors import FeedCorrupt, FeedEnded, FeedError, FeedGone, FeedSilent, FeedUnreadable
from analysis.model.feed import SourceKind
from analysis.model.frame import Encoding, FrameFormat, Picture

FORMAT = FrameFormat(layout="gray", width=2, height=2, encoding=Encoding(bits=8, range="full", matrix="bt709"))


class Script:
    """A source that plays a list: a number is a picture, an exception is raised, an event blocks."""

    address = "test"
    approximate = False

    def __init__(self, steps: list[object], kind: SourceKind = "file") -> None:
        self.kind: SourceKind = kind
        self.steps = list(steps)
        self.closed = 0
        self.blocked_open: threading.Event | None = None

    def open(self) -> None:
        if self.blocked_open is not None:
            self.blocked_open.wait(20)

    def read(self) -> Picture:
        step = self.steps.pop(0) if self.steps else FeedEnded("done")
        if isinstance(step, threading.Event):
            step.wait(20)
            raise FeedEnded("freed")
        if isinstance(step, Exception):
            raise step
        return Picture(planes=(np.full((2, 2), step, np.uint8),), format=FORMAT)

    def close(self) -> None:
        self.closed += 1


def frames(source: Script, **options: float) -> EveryFrame:
    return EveryFrame(source, FeedOptions(**options), FramePool(), SystemClock())  # type: ignore[arg-type]


def test_all_frames_come_in_order_though_the_queue_is_short() -> None:
    source = Script(list(range(100)))
    reader = frames(source)
    got = [int(f.planes[0][0, 0]) for f in reader]
    reader.close()
    assert got == list(range(100))
    assert reader.skipped == 0 and source.closed >= 1


def test_a_damaged_frame_is_told_and_the_rest_goes_on() -> None:
    reader = frames(Script([1, FeedCorrupt("bad"), 3]))
    got = [(f.sequence, f.corrupt, len(f.planes)) for f in reader]
    assert got == [(0, False, 1), (1, True, 0), (2, False, 1)]


def test_damage_before_the_first_picture_has_no_format_and_is_passed_over() -> None:
    assert [f.corrupt for f in frames(Script([FeedCorrupt("bad"), 2]))] == [False]


def test_a_failure_reaches_the_caller_after_the_good_frames() -> None:
    reader = iter(frames(Script([1, 2, FeedGone("unplugged", "cam")])))
    assert [next(reader).sequence, next(reader).sequence] == [0, 1]
    with pytest.raises(FeedGone, match="unplugged"):
        next(reader)


def test_whatever_else_a_reader_dies_of_is_one_of_ours() -> None:
    with pytest.raises(FeedUnreadable, match="ZeroDivisionError"):
        list(frames(Script([ZeroDivisionError("x")])))


def test_a_silent_source_ends_by_its_deadline() -> None:
    hold = threading.Event()
    reader = frames(Script([1, hold]), read_seconds=0.2)
    with pytest.raises(FeedSilent, match="no picture within 0.2 s"):
        list(reader)
    reader.close()
    hold.set()


def test_an_open_that_hangs_ends_by_its_deadline() -> None:
    source = Script([1])
    source.blocked_open = threading.Event()
    with pytest.raises(FeedSilent, match="did not open within 0.2 s"):
        list(frames(source, open_seconds=0.2))
    source.blocked_open.set()


def test_a_live_feed_drops_the_oldest_and_counts_it() -> None:
    hold = threading.Event()
    source = Script([*range(10), hold], kind="camera")
    reader = frames(source, read_seconds=5.0)
    for _ in range(200):
        if not [s for s in source.steps if not isinstance(s, threading.Event)]:
            break
        threading.Event().wait(0.02)
    hold.set()
    got = [int(f.planes[0][0, 0]) for f in reader]
    assert got[-1] == 9 and len(got) + reader.skipped == 10 and reader.skipped >= 6


def test_closing_frees_a_reader_that_waits_for_us() -> None:
    source = Script(list(range(50)))
    reader = frames(source)
    next(iter(reader))
    reader.close()
    assert not reader._thread.is_alive() and source.closed >= 1
    assert isinstance(FeedEnded("x"), FeedError)
