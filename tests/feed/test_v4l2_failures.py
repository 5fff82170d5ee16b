"""Every error number of the kernel becomes one of our own errors, in words."""

from __future__ import annotations

import errno
from pathlib import Path

import pytest

from analysis.feed.pool import FramePool
from analysis.feed.source import FeedOptions, Source
from analysis.feed.v4l2.failures import failure
from analysis.feed.v4l2.identity import Memory
from analysis.feed.v4l2.source import V4L2Source
from analysis.model.errors import (
    FeedBusy,
    FeedError,
    FeedGone,
    FeedRefused,
    FeedUnreadable,
    NoSignal,
)


# Meanings: kernel documentation, "Generic Error Codes" and the ioctls' own return values (QUERY_DV_TIMINGS, QBUF).
@pytest.mark.parametrize(
    "number,kind,words",
    [
        (errno.ENODEV, FeedGone, "gone"),
        (errno.ENXIO, FeedGone, "gone"),
        (errno.ENOENT, FeedGone, "no such device"),
        (errno.EIO, FeedGone, "the device failed"),
        (errno.EPROTO, FeedGone, "the device failed"),
        (errno.EBUSY, FeedBusy, "in use by another program"),
        (errno.EACCES, FeedRefused, "permission denied; add yourself to the video group"),
        (errno.EPERM, FeedRefused, "permission denied"),
        (errno.ENOTTY, FeedUnreadable, "not a capture device"),
        (errno.ENOLINK, NoSignal, "no signal"),
        (errno.ENOLCK, NoSignal, "cannot lock"),
        (errno.ERANGE, NoSignal, "outside"),
        (errno.ENOMEM, FeedBusy, "no room"),
        (errno.EINVAL, FeedGone, "refused"),
    ],
)
def test_each_number_has_its_meaning(number: int, kind: type[FeedError], words: str) -> None:
    told = failure(OSError(number, "x"), "/dev/video7", "reading")
    assert type(told) is kind
    assert words in str(told) and str(told).startswith("/dev/video7: ")


@pytest.mark.parametrize("number", sorted(errno.errorcode), ids=lambda number: errno.errorcode[number])
def test_no_number_is_left_without_words(number: int) -> None:
    told = failure(OSError(number, "x"), "/dev/video7", "reading")
    assert isinstance(told, FeedError)
    assert told.what and "\n" not in str(told)


def test_an_error_without_a_number() -> None:
    assert "no reason given" in str(failure(OSError("strange"), "/dev/video7", "reading"))


def source(address: str) -> V4L2Source:
    return V4L2Source(address, FeedOptions(), FramePool(), Memory())


def test_it_is_a_source() -> None:
    assert isinstance(source("/dev/video0"), Source)
    assert source("/dev/video0").approximate is False


@pytest.mark.parametrize(
    "address,kind,words",
    [
        ("/dev/video4095", FeedGone, "no such device"),
        ("/dev/v4l/by-id/usb-Boat_Camera-video-index0", FeedGone, "no such device"),
        ("/dev/null", FeedUnreadable, "not a capture device"),
        ("/dev", FeedUnreadable, "not a capture device"),
    ],
)
def test_the_kernels_own_answers(address: str, kind: type[FeedError], words: str) -> None:
    """Real files of this machine, opened for real."""
    feed = source(address)
    with pytest.raises(kind, match=words):
        feed.open()
    feed.close()
    with pytest.raises(FeedGone, match="closed"):
        feed.read()


def test_a_file_is_not_a_device(tmp_path: Path) -> None:
    (tmp_path / "picture").write_bytes(b"x")
    with pytest.raises(FeedUnreadable, match="not a capture device"):
        source(str(tmp_path / "picture")).open()


def test_failed_opens_leave_no_descriptor_behind() -> None:
    before = len(list(Path("/proc/self/fd").iterdir()))
    for _ in range(20):
        with pytest.raises(FeedUnreadable):
            source("/dev/null").open()
    assert len(list(Path("/proc/self/fd").iterdir())) == before


def test_closing_what_was_never_open() -> None:
    feed = source("/dev/video0")
    feed.close()
    feed.close()
