"""Layouts against FFmpeg itself: its pixel format descriptions, plane sizes and converted pictures."""

from __future__ import annotations

from fractions import Fraction

import av
import av.filter
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.model.errors import FeedCorrupt, FeedUnreadable
from analysis.model.frame import Encoding, FrameFormat, Picture
from analysis.signal.layouts import LARGEST, LAYOUTS, check_planes, component, layout, plane_shapes


def picture(name: str, width: int, height: int, planes: tuple[np.ndarray, ...]) -> Picture:
    shape = FrameFormat(
        layout=name, width=width, height=height, encoding=Encoding(bits=8, range="narrow", matrix="bt709")
    )
    return Picture(planes=planes, format=shape)


def zeros(name: str, width: int, height: int) -> tuple[np.ndarray, ...]:
    how = LAYOUTS[name]
    return tuple(np.zeros(shape, how.dtype) for shape in plane_shapes(how, width, height))


def from_ffmpeg(frame: av.VideoFrame) -> tuple[np.ndarray, ...]:
    """The planes of a PyAV frame without line padding."""
    how = LAYOUTS[frame.format.name]
    planes = []
    for plane, (rows, samples) in zip(frame.planes, plane_shapes(how, frame.width, frame.height), strict=True):
        lines = np.frombuffer(plane, how.dtype).reshape(rows, plane.line_size // how.dtype.itemsize)
        planes.append(lines[:, :samples].copy())
    return tuple(planes)


@pytest.mark.parametrize("name", sorted(LAYOUTS))
def test_depth_and_subsampling_are_ffmpegs(name: str) -> None:
    how, theirs = LAYOUTS[name], av.VideoFormat(name, 33, 17)
    assert how.is_rgb == theirs.is_rgb
    coloured = [part for part in theirs.components if not part.is_alpha]
    assert len(how.components) == len(coloured)
    for ours, part in zip(how.components, coloured, strict=True):
        assert part.bits == how.depth
        assert ours.plane == part.plane
    for index, part in enumerate(coloured):
        planes = zeros(name, 33, 17)
        view = component(how, planes, index, 33)
        assert view.shape == (part.height, part.width), "samples of one component"


@pytest.mark.parametrize("name", sorted(LAYOUTS))
@pytest.mark.parametrize("width,height", [(1, 1), (2, 2), (33, 17), (64, 48), (1920, 1080)])
def test_plane_sizes_are_ffmpegs(name: str, width: int, height: int) -> None:
    how, frame = LAYOUTS[name], av.VideoFrame(width, height, name)
    shapes = plane_shapes(how, width, height)
    assert [plane.height for plane in frame.planes] == [rows for rows, _ in shapes]
    for plane, (_, samples) in zip(frame.planes, shapes, strict=True):
        needed = samples * how.dtype.itemsize
        assert needed <= plane.line_size < needed + 64, "FFmpeg pads a line, by less than 64 bytes"


@pytest.mark.parametrize("name", sorted(LAYOUTS))
def test_components_are_found_where_ffmpeg_put_them(name: str) -> None:
    """One flat colour, converted by FFmpeg to each layout, must come out as the same components."""
    how = LAYOUTS[name]
    graph = av.filter.Graph()
    source = graph.add("color", "c=0x2060c0:s=32x16:r=25:d=1")
    into, sink = graph.add("format", f"pix_fmts={name}"), graph.add("buffersink")
    source.link_to(into)
    into.link_to(sink)
    graph.configure()
    planes = from_ffmpeg(graph.pull())
    means = [float((component(how, planes, index, 32) >> how.shift).mean()) for index in range(len(how.components))]
    red, green, blue = 0x20, 0x60, 0xC0
    if how.is_rgb:
        expected = [value * (2**how.depth - 1) / 255 for value in (red, green, blue)]
    else:  # FFmpeg's converter uses BT.601 for an untagged colour
        luma = 0.299 * red + 0.587 * green + 0.114 * blue
        span, chroma, low = (1.0, 1.0, 0) if how.full_by_name else (219 / 255, 224 / 255, 16)
        expected = [low + luma * span, 128 + (blue - luma) / 1.772 * chroma, 128 + (red - luma) / 1.402 * chroma]
        expected = [value * 2 ** (how.depth - 8) for value in expected[: len(how.components)]]
    if not how.is_grey:
        assert means == pytest.approx(expected, abs=2.5 * 2 ** (how.depth - 8))
    else:  # grey layouts are converted to full range
        assert means[0] == pytest.approx(luma * (2**how.depth - 1) / 255, abs=3 * 2 ** (how.depth - 8))


@pytest.mark.parametrize("name", ["pal8", "", "yuv", "bayer_rggb8", "xyz12le"])
def test_unknown_layouts_are_named(name: str) -> None:
    with pytest.raises(FeedUnreadable) as caught:
        layout(name)
    assert (name or "(none)") in str(caught.value)
    assert caught.value.permanent


@pytest.mark.parametrize("name", sorted(LAYOUTS))
@pytest.mark.parametrize("width,height", [(1, 1), (7, 5), (64, 48)])
def test_right_planes_pass(name: str, width: int, height: int) -> None:
    assert check_planes(picture(name, width, height, zeros(name, width, height))) is LAYOUTS[name]


@pytest.mark.parametrize("width,height", [(0, 0), (0, 4), (4, 0), (-2, 4), (LARGEST + 1, 4)])
def test_impossible_sizes(width: int, height: int) -> None:
    with pytest.raises(FeedUnreadable, match=f"{width}x{height}"):
        check_planes(picture("gray", width, height, zeros("gray", 4, 4)))


def test_what_is_wrong_with_a_plane_is_said() -> None:
    good = zeros("yuv420p", 8, 8)
    cases = [
        (good[:2], "has 3 planes, this picture 2"),
        ((good[0][:-1], *good[1:]), "plane 0 of yuv420p is too short"),
        ((np.zeros((9, 8), np.uint8), *good[1:]), "plane 0 of yuv420p is too long"),
        ((good[0], np.zeros((0, 4), np.uint8), good[2]), "plane 1 of yuv420p is empty"),
        ((good[0].reshape(4, 16), *good[1:]), "plane 0 of yuv420p has the wrong shape"),
        ((good[0].reshape(-1), *good[1:]), "plane 0 of yuv420p has the wrong shape"),
        ((good[0].astype(np.uint16), *good[1:]), "plane 0 of yuv420p holds uint16, not uint8"),
    ]
    for planes, words in cases:
        with pytest.raises(FeedCorrupt, match=words):
            check_planes(picture("yuv420p", 8, 8, planes))


@given(st.sampled_from(sorted(LAYOUTS)), st.integers(1, 200), st.integers(1, 200))
def test_every_sample_of_a_plane_belongs_to_the_size(name: str, width: int, height: int) -> None:
    how = LAYOUTS[name]
    for index in range(len(how.components)):
        view = component(how, zeros(name, width, height), index, width)
        part = Fraction(1)
        if how.kind == "ycbcr" and index:
            part = Fraction(1, (1 << how.log2_width) * (1 << how.log2_height))
        assert view.size >= width * height * part
        assert view.shape[0] <= height and view.shape[1] <= width
