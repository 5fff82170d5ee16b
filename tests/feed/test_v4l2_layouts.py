"""From buffers as the kernel documents them to planes as FFmpeg numbers them."""

from __future__ import annotations

import itertools

import av
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.feed.v4l2.fourcc import NATIVE, code_of, cuts, needed, text_of, view
from analysis.signal.layouts import LAYOUTS, layout, plane_shapes

RAW = [native for native in NATIVE.values() if not native.compressed]


@pytest.mark.parametrize("native", RAW, ids=lambda native: native.fourcc)
def test_every_native_format_is_a_known_layout_of_ffmpeg(native) -> None:
    assert native.layout in LAYOUTS
    known = av.VideoFormat(native.layout, 16, 16)
    assert known.name == native.layout
    assert len(native.order) == len(native.stride) == len(plane_shapes(layout(native.layout), 16, 16))


@pytest.mark.parametrize("native", RAW, ids=lambda native: native.fourcc)
def test_a_buffer_without_padding_holds_what_ffmpeg_counts(native) -> None:
    """FFmpeg's own size of a picture without padding, as the outside."""
    frame = av.VideoFrame(32, 16, native.layout)
    samples = sum(
        plane.height * -(-plane.width * _bits(frame, number) // 8) for number, plane in enumerate(frame.planes)
    )
    assert needed(cuts(native, 32, 16, 0), native) == samples


def _bits(frame: av.VideoFrame, plane: int) -> int:
    """Bits of one pixel of a plane, from FFmpeg's line size of a picture wide enough not to be padded."""
    wide = av.VideoFrame(1024, 2, frame.format.name)
    return wide.planes[plane].line_size * 8 // wide.planes[plane].width


# Kernel documentation, "Image Formats": where the planes begin in a buffer of 8x4 pixels, lines padded to 16 bytes
# (luma); chroma lines of the three-plane formats are half as long as luma's, padding included.
@pytest.mark.parametrize(
    "fourcc,expected",
    [
        ("YU12", [(0, 16, (4, 8)), (64, 8, (2, 4)), (80, 8, (2, 4))]),
        ("YV12", [(0, 16, (4, 8)), (80, 8, (2, 4)), (64, 8, (2, 4))]),
        ("422P", [(0, 16, (4, 8)), (64, 8, (4, 4)), (96, 8, (4, 4))]),
        ("NV12", [(0, 16, (4, 8)), (64, 16, (2, 8))]),
        ("NV16", [(0, 16, (4, 8)), (64, 16, (4, 8))]),
        ("GREY", [(0, 16, (4, 8))]),
        ("YUYV", [(0, 16, (4, 16))]),
    ],
)
def test_planes_lie_where_the_kernel_says(fourcc: str, expected: list[tuple]) -> None:
    native = NATIVE[fourcc]
    assert [(cut.offset, cut.stride, cut.shape) for cut in cuts(native, 8, 4, 16)] == expected


def test_ten_bit_lines_are_counted_in_bytes_and_read_in_samples() -> None:
    native = NATIVE["P010"]
    parts = cuts(native, 4, 2, 16)
    assert [(cut.offset, cut.stride, cut.shape) for cut in parts] == [(0, 16, (2, 4)), (32, 16, (1, 4))]
    memory = np.zeros(48, np.uint8)
    memory[0:2] = (0xC0, 0xAB)  # little-endian 0xABC0
    assert view(memory, parts[0], native)[0, 0] == 0xABC0


def test_y210_keeps_its_order_and_its_high_bits() -> None:
    native = NATIVE["Y210"]
    memory = np.arange(1, 5, dtype="<u2").view(np.uint8)
    assert view(memory, cuts(native, 2, 1, 0)[0], native).tolist() == [[1, 2, 3, 4]]


@settings(max_examples=80, deadline=None)
@given(
    st.sampled_from(RAW),
    st.integers(1, 9).map(lambda half: 2 * half),
    st.integers(1, 9).map(lambda half: 2 * half),
    st.integers(0, 5),
    st.randoms(use_true_random=False),
)
def test_padding_never_reaches_a_plane(native, width: int, height: int, padding: int, random) -> None:
    """Planes written line by line at the kernel's places come back exactly; poison in the padding does not show."""
    how = layout(native.layout)
    line = plane_shapes(how, width, height)[0][1] * how.dtype.itemsize + 4 * padding
    parts = cuts(native, width, height, line)
    memory = np.full(needed(parts, native) + 64, 0xEE, np.uint8)
    written = []
    top = 200 if how.dtype.itemsize == 1 else 60000
    for cut in parts:
        plane = np.array(
            [[random.randrange(top) for _ in range(cut.shape[1])] for _ in range(cut.shape[0])],
            how.dtype.newbyteorder("<"),
        )
        for row in range(cut.shape[0]):
            data = np.frombuffer(plane[row].tobytes(), np.uint8)
            memory[cut.offset + row * cut.stride :][: data.size] = data
        written.append(plane)
    for cut, plane in zip(parts, written, strict=True):
        assert np.array_equal(view(memory, cut, native), plane)


def test_planes_do_not_overlap() -> None:
    for native in RAW:
        parts = sorted(cuts(native, 6, 4, 0), key=lambda cut: cut.offset)
        for first, second in itertools.pairwise(parts):
            assert first.offset + first.stride * first.shape[0] <= second.offset, native.fourcc


@pytest.mark.parametrize("fourcc", ["YUYV", "NV12", "Y10 ", "422P", "MJPG"])
def test_letters_and_codes(fourcc: str) -> None:
    assert text_of(code_of(fourcc)) == fourcc


def test_big_endian_codes_are_not_taken_for_their_little_endian_brothers() -> None:
    """Bit 31 marks big-endian variants (v4l2_fourcc_be of linux/videodev2.h)."""
    assert text_of(code_of("Y16 ") | 1 << 31) == "Y16 -BE"
    assert "Y16 -BE" not in NATIVE
