"""The scene as a source: pacing by a clock, skipping when late, closing."""

from __future__ import annotations

import threading
from typing import Any

import numpy as np
import pytest

from analysis.feed.pool import FramePool
from analysis.feed.scene.source import SceneSource
from analysis.feed.source import FeedOptions, Source
from analysis.model.errors import FeedEnded, UsageError
from analysis.model.instant import Instant

TINY = {"size": "32x18"}


class StepClock:
    """A clock that moves only when somebody waits, or when a test moves it."""

    def __init__(self) -> None:
        self.seconds = 1000.0
        self.waits: list[float] = []
        self.late_by = 0.0

    def now(self) -> Instant:
        return Instant(self.seconds, 0.0)

    def wait(self, event: threading.Event, seconds: float) -> bool:
        self.waits.append(seconds)
        self.seconds += seconds + self.late_by
        return event.is_set()


def opened(query: dict[str, str] | None = None, clock: StepClock | None = None, **options: Any) -> SceneSource:
    source = SceneSource("scene:boathouse", TINY | (query or {}), FeedOptions(**options), FramePool(), clock)
    source.open()
    return source


def test_it_is_a_source() -> None:
    source = opened(realtime=False)
    assert isinstance(source, Source)
    assert source.kind == "scene"
    assert source.approximate is False
    assert source.address == "scene:boathouse"


def test_frames_come_at_their_time_without_drift() -> None:
    clock = StepClock()
    source = opened({"rate": "29.97"}, clock)
    for n in range(120):
        assert source.read().source_sequence == n
        assert clock.seconds == pytest.approx(1000.0 + n / 29.97, abs=1e-5)
        clock.seconds += 0.011  # rendering and measuring take their time; the next frame does not wait for them


def test_a_sleep_that_oversleeps_does_not_add_up() -> None:
    clock = StepClock()
    clock.late_by = 0.004
    source = opened({"rate": "25"}, clock)
    for n in range(100):
        assert source.read().source_sequence == n
    assert clock.seconds == pytest.approx(1000.0 + 99 / 25.0 + 0.004, abs=1e-6)


def test_a_late_reader_gets_the_frame_of_now() -> None:
    clock = StepClock()
    source = opened({"rate": "25"}, clock)
    assert source.read().source_sequence == 0
    clock.seconds += 2.0
    late = source.read()
    assert late.source_sequence == 50
    assert late.source_seconds == pytest.approx(2.0)
    assert source.read().source_sequence == 51


def test_source_seconds_follow_the_clock_for_hours() -> None:
    clock = StepClock()
    source = opened({"rate": "23.976"}, clock)
    source.read()
    for _ in range(50):
        clock.seconds += 611.3
        picture = source.read()
        assert picture.source_seconds is not None
        assert picture.source_seconds == pytest.approx(clock.seconds - 1000.0, abs=1 / 23.976 + 1e-6)


def test_not_in_real_time_never_waits() -> None:
    clock = StepClock()
    source = opened(clock=clock, realtime=False)
    assert [source.read().source_sequence for _ in range(20)] == list(range(20))
    assert clock.waits == []


def test_begin_moves_the_scene_and_not_the_count() -> None:
    picture = opened({"begin": "50"}, realtime=False).read()
    assert picture.source_sequence == 0
    assert picture.source_seconds == 50.0


def test_closing_releases_a_waiting_reader() -> None:
    source = opened({"rate": "0.1"})
    source.read()
    outcome: list[BaseException] = []

    def reader() -> None:
        try:
            source.read()
        except FeedEnded as ended:
            outcome.append(ended)

    thread = threading.Thread(target=reader)
    thread.start()
    source.close()
    source.close()
    thread.join(20.0)
    assert not thread.is_alive()
    assert len(outcome) == 1


def test_reading_a_closed_or_unopened_scene_ends_plainly() -> None:
    closed = opened(realtime=False)
    closed.close()
    unopened = SceneSource("scene:boathouse", TINY, FeedOptions(), FramePool())
    for source in (closed, unopened):
        with pytest.raises(FeedEnded, match="scene:boathouse"):
            source.read()


def test_frames_are_never_identical_with_noise_or_movement() -> None:
    for query in ({"noise": "on", "sway": "off", "clouds": "off"}, {"noise": "off", "size": "160x90"}):
        source = opened(query, realtime=False)
        frames = [source.read().planes[0].copy() for _ in range(40)]
        kinds = {frame.tobytes() for frame in frames}
        assert len(kinds) == 40 if query["noise"] == "on" else len(kinds) > 5


def test_buffers_come_from_the_pool() -> None:
    pool = FramePool()
    source = SceneSource("scene:boathouse", TINY, FeedOptions(realtime=False), pool)
    source.open()
    first = source.read().planes
    pool.give(first)
    assert source.read().planes[0] is first[0]


def test_two_held_frames_do_not_share_memory() -> None:
    source = opened(realtime=False)
    one, two = source.read(), source.read()
    assert not np.shares_memory(one.planes[0], two.planes[0])


def test_truth_of_a_delivered_picture() -> None:
    source = opened({"clouds": "on", "begin": "50"}, realtime=False)
    picture = source.read()
    assert source.truth(picture).seconds == 50.0
    assert source.truth(picture).lights.sun == 1.0


def test_the_address_names_the_format() -> None:
    source = opened({"bits": "10", "curve": "acescct", "size": "64x36", "rate": "50"}, realtime=False)
    made = source.read().format
    assert (made.layout, made.width, made.height, made.rate) == ("yuv422p10le", 64, 36, 50.0)
    assert (made.encoding.bits, made.encoding.range, made.encoding.matrix) == (10, "narrow", "bt709")
    assert (made.encoding.curve, made.encoding.curve_from) == ("acescct", "tag")


def test_options_decide_what_the_address_leaves_open() -> None:
    source = SceneSource("scene:boathouse", {}, FeedOptions(width=64, height=36, rate=10.0, layout="nv12", curve="hlg",
                                                             range="full", realtime=False), FramePool())  # fmt: skip
    source.open()
    made = source.read().format
    assert (made.width, made.height, made.rate, made.layout) == (64, 36, 10.0, "nv12")
    assert (made.encoding.curve, made.encoding.curve_from, made.encoding.range) == ("hlg", "asked", "full")


def test_the_operators_word_beside_the_address_changes_the_reading_and_not_the_codes() -> None:
    still = {"noise": "off", "curve": "acescct"}
    plain = opened(still, realtime=False).read()
    asked = opened(still, realtime=False, curve="bt709").read()
    assert asked.format.encoding.curve == "bt709"
    assert asked.format.encoding.curve_from == "asked"
    np.testing.assert_array_equal(plain.planes[0], asked.planes[0])


@pytest.mark.parametrize(
    "name,query,hint",
    [
        ("scene:boathose", {}, "scene:boathouse"),
        ("scene:boathouse", {"shuter": "90"}, "shutter"),
        ("scene:boathouse", {"curve": "acesct"}, "acescct"),
        ("scene:boathouse", {"layout": "yuyv42"}, "yuyv422"),
        ("scene:boathouse", {"complexion": "tanned"}, "tan"),
    ],
)
def test_a_wrong_word_is_refused_with_the_nearest_right_one(name: str, query: dict[str, str], hint: str) -> None:
    with pytest.raises(UsageError) as caught:
        SceneSource(name, query, FeedOptions(), FramePool())
    assert f"did you mean {hint}" in str(caught.value)
    assert "\n" not in str(caught.value)
    assert caught.value.exit_code == 2
