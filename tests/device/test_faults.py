"""What goes wrong with a camera, done to a real driver: silence, damage, loss, refusal."""

from __future__ import annotations

import os
import threading
import time
from itertools import pairwise
from pathlib import Path

import pytest

from analysis.feed.v4l2.device import Device
from analysis.model.errors import FeedBusy, FeedError, FeedGone, FeedRefused, FeedSilent, FeedUnreadable
from tests.device import vivid


def until_error(source, seconds: float = 20.0) -> FeedError:
    """Read on until the source complains."""
    limit = time.monotonic() + seconds
    while time.monotonic() < limit:
        try:
            source.read()
        except FeedError as error:
            return error
    raise AssertionError("no complaint")


def test_a_silent_camera_is_told_at_its_deadline_and_recovers(feed) -> None:
    source = feed(read_seconds=0.5)
    source.read()
    vivid.control("percentage_of_dropped_buffers=100")
    told = until_error(source)
    assert isinstance(told, FeedSilent) and "no picture for 0.5 s" in str(told)
    begun = time.monotonic()
    with pytest.raises(FeedSilent):
        source.read()
    assert 0.45 <= time.monotonic() - begun <= 5
    vivid.control("percentage_of_dropped_buffers=0")
    assert source.read().planes[0].shape == (180, 640)


def test_lost_pictures_show_in_the_drivers_own_count(feed) -> None:
    source = feed()
    vivid.control("percentage_of_dropped_buffers=50")
    numbers = [source.read().source_sequence for _ in range(30)]
    steps = [later - earlier for earlier, later in pairwise(numbers)]
    assert min(steps) >= 1
    assert sum(steps) - len(steps) >= 5, "half of the pictures were dropped, and the numbers do not show it"


def test_without_loss_the_count_has_no_gap(feed) -> None:
    source = feed(rate=10)
    numbers = [source.read().source_sequence for _ in range(6)]
    assert numbers == list(range(numbers[0], numbers[0] + 6))


def test_the_clock_of_the_driver_is_monotonic_time(feed) -> None:
    source = feed()
    pictures = [source.read() for _ in range(5)]
    assert all(later.source_seconds > earlier.source_seconds for earlier, later in pairwise(pictures))
    assert -1.0 < time.monotonic() - pictures[-1].source_seconds < 1.0


def test_the_drivers_error_mark_reaches_the_picture_and_the_next_is_good(feed) -> None:
    source = feed()
    assert not source.read().corrupt
    vivid.control("inject_v4l2_buf_flag_error=1")
    marks = [source.read().corrupt for _ in range(12)]
    assert marks.count(True) == 1 and not marks[-1]


def test_a_fatal_error_of_the_driver(feed) -> None:
    source = feed()
    source.read()
    vivid.control("inject_fatal_streaming_error=1")
    told = until_error(source)
    assert isinstance(told, FeedGone) and "the device" in str(told)
    source.close()
    assert feed().read().planes[0].shape == (180, 640)


def test_two_watchers_of_one_camera(feed) -> None:
    first = feed()
    first.read()
    with pytest.raises(FeedBusy, match="in use by another program; close that program"):
        feed()
    assert first.read() is not None, "the first watcher is not disturbed"
    first.close()
    assert feed().read() is not None


def test_no_permission(feed) -> None:
    Path(vivid.CAMERA).chmod(0o600)
    os.seteuid(65534)
    try:
        with pytest.raises(FeedRefused, match="permission denied; add yourself to the video group"):
            feed()
    finally:
        os.seteuid(0)


@pytest.mark.parametrize("node", [vivid.OUTPUT, "/dev/video2"], ids=["output", "metadata"])
def test_nodes_that_deliver_no_pictures(feed, node: str) -> None:
    with pytest.raises(FeedUnreadable, match="not a capture device"):
        feed(node)


def test_a_size_the_camera_does_not_have_is_refused_and_not_sheared(feed) -> None:
    with pytest.raises(FeedUnreadable, match="no picture of 600x340; it offers 320x180, 640x360"):
        feed(width=600, height=340)


def test_the_asked_rate_is_set_and_reported(feed) -> None:
    assert feed(rate=25).read().format.rate == 25.0


def test_by_itself_it_takes_a_422_picture_at_a_usable_rate(feed) -> None:
    shape = feed(small=False).read().format
    assert shape.rate >= 24 and 640 * 480 <= shape.width * shape.height <= 1920 * 1080
    assert shape.layout in {"yuyv422", "uyvy422", "yvyu422", "yuv422p", "nv16"}


def test_closing_ends_a_read_in_another_thread_at_once(feed) -> None:
    source = feed(read_seconds=60.0)
    source.read()
    vivid.control("percentage_of_dropped_buffers=100")
    told: list[FeedError] = []
    reader = threading.Thread(target=lambda: told.append(until_error(source)))
    reader.start()
    time.sleep(1.0)
    source.close()
    reader.join(timeout=10)
    assert not reader.is_alive()
    assert isinstance(told[0], FeedGone) and "closed" in str(told[0])


def test_opening_and_closing_leaves_nothing_behind(feed) -> None:
    feed().close()
    before = len(list(Path("/proc/self/fd").iterdir()))
    for _ in range(15):
        source = feed()
        source.read()
        source.close()
    assert len(list(Path("/proc/self/fd").iterdir())) == before
    assert "/dev/video" not in Path("/proc/self/maps").read_text(), "buffers of the driver are still mapped"
    device = Device(vivid.CAMERA)
    assert not device.is_held()
    device.close()
