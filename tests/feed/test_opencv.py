"""The reader for other systems, without a camera; with one it is tested in tests/device."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from analysis.feed.opencv import OpenCvSource
from analysis.feed.pool import FramePool
from analysis.feed.source import FeedOptions, Source
from analysis.model.errors import FeedCorrupt, FeedGone, FeedUnreadable


def source(address: str = "device:0", **asked) -> OpenCvSource:
    return OpenCvSource(address, FeedOptions(**asked), FramePool())


def test_it_is_a_source_and_says_that_it_is_approximate() -> None:
    assert isinstance(source(), Source) and source().approximate is True


def test_no_such_camera_is_one_quiet_line(capfd: pytest.CaptureFixture[str]) -> None:
    """The real thing: no machine has a camera number 97."""
    feed = source("device:97")
    with pytest.raises(FeedGone, match="device:97: no camera can be opened here") as told:
        feed.open()
    assert "\n" not in str(told.value)
    assert capfd.readouterr() == ("", ""), "OpenCV would write over the screen"
    feed.close()


@pytest.mark.parametrize("address", ["device:", "device:front", "device:-1", "device:²"])
def test_a_device_is_named_by_its_number(address: str) -> None:
    with pytest.raises(FeedUnreadable, match="write device:0"):
        source(address).open()


def test_native_layouts_are_refused_in_words() -> None:
    with pytest.raises(FeedUnreadable, match=r"the layout nv12 is not available here; only bgr24 is"):
        source(layout="nv12").open()


class Camera:
    """What OpenCV's VideoCapture answers, from a script."""

    def __init__(self, *pictures: object, size: tuple[int, int] = (6, 4)) -> None:
        self.pictures = list(pictures)
        self.values = {cv2.CAP_PROP_FRAME_WIDTH: size[0], cv2.CAP_PROP_FRAME_HEIGHT: size[1], cv2.CAP_PROP_FPS: 30.0}
        self.released = False
        self.asked: list[tuple[int, float]] = []

    def isOpened(self) -> bool:
        return True

    def set(self, name: int, value: float) -> bool:
        self.asked.append((name, value))
        return True  # as the real one: even when nothing was set

    def get(self, name: int) -> float:
        return float(self.values[name])

    def read(self) -> tuple[bool, object]:
        return (True, self.pictures.pop(0)) if self.pictures else (False, None)

    def release(self) -> None:
        self.released = True


@pytest.fixture
def camera(monkeypatch: pytest.MonkeyPatch) -> Camera:
    made = Camera(np.arange(72, dtype=np.uint8).reshape(4, 6, 3))
    monkeypatch.setattr(cv2, "VideoCapture", lambda index: made)
    return made


def test_pictures_are_bgr_in_full_range(camera: Camera) -> None:
    feed = source()
    feed.open()
    picture = feed.read()
    assert picture.planes[0].shape == (4, 18) and picture.planes[0].ravel().tolist() == list(range(72))
    shape = picture.format
    assert (shape.layout, shape.width, shape.height, shape.rate) == ("bgr24", 6, 4, 30.0)
    assert (shape.encoding.range, shape.encoding.matrix, shape.encoding.range_from) == ("full", "rgb", "assumed")
    with pytest.raises(FeedGone, match="gives no more pictures"):
        feed.read()
    feed.close()
    feed.close()
    assert camera.released


def test_a_size_that_was_not_taken_is_told(camera: Camera) -> None:
    feed = source(width=800, height=600)
    with pytest.raises(FeedUnreadable, match="took 6x4 where 800x600 was asked"):
        feed.open()
    assert camera.released and (cv2.CAP_PROP_FRAME_WIDTH, 800) in camera.asked


def test_a_change_of_size_changes_the_format(camera: Camera) -> None:
    camera.pictures.append(np.zeros((2, 2, 3), np.uint8))
    feed = source()
    feed.open()
    sizes = [(picture.format.width, picture.planes[0].shape) for picture in (feed.read(), feed.read())]
    assert sizes == [(6, (4, 18)), (2, (2, 6))]


@pytest.mark.parametrize(
    "strange",
    [
        np.zeros((4, 6), np.uint8),
        np.zeros((4, 6, 3), np.float32),
        np.zeros((0, 6, 3), np.uint8),
        np.zeros((1, 9), np.uint8),
    ],
)
def test_something_else_than_bgr_is_one_bad_frame(camera: Camera, strange: np.ndarray) -> None:
    camera.pictures.insert(0, strange)
    feed = source()
    feed.open()
    with pytest.raises(FeedCorrupt, match="instead of B G R"):
        feed.read()
    assert feed.read() is not None


def test_the_operator_names_range_and_curve(camera: Camera) -> None:
    feed = source(range="narrow", curve="rec709")
    feed.open()
    encoding = feed.read().format.encoding
    assert (encoding.range, encoding.range_from, encoding.curve, encoding.curve_from) == (
        "narrow", "asked", "rec709", "asked",
    )  # fmt: skip
