from __future__ import annotations

import threading

import numpy as np

from analysis.feed.pace import Pace
from analysis.feed.pool import FramePool
from analysis.feed.slot import LatestSlot
from analysis.model.frame import Frame
from analysis.model.instant import Instant
from tests.support.fake_clock import FakeClock
from tests.support.pictures import form


def frame(number: int) -> Frame:
    return Frame(
        planes=(np.zeros((48, 64), np.uint8),),
        format=form(name="gray"),
        instant=Instant(float(number), 0.0),
        generation=1,
        sequence=number,
    )


def test_the_newest_wins_and_the_rest_is_counted_and_used_again() -> None:
    pool = FramePool()
    slot = LatestSlot(pool)
    frames = [frame(number) for number in range(5)]
    for one in frames:
        slot.put(one)
    assert slot.take() is frames[4] and slot.take() is None
    assert slot.replaced == 4
    again = [pool.take((48, 64), np.uint8) for _ in range(4)]
    assert {id(a) for a in again} == {id(f.planes[0]) for f in frames[:4]}


def test_taking_gives_the_planes_to_the_taker_until_done() -> None:
    pool = FramePool()
    slot = LatestSlot(pool)
    one = frame(0)
    slot.put(one)
    assert slot.take() is one
    assert pool.take((48, 64), np.uint8) is not one.planes[0]
    slot.done(one)
    assert pool.take((48, 64), np.uint8) is one.planes[0]


def test_take_waits_for_a_frame() -> None:
    slot = LatestSlot(FramePool())
    assert slot.take(timeout=0.01) is None
    timer = threading.Timer(0.05, slot.put, [frame(1)])
    timer.start()
    assert slot.take(timeout=10.0) is not None
    timer.join()


def test_clearing_is_not_counted() -> None:
    slot = LatestSlot(FramePool())
    slot.put(frame(1))
    slot.clear()
    assert slot.take() is None and slot.replaced == 0


def test_pace_waits_for_each_picture_and_stops_at_once() -> None:
    clock, stop = FakeClock(monotonic=100.0), threading.Event()
    pace = Pace(clock, stop)
    for number in range(10):
        pace.wait_for(number * 0.04)
    assert abs(clock.now().monotonic - 100.36) < 1e-9
    stop.set()
    pace.wait_for(0.8)
    assert abs(clock.now().monotonic - 100.36) < 1e-9


def test_pace_does_not_hurry_after_a_pause_nor_sleep_through_a_jump() -> None:
    clock = FakeClock(monotonic=100.0)
    pace = Pace(clock, threading.Event())
    pace.wait_for(0.0)
    clock.advance(30.0)
    pace.wait_for(0.04)
    pace.wait_for(0.08)
    assert abs(clock.now().monotonic - 130.04) < 1e-9
    pace.wait_for(5000.0)
    assert clock.now().monotonic < 131
