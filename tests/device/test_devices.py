"""The list of devices, and the reader for other systems, on a real driver."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.feed.devices import first_capture_device, list_devices
from analysis.feed.opencv import OpenCvSource
from analysis.feed.pool import FramePool
from analysis.feed.source import FeedOptions
from analysis.model.errors import FeedGone, FeedUnreadable
from tests.device import vivid


def test_the_list_names_the_cameras_and_nothing_else() -> None:
    found = list_devices()
    assert [info.path for info in found] == ["/dev/video0", "/dev/video4"]
    assert {info.name for info in found} == {"vivid"}
    assert [info.bus for info in found] == ["platform:vivid-000", "platform:vivid-001"]
    assert all(info.usable for info in found)
    assert first_capture_device() == "/dev/video0"


def test_inputs_formats_sizes_and_rates() -> None:
    camera = list_devices()[0]
    assert [(entry.name.split()[0], entry.in_use, entry.status, entry.timings) for entry in camera.inputs] == [
        ("Webcam", True, "ok", False),
        ("TV", False, "ok", False),
        ("S-Video", False, "ok", False),
        ("HDMI", False, "ok", True),
    ]
    formats = {offered.fourcc: offered for offered in camera.formats}
    assert formats["YUYV"].layout == "yuyv422" and formats["HSV3"].layout is None
    small = formats["YUYV"].sizes[0]
    assert (small.width, small.height) == (320, 180) and small.rates[0] >= 60.0 and 25.0 in small.rates


def test_a_lost_signal_shows_in_the_list() -> None:
    vivid.choose_input(vivid.HDMI)
    vivid.control("dv_timings_signal_mode=1")
    try:
        entry = next(entry for entry in list_devices()[0].inputs if entry.in_use)
        assert (entry.name.split()[0], entry.status) == ("HDMI", "no signal")
    finally:
        vivid.control("dv_timings_signal_mode=0")


def test_a_held_camera_is_noted_and_the_other_one_offered(feed) -> None:
    feed().read()
    held, free = list_devices()
    assert held.note == "in use by another program; close that program" and held.formats
    assert free.usable and first_capture_device() == free.path


def test_looking_does_not_disturb_who_watches(feed) -> None:
    source = feed(layout="nv12")
    source.read()
    list_devices()
    picture = source.read()
    assert picture.format.layout == "nv12"
    source.close()
    list_devices()
    assert "NV12" in vivid.command("--get-fmt-video"), "the setting is left as it was"


def test_opencv_delivers_an_approximation(capfd: pytest.CaptureFixture[str]) -> None:
    vivid.control("test_pattern=1")
    source = OpenCvSource("device:0", FeedOptions(width=640, height=360), FramePool())
    source.open()
    assert source.approximate
    for _ in range(6):
        picture = source.read()
    assert (picture.format.layout, picture.format.width, picture.format.height) == ("bgr24", 640, 360)
    pixels = picture.planes[0].reshape(360, 640, 3)[180, 40::80].astype(int)
    bars = [(1, 1, 1), (1, 1, 0), (0, 1, 1), (0, 1, 0), (1, 0, 1), (1, 0, 0), (0, 0, 1), (0, 0, 0)]
    assert np.abs(pixels - 255 * np.array(bars)[:, ::-1]).max() <= 12, "approximate, but these colours"
    source.close()
    with pytest.raises(FeedGone):
        source.read()
    assert capfd.readouterr().err == ""


def test_opencv_and_an_unplugged_camera() -> None:
    source = OpenCvSource("device:0", FeedOptions(), FramePool())
    source.open()
    source.read()
    vivid.unplug()
    with pytest.raises(FeedGone, match="no more pictures"):
        for _ in range(20):
            source.read()
    source.close()


def test_opencv_refuses_a_size_the_camera_does_not_have() -> None:
    source = OpenCvSource("device:0", FeedOptions(width=800, height=600), FramePool())
    with pytest.raises(FeedUnreadable, match="where 800x600 was asked"):
        source.open()
    source.close()
