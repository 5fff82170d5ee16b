"""JPEG pictures of a device, against pictures coded and decoded by PyAV's own means."""

from __future__ import annotations

from fractions import Fraction

import av
import numpy as np
import pytest

from analysis.feed.pool import FramePool
from analysis.feed.v4l2.jpeg import JpegDecoder
from analysis.model.errors import FeedCorrupt


def coded(layout: str = "yuvj422p", width: int = 64, height: int = 48, luma: int | None = None) -> bytes:
    """One JPEG picture: a luma ramp (or one level) over neutral chroma."""
    frame = av.VideoFrame(width, height, layout)
    for number, plane in enumerate(frame.planes):
        lines = np.full((plane.height, plane.line_size), 128, np.uint8)
        if number == 0:
            lines[:, :width] = np.linspace(0, 255, width).astype(np.uint8)[None] if luma is None else luma
        plane.update(lines.tobytes())
    encoder = av.CodecContext.create("mjpeg", "w")
    encoder.width, encoder.height, encoder.pix_fmt = width, height, layout
    encoder.time_base = Fraction(1, 25)
    encoder.options = {"qmin": "1", "q": "1"}
    return b"".join(bytes(packet) for packet in [*encoder.encode(frame), *encoder.encode(None)])


@pytest.mark.parametrize("layout", ["yuvj420p", "yuvj422p", "yuvj444p"])
def test_planes_come_out_in_their_own_layout_and_full_range(layout: str) -> None:
    name, width, height, planes = JpegDecoder(FramePool()).decode(coded(layout))
    assert (name, width, height) == (layout, 64, 48)
    frame = av.VideoFrame(64, 48, layout)
    assert [plane.shape for plane in planes] == [(plane.height, plane.width) for plane in frame.planes]
    ramp = np.linspace(0, 255, 64)
    assert np.abs(planes[0].astype(float) - ramp[None]).max() <= 4
    assert planes[0].min() <= 2 and planes[0].max() >= 253, "full range: nothing was squeezed to 16-235"
    for chroma in planes[1:]:
        assert np.abs(chroma.astype(int) - 128).max() <= 1


def test_each_picture_comes_out_of_its_own_call() -> None:
    decoder = JpegDecoder(FramePool())
    for level in (20, 200, 90):
        planes = decoder.decode(coded(luma=level))[3]
        assert abs(int(planes[0].mean()) - level) <= 1


def test_odd_sizes() -> None:
    name, width, height, planes = JpegDecoder(FramePool()).decode(coded("yuvj420p", 33, 17))
    assert (name, width, height) == ("yuvj420p", 33, 17)
    assert [plane.shape for plane in planes] == [(17, 33), (9, 17), (9, 17)]


def test_padding_after_the_picture_is_allowed() -> None:
    """Drivers fill the rest of the buffer with zeros."""
    assert JpegDecoder(FramePool()).decode(coded() + bytes(300))[1] == 64


def damaged_inside(data: bytes) -> bytes:
    """Some bytes in the coded samples overwritten by what can be no code."""
    begin = data.index(b"\xff\xda") + 14
    return data[:begin] + b"\xff\xd0" * 40 + data[begin + 80 :]


@pytest.mark.parametrize(
    "broken",
    [
        pytest.param(lambda data: b"", id="empty"),
        pytest.param(lambda data: b"not a picture", id="text"),
        pytest.param(lambda data: data[: len(data) // 2], id="half"),
        pytest.param(lambda data: data[:-2], id="no end mark"),
        pytest.param(lambda data: data[: len(data) // 2] + b"\xff\xd9", id="half with an end mark"),
        pytest.param(lambda data: data[:2] + data[-2:], id="marks only"),
        pytest.param(damaged_inside, id="damaged inside"),
    ],
)
def test_a_broken_picture_is_told_and_the_next_one_is_good(broken, capfd: pytest.CaptureFixture[str]) -> None:
    decoder = JpegDecoder(FramePool())
    good = coded(luma=77)
    with pytest.raises(FeedCorrupt) as told:
        decoder.decode(broken(coded()), "/dev/video0")
    assert "JPEG" in str(told.value) and "/dev/video0" in str(told.value)
    assert abs(int(decoder.decode(good)[3][0].mean()) - 77) <= 1
    assert capfd.readouterr().err == "", "nothing may be written over the screen"


def test_arrays_come_from_the_pool() -> None:
    pool = FramePool()
    decoder = JpegDecoder(pool)
    first = decoder.decode(coded())[3]
    pool.give(first)
    again = decoder.decode(coded())[3]
    assert {id(plane) for plane in again} == {id(plane) for plane in first}
