"""The kernel's other capture interface, which many built-in receivers speak: the same pictures come out of it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from analysis.feed.devices import list_devices
from analysis.feed.v4l2 import ioctls
from analysis.feed.v4l2.device import Device
from analysis.feed.v4l2.fourcc import NATIVE
from analysis.model.errors import FeedBusy, FeedGone, FeedSilent, FeedUnreadable
from tests.device import vivid
from tests.device.test_bars import BARS, measured, ycbcr
from tests.device.test_faults import until_error


@pytest.fixture(scope="module")
def multiplanar() -> Iterator[None]:
    """The driver loaded with the multi-planar interface, for this file only."""
    vivid.reload("n_devs=1", "multiplanar=2")
    device = Device(vivid.CAMERA)
    assert device.buffer_type == ioctls.BUF_TYPE_VIDEO_CAPTURE_MPLANE
    device.close()
    yield
    vivid.reload(*vivid.LOADED)


@pytest.mark.usefixtures("multiplanar")
class TestMultiplanar:
    @pytest.mark.parametrize("fourcc", ["YUYV", "NV12", "YU12", "YV12", "422P", "NV16"])
    def test_bars(self, feed, fourcc: str) -> None:
        vivid.control("test_pattern=1,y_cbcr_encoding=2,quantization=2")
        shape, codes = measured(feed, NATIVE[fourcc])
        assert (shape.encoding.matrix, shape.encoding.range, shape.encoding.range_from) == ("bt709", "narrow", "tag")
        for bar, colour in enumerate(BARS):
            for wanted, found in zip(ycbcr(colour, "bt709", "narrow"), codes, strict=True):
                assert abs(found[bar] - wanted) <= 2

    def test_rgb(self, feed) -> None:
        vivid.control("test_pattern=1")
        _, codes = measured(feed, NATIVE["RGB3"])
        assert np.abs(np.array(codes).T - 255 * np.array(BARS)).max() <= 2

    def test_formats_of_several_memory_planes_are_not_offered_as_readable(self) -> None:
        (camera,) = list_devices()
        layouts = {offered.fourcc: offered.layout for offered in camera.formats}
        assert camera.usable and layouts["YUYV"] == "yuyv422"
        assert "NM12" in layouts and layouts["NM12"] is None

    def test_faults_are_told_the_same_way(self, feed) -> None:
        source = feed(read_seconds=0.5)
        source.read()
        with pytest.raises(FeedBusy):
            feed()
        vivid.control("inject_v4l2_buf_flag_error=1")
        assert [source.read().corrupt for _ in range(10)].count(True) == 1
        vivid.control("percentage_of_dropped_buffers=100")
        assert isinstance(until_error(source), FeedSilent)
        vivid.unplug()
        assert isinstance(until_error(source), FeedGone)
        source.close()
        vivid.plug()
        assert feed().read().planes[0].shape == (180, 640)

    def test_its_output_is_no_camera(self, feed) -> None:
        with pytest.raises(FeedUnreadable, match="not a capture device"):
            feed(vivid.OUTPUT)
