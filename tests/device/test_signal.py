"""An HDMI input: its pictures bit for bit, its signal lost, its size changed."""

from __future__ import annotations

import time
from collections.abc import Iterator

import numpy as np
import pytest

from analysis.model.errors import FeedError, NoSignal
from tests.device import vivid
from tests.device.hdmi_sender import HdmiSender

# CTA-861 timings of 1280x720 at 30 Hz (VIC 62), as v4l2-ctl wants them
TIMINGS = "width=1280,height=720,interlaced=0,polarities=3,pixelclock=74250000,hfp=1760,hs=40,hbp=220,vfp=5,vs=5,vbp=20"


@pytest.fixture
def hdmi() -> Iterator[None]:
    """The camera's HDMI input in use, with a signal of 1280x720."""
    vivid.choose_input(vivid.HDMI)
    vivid.control("dv_timings_signal_mode=0")
    vivid.command(f"--set-dv-bt-timings={TIMINGS}")
    yield
    vivid.choose_input(vivid.HDMI)
    vivid.control("dv_timings_signal_mode=0")


@pytest.fixture
def looped(hdmi) -> Iterator[None]:
    """What goes into the driver's HDMI output comes in at its input, unscaled."""
    vivid.control("enable_output_cropping=0,enable_output_composing=0,enable_output_scaler=0", vivid.OUTPUT)
    vivid.control("enable_capture_cropping=0,enable_capture_composing=0,enable_capture_scaler=0")
    vivid.command("-o", "1", node=vivid.OUTPUT)
    vivid.command(f"--set-dv-bt-timings={TIMINGS}", node=vivid.OUTPUT)
    vivid.loop_hdmi()
    yield
    vivid.unloop_hdmi()
    vivid.control("enable_capture_cropping=1,enable_capture_composing=1,enable_capture_scaler=1")


def arrived(source, planes: list[np.ndarray], seconds: float = 30.0) -> bool:
    """Whether exactly these planes come out within some time (pictures under way come first)."""
    limit = time.monotonic() + seconds
    while time.monotonic() < limit:
        picture = source.read()
        if all(np.array_equal(found, sent) for found, sent in zip(picture.planes, planes, strict=True)):
            return True
    return False


@pytest.mark.parametrize(
    "fourcc,layout,shapes",
    [
        ("YUYV", "yuyv422", [(720, 2560)]),
        ("NV16", "nv16", [(720, 1280), (720, 1280)]),
        ("422P", "yuv422p", [(720, 1280), (720, 640), (720, 640)]),
        ("RGB3", "rgb24", [(720, 3840)]),
    ],
)
def test_any_pixels_arrive_bit_for_bit(feed, looped, fourcc: str, layout: str, shapes: list[tuple[int, int]]) -> None:
    """Codes that are illegal in video (0 and 255) among them: nothing is clipped, expanded or scaled on the way."""
    vivid.command(f"--set-fmt-video-out=width=1280,height=720,pixelformat={fourcc}", node=vivid.OUTPUT)
    vivid.command(f"--set-fmt-video=width=1280,height=720,pixelformat={fourcc}")
    dice = np.random.default_rng(720)
    first, second = ([dice.integers(0, 256, shape, dtype=np.uint8) for shape in shapes] for _ in range(2))
    assert {int(first[0].min()), int(first[0].max())} == {0, 255}
    with HdmiSender(vivid.OUTPUT, b"".join(plane.tobytes() for plane in first)) as sender:
        source = feed(small=False, layout=layout)
        assert source.kind == "hdmi"
        assert arrived(source, first)
        sender.picture = b"".join(plane.tobytes() for plane in second)
        assert arrived(source, second)
        source.close()


@pytest.mark.parametrize("mode,words", [(1, "no signal"), (2, "lock"), (3, "")], ids=["no signal", "no lock", "range"])
def test_a_lost_signal_is_told_although_pictures_go_on(feed, hdmi, mode: int, words: str) -> None:
    source = feed(small=False)
    before = source.read().source_sequence
    vivid.control(f"dv_timings_signal_mode={mode}")
    told = first_error(source)
    assert isinstance(told, NoSignal) and words in str(told)
    for _ in range(3):
        with pytest.raises(NoSignal):
            source.read()
    vivid.control("dv_timings_signal_mode=0")
    back = source.read()
    assert back.source_sequence == before + 1 or back.source_sequence > before
    assert back.planes[0].shape == (720, 2560)


def first_error(source, seconds: float = 5.0) -> FeedError:
    """The first complaint; only pictures that were under way may come before it."""
    limit = time.monotonic() + seconds
    while time.monotonic() < limit:
        try:
            source.read()
        except FeedError as error:
            return error
    raise AssertionError("pictures without a signal were taken for pictures")


def test_an_input_without_a_signal_cannot_be_opened(feed, hdmi) -> None:
    vivid.control("dv_timings_signal_mode=1")
    with pytest.raises(NoSignal, match=r"the input HDMI \S+ has no signal; check the cable"):
        feed(small=False)
    vivid.control("dv_timings_signal_mode=0")
    assert feed(small=False).read() is not None


def test_waiting_for_a_signal_is_paced(feed, hdmi) -> None:
    source = feed(small=False)
    vivid.control("dv_timings_signal_mode=1")
    first_error(source)
    begun, spent = time.monotonic(), time.process_time()
    for _ in range(4):
        with pytest.raises(NoSignal):
            source.read()
    assert time.monotonic() - begun >= 0.9
    assert time.process_time() - spent < 0.5


def test_a_change_of_size_is_followed(feed, hdmi) -> None:
    source = feed(small=False)
    shape = source.read().format
    assert (shape.width, shape.height) == (1280, 720)
    vivid.control("dv_timings_signal_mode=4,dv_timings=4")  # another signal: 720x576 at 50 Hz
    seen = [shape]
    limit = time.monotonic() + 10
    while seen[-1].width == 1280 and time.monotonic() < limit:
        picture = source.read()
        rows, samples = picture.planes[0].shape
        assert (rows, samples) == (picture.format.height, 2 * picture.format.width), "planes and format belong together"
        seen.append(picture.format)
    assert (seen[-1].width, seen[-1].height, seen[-1].rate) == (720, 576, 50.0)
    assert shape.encoding.matrix == "bt709" and seen[-1].encoding.matrix == "bt601", "HD and SD defaults"


def test_scaling_by_the_driver_is_refused(feed, hdmi) -> None:
    with pytest.raises(FeedError, match="no picture of 640x480; it offers 1280x720"):
        feed(width=640, height=480)
