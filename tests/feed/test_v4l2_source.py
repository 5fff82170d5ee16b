"""The native reader against a device that answers from a script: damaged buffers, lost signals, odd drivers."""

from __future__ import annotations

import errno
import itertools
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from analysis.feed.pool import FramePool
from analysis.feed.source import FeedOptions
from analysis.feed.v4l2 import ioctls
from analysis.feed.v4l2.identity import Memory
from analysis.feed.v4l2.source import V4L2Source
from analysis.model.errors import (
    FeedBusy,
    FeedCorrupt,
    FeedGone,
    FeedRefused,
    FeedSilent,
    FeedUnreadable,
    NoSignal,
)
from tests.feed.test_v4l2_jpeg import coded
from tests.support.capture_device import CaptureDevice

GOOD = bytes(range(64))


@pytest.fixture
def device(monkeypatch: pytest.MonkeyPatch) -> Iterator[CaptureDevice]:
    made = CaptureDevice(monkeypatch)
    yield made
    made.close()


def source(device: CaptureDevice, **asked) -> V4L2Source:
    return V4L2Source(device.path, FeedOptions(**{"read_seconds": 0.05, **asked}), FramePool(), Memory())


def opened(device: CaptureDevice, **asked) -> V4L2Source:
    made = source(device, **asked)
    made.open()
    return made


def test_a_picture_is_what_the_buffer_held(device: CaptureDevice) -> None:
    device.pictures = [GOOD]
    feed = opened(device)
    picture = feed.read()
    assert picture.planes[0].tobytes() == GOOD and picture.planes[0].shape == (4, 16)
    assert (picture.format.layout, picture.format.width, picture.format.height) == ("yuyv422", 8, 4)
    assert (picture.format.rate, picture.source_sequence, picture.source_seconds) == (25.0, 0, 100.25)
    assert not picture.corrupt
    feed.close()


def test_padding_at_the_end_of_lines_is_left_out(device: CaptureDevice) -> None:
    device.bytesperline, device.sizeimage = 24, 96
    lines = [bytes([row]) * 16 + b"\xee" * 8 for row in range(4)]
    device.pictures = [b"".join(lines), b"".join(lines)[:-8]]
    feed = opened(device)
    for _ in range(2):
        assert feed.read().planes[0].tolist() == [[row] * 16 for row in range(4)]
    feed.close()


def test_the_buffer_goes_back_at_once_and_the_planes_stay(device: CaptureDevice) -> None:
    device.pictures = [bytes([value]) * 64 for value in range(1, 10)]
    feed = opened(device)
    pictures = [feed.read() for _ in range(9)]
    assert [int(picture.planes[0][0, 0]) for picture in pictures] == list(range(1, 10)), "copies, not views"
    assert sorted(device.queued) == [0, 1, 2, 3]
    feed.close()


@pytest.mark.parametrize(
    "used,words", [(0, "too short: 0 bytes"), (63, "too short: 63 bytes where 64"), (65, "too long")]
)
def test_a_buffer_of_the_wrong_length_is_one_bad_frame(device: CaptureDevice, used: int, words: str) -> None:
    device.pictures = [bytes(used), GOOD]
    feed = opened(device)
    with pytest.raises(FeedCorrupt, match=words):
        feed.read()
    assert feed.read().planes[0].tobytes() == GOOD, "the buffer was given back and the next picture is good"
    assert len(device.queued) == 4
    feed.close()


def test_the_drivers_error_mark(device: CaptureDevice) -> None:
    device.pictures = [(GOOD, ioctls.BUF_FLAG_ERROR), (b"", ioctls.BUF_FLAG_ERROR), GOOD]
    feed = opened(device)
    assert feed.read().corrupt
    with pytest.raises(FeedCorrupt):
        feed.read()
    good = feed.read()
    assert not good.corrupt and good.source_sequence == 2
    feed.close()


@pytest.mark.parametrize(
    "number,kind", [(errno.ENODEV, FeedGone), (errno.EIO, FeedGone), (errno.EINVAL, FeedGone), (errno.EPIPE, FeedGone)]
)
def test_errors_while_reading(device: CaptureDevice, number: int, kind: type[Exception]) -> None:
    device.pictures = [OSError(number, "x")]
    feed = opened(device)
    with pytest.raises(kind, match="while reading"):
        feed.read()
    feed.close()


def test_silence_has_a_deadline_and_is_no_end(device: CaptureDevice) -> None:
    feed = opened(device)
    with pytest.raises(FeedSilent, match=r"no picture for 0\.05 s"):
        feed.read()
    device.pictures = [GOOD]
    assert feed.read().planes[0].tobytes() == GOOD
    feed.close()


@pytest.mark.parametrize("rate,patience", [(25, 1.0), (8, 1.0), (1, 8.0)])
def test_a_slow_camera_is_given_eight_intervals(
    device: CaptureDevice, monkeypatch: pytest.MonkeyPatch, rate: int, patience: float
) -> None:
    device.rates = [rate]
    feed = opened(device, read_seconds=None)
    monkeypatch.setattr("time.monotonic", itertools.count(0.0, 0.25).__next__)
    with pytest.raises(FeedSilent, match=f"no picture for {patience:g} s"):
        feed.read()
    feed.close()


@pytest.mark.parametrize(
    "request_number,error,kind",
    [
        (ioctls.S_FMT, errno.EBUSY, FeedBusy),
        (ioctls.REQBUFS, errno.EBUSY, FeedBusy),
        (ioctls.STREAMON, errno.EIO, FeedGone),
        (ioctls.STREAMON, errno.ENOSPC, FeedBusy),
        (ioctls.QUERYCAP, errno.EPERM, FeedRefused),
        (ioctls.QUERYBUF, errno.EINVAL, FeedGone),
    ],
)
def test_a_failed_opening_leaves_nothing_open(
    device: CaptureDevice, request_number: int, error: int, kind: type[Exception]
) -> None:
    device.fail[request_number] = OSError(error, "x")
    before = len(list(Path("/proc/self/fd").iterdir()))
    with pytest.raises(kind):
        opened(device)
    assert len(list(Path("/proc/self/fd").iterdir())) == before
    assert "memfd:capture" not in Path("/proc/self/maps").read_text()
    assert not device.streaming


@pytest.mark.parametrize(
    "taken,words",
    [
        ({"width": 16}, "the device took YUYV 16x4 where YUYV 8x4 was asked"),
        ({"height": 2}, "YUYV 8x2"),
        ({"pixelformat": 0x3231564E}, "the device took NV12 8x4"),
        ({"sizeimage": 32}, "announces 32 bytes a picture where 64 are due"),
    ],
)
def test_a_driver_that_takes_something_else_is_refused(device: CaptureDevice, taken: dict, words: str) -> None:
    device.taken = taken
    with pytest.raises(FeedUnreadable, match=words):
        opened(device)


@pytest.mark.parametrize(
    "capabilities,words",
    [
        (ioctls.CAP_STREAMING, "not a capture device"),
        (ioctls.CAP_VIDEO_CAPTURE, "cannot stream into shared memory"),
    ],
)
def test_devices_that_cannot_be_read(device: CaptureDevice, capabilities: int, words: str) -> None:
    device.capabilities = capabilities
    with pytest.raises(FeedUnreadable, match=words):
        opened(device)


def test_what_a_node_can_do_outweighs_what_its_device_can(device: CaptureDevice) -> None:
    """A metadata node of a camera says "capture" for the whole device (V4L2_CAP_DEVICE_CAPS)."""
    device.capabilities |= ioctls.CAP_DEVICE_CAPS
    with pytest.raises(FeedUnreadable, match="not a capture device"):
        opened(device)


# --- the signal -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("status,words", [(0x1, "no power"), (0x2, "no signal"), (0x100, "no horizontal lock"),
                                          (0x10000, "no lock"), (0x10002, "no signal, no lock")])  # fmt: skip
def test_status_bits_in_words(device: CaptureDevice, status: int, words: str) -> None:
    device.status = status
    with pytest.raises(NoSignal, match=f"the input Socket has {words}"):
        opened(device)


@pytest.mark.parametrize("status", [0x4, 0x10, 0x20, 0x200])
def test_colour_and_flip_bits_are_no_loss(device: CaptureDevice, status: int) -> None:
    device.status, device.pictures = status, [GOOD]
    feed = opened(device)
    assert feed.kind == "camera" and feed.read() is not None
    feed.close()


@pytest.fixture
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    """Look at the signal before every picture, so that no test waits for the next look."""
    monkeypatch.setattr("analysis.feed.v4l2.source.LOOK_EVERY", 0.0)


@pytest.mark.usefixtures("impatient")
def test_pictures_that_came_without_a_signal_are_thrown_away(device: CaptureDevice) -> None:
    device.status, device.pictures = 0, [GOOD]
    feed = opened(device)
    feed.read()
    device.status, device.pictures = 0x2, [b"\x55" * 64]
    for _ in range(2):
        with pytest.raises(NoSignal):
            feed.read()
    assert not device.streaming
    device.status, device.pictures = 0, [GOOD]
    back = feed.read()
    assert back.planes[0].tobytes() == GOOD and back.source_sequence == 1, "counting goes on"
    feed.close()


@pytest.mark.usefixtures("impatient")
@pytest.mark.parametrize(
    "number,words", [(errno.ENOLINK, "no signal"), (errno.ENOLCK, "cannot lock"), (errno.ERANGE, "outside")]
)
def test_dead_timings_are_no_signal(device: CaptureDevice, number: int, words: str) -> None:
    device.status, device.signal, device.pictures = 0, (8, 4), [GOOD]
    feed = opened(device)
    assert feed.kind == "hdmi" and feed.read() is not None
    device.signal = OSError(number, "x")
    with pytest.raises(NoSignal, match=words):
        feed.read()
    feed.close()
    device.signal = OSError(number, "x")
    with pytest.raises(NoSignal, match=words):
        opened(device)


@pytest.mark.usefixtures("impatient")
def test_another_signal_is_adopted_between_two_pictures(device: CaptureDevice) -> None:
    device.status, device.signal, device.pictures = 0, (8, 4), [GOOD]
    feed = opened(device)
    first = feed.read()
    device.signal, device.pictures = (4, 2), [GOOD[:16]]
    second = feed.read()
    assert [plane.shape for plane in second.planes] == [(2, 8)]
    assert (first.format.width, second.format.width, second.format.height) == (8, 4, 2)
    assert second.source_sequence == 1
    feed.close()


def test_a_signal_that_cannot_be_taken_is_named(device: CaptureDevice) -> None:
    device.status, device.signal, device.fail[ioctls.S_DV_TIMINGS] = 0, (720, 480), OSError(errno.EINVAL, "x")
    with pytest.raises(NoSignal, match="the device cannot take the signal it sees, 720x480; set the camera's output"):
        opened(device)


@pytest.mark.parametrize("number", [errno.ENOTTY, errno.EINVAL, errno.ENODATA, errno.EBUSY])
def test_a_driver_that_cannot_detect_a_signal_is_taken_as_it_is_set(device: CaptureDevice, number: int) -> None:
    device.status, device.signal, device.adopted = 0, OSError(number, "x"), (8, 4)
    device.pictures = [GOOD]
    feed = opened(device)
    assert feed.read().format.width == 8
    feed.close()


# --- formats ----------------------------------------------------------------------------------------------------------


def test_jpeg_pictures_are_decoded_and_bad_ones_skipped(monkeypatch: pytest.MonkeyPatch) -> None:
    device = CaptureDevice(monkeypatch, "MJPG", (64, 48))
    device.bytesperline, device.sizeimage = 0, 1 << 16
    picture = coded("yuvj420p", luma=180)
    device.pictures = [picture, picture[: len(picture) // 2], (picture, ioctls.BUF_FLAG_ERROR), picture]
    feed = opened(device)
    good = feed.read()
    assert good.format.layout == "yuvj420p" and good.format.encoding.range == "full"
    assert abs(int(np.median(good.planes[0])) - 180) <= 1
    for words in ("JPEG", "marked a picture as damaged"):
        with pytest.raises(FeedCorrupt, match=words):
            feed.read()
    assert feed.read().source_sequence == 3
    feed.close()
    device.close()


def test_ten_bits_come_out_as_numbers(monkeypatch: pytest.MonkeyPatch) -> None:
    device = CaptureDevice(monkeypatch, "Y210", (4, 2))
    device.bytesperline, device.sizeimage = 16, 32
    codes = np.arange(16, dtype="<u2") * 64
    device.pictures = [codes.tobytes()]
    picture = opened(device).read()
    assert picture.planes[0].dtype == np.uint16 and picture.planes[0].ravel().tolist() == codes.tolist()
    assert picture.format.encoding.bits == 10
    device.close()


def test_arrays_come_from_the_pool_and_go_back(device: CaptureDevice) -> None:
    pool = FramePool()
    device.pictures = [GOOD, GOOD]
    feed = V4L2Source(device.path, FeedOptions(), pool, Memory())
    feed.open()
    first = feed.read().planes
    pool.give(first)
    assert feed.read().planes[0] is first[0]
    feed.close()


@pytest.mark.parametrize("where", [ioctls.STREAMON, ioctls.DQBUF], ids=["while opening", "while reading"])
def test_closed_while_the_kernel_has_the_thread(
    device: CaptureDevice, monkeypatch: pytest.MonkeyPatch, where: int
) -> None:
    """Closing does not wait for it, and the thread lets go of everything when it comes back."""
    monkeypatch.setattr("analysis.feed.v4l2.source.CLOSE_SECONDS", 0.01)
    device.pictures = [GOOD]
    feed = source(device)
    answer = device.answers[where]
    device.answers[where] = lambda raw: (feed.close(), answer(raw))
    before = len(list(Path("/proc/self/fd").iterdir()))
    if where == ioctls.STREAMON:
        with pytest.raises(FeedGone, match="closed"):
            feed.open()
    else:
        feed.open()
        assert feed.read().planes[0].tobytes() == GOOD
    assert not device.streaming
    assert len(list(Path("/proc/self/fd").iterdir())) == before
    with pytest.raises(FeedGone, match="closed"):
        feed.read()


def test_closed_is_closed(device: CaptureDevice) -> None:
    device.pictures = [GOOD]
    feed = opened(device)
    feed.close()
    feed.close()
    assert not device.streaming
    with pytest.raises(FeedGone, match="closed"):
        feed.read()
