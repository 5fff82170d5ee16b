"""R'G'B' to codes: rounding, range, and every layout saying the same picture."""

from __future__ import annotations

from typing import Any

import av
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.feed.pool import FramePool
from analysis.feed.scene.develop import LAYOUTS, Developer, bounds, layout, quantise
from analysis.model.errors import UsageError
from analysis.model.frame import Picture
from tests.feed.scene.pictures import SMALL, STILL, renderer, rgb24, signal444

# ITU-R BT.709-6 item 3.4 and SMPTE RP 219 (75 % bars), 8- and 10-bit Y Cb Cr; the 8-bit values are those of
# FFmpeg's smptehdbars.
BARS = [
    ((0.75, 0.75, 0.75), (180, 128, 128), (721, 512, 512)),
    ((0.75, 0.75, 0.0), (168, 44, 136), (674, 176, 543)),
    ((0.0, 0.75, 0.75), (145, 147, 44), (581, 589, 176)),
    ((0.0, 0.75, 0.0), (133, 63, 52), (534, 253, 207)),
    ((0.75, 0.0, 0.75), (63, 193, 204), (251, 771, 817)),
    ((0.75, 0.0, 0.0), (51, 109, 212), (204, 435, 848)),
    ((0.0, 0.0, 0.75), (28, 212, 120), (111, 848, 481)),
    ((0.0, 0.0, 0.0), (16, 128, 128), (64, 512, 512)),
]


def flat(rgb: tuple[float, float, float], into: str, **options: Any) -> list[int]:
    """Codes of an evenly coloured 4 x 4 picture: one number per component plane."""
    developer = Developer(4, 4, layout(into), options.get("range_", "narrow"), options.get("matrix", "bt709"))
    planes = [np.full((4, 4), part, np.float32) for part in rgb]
    found = developer.planes(FramePool().take)
    developer.write(planes, 0, found)
    for plane in found:
        assert len(np.unique(plane)) == 1 or into in {"rgb24", "bgr24", "nv12"}
    return [int(plane.flat[0]) for plane in found]


@pytest.mark.parametrize("rgb,eight,ten", BARS)
def test_colour_bars(rgb: tuple[float, float, float], eight: tuple[int, ...], ten: tuple[int, ...]) -> None:
    assert tuple(flat(rgb, "yuv444p")) == eight
    assert tuple(flat(rgb, "yuv422p10le")) == ten


@pytest.mark.parametrize(
    "rgb,codes",
    # BT.601-coded 75 % bars (ITU-R BT.601-7 weights; FFmpeg's smptebars): yellow, green, red.
    [((0.75, 0.75, 0.0), (162, 44, 142)), ((0.0, 0.75, 0.0), (112, 72, 58)), ((0.75, 0.0, 0.0), (65, 100, 212))],
)
def test_bt601_bars(rgb: tuple[float, float, float], codes: tuple[int, ...]) -> None:
    assert tuple(flat(rgb, "yuv444p", matrix="bt601")) == codes


@pytest.mark.parametrize(
    "bits,low,high",
    # ITU-R BT.709-6 / EBU R 103 v3: codes SDI reserves are 0 and 255, 0-3 and 1020-1023, 0-15 and 4080-4095.
    [(8, 1, 254), (10, 4, 1019), (12, 16, 4079)],
)
def test_narrow_codes_stay_out_of_the_reserved_ones(bits: int, low: int, high: int) -> None:
    scale = 2 ** (bits - 8)
    codes = [round((v * 219 + 16) * scale) for v in bounds(bits, "narrow")]
    assert codes == [low, high]


@given(value=st.floats(-0.0685, 1.0868), bits=st.sampled_from([8, 10, 12]))
def test_quantise_is_floor_of_x_plus_half(value: float, bits: int) -> None:
    """ITU-R BT.709-6 item 3.4: n = floor((219 V + 16) 2^(n-8) + 0.5), in the precision the planes have."""
    scale = 2.0 ** (bits - 8)
    out = np.empty((1, 1), np.uint8 if bits == 8 else np.uint16)
    plane = np.full((1, 1), value, np.float32)
    quantise(plane, (219.0 * scale, 16.0 * scale), out)
    exact = (219.0 * float(plane[0, 0]) + 16.0) * scale
    away = abs(exact + 0.5 - round(exact + 0.5))
    if away > 2e-3:
        assert int(out[0, 0]) == int(np.floor(exact + 0.5))
    else:
        assert abs(int(out[0, 0]) - exact) <= 0.503


def test_ties_go_up() -> None:
    """A banker's rounding would give 16, 18, 18, 20."""
    plane = np.array([[0.5, 1.5, 2.5, 3.5]], np.float32)
    for kind in (np.uint8, np.uint16):
        out = np.empty((1, 4), kind)
        quantise(plane, (1.0, 16.0), out)
        assert out.tolist() == [[17, 18, 19, 20]]


def test_full_range_uses_every_code() -> None:
    assert flat((0.0, 0.0, 0.0), "yuv444p", range_="full") == [0, 128, 128]
    assert flat((1.0, 1.0, 1.0), "yuv444p", range_="full") == [255, 128, 128]
    assert flat((1.0, 1.0, 1.0), "gray10le", range_="full") == [1023]
    assert bounds(8, "full") == (0.0, 1.0)


def frame_of(picture: Picture) -> av.VideoFrame:
    """The picture as FFmpeg sees it."""
    frame = av.VideoFrame(picture.format.width, picture.format.height, picture.format.layout)
    planes: Any = frame.planes
    for plane, codes in zip(planes, picture.planes, strict=True):
        rows = np.frombuffer(plane, codes.dtype).reshape(plane.height, -1)
        rows[:, : codes.shape[1]] = codes
    return frame


def picture(into: str, **more: Any) -> Picture:
    return renderer(**{**SMALL, **STILL, **more}, layout=into).picture(0.0, 0)


@pytest.mark.parametrize("packed,planar", [("yuyv422", "yuv422p"), ("uyvy422", "yuv422p"), ("yvyu422", "yuv422p"),
                                           ("nv16", "yuv422p"), ("nv12", "yuv420p"), ("nv21", "yuv420p")])  # fmt: skip
def test_packings_are_what_ffmpeg_means_by_the_name(packed: str, planar: str) -> None:
    """FFmpeg's own unpacking of the packed layout equals the planar rendering, byte for byte."""
    unpacked = frame_of(picture(packed)).reformat(format=planar)
    wanted = frame_of(picture(planar))
    np.testing.assert_array_equal(unpacked.to_ndarray(), wanted.to_ndarray())


def test_p010_carries_ten_bit_codes_in_the_high_bits() -> None:
    """FFmpeg's p010le: each 10-bit code times 64."""
    high = picture("p010le").planes
    plain = picture("yuv420p10le").planes
    np.testing.assert_array_equal(high[0], plain[0] * 64)
    np.testing.assert_array_equal(high[1][:, 0::2], plain[1] * 64)
    np.testing.assert_array_equal(high[1][:, 1::2], plain[2] * 64)


@pytest.mark.parametrize("name", sorted(LAYOUTS))
def test_every_layout_has_the_planes_ffmpeg_expects(name: str) -> None:
    made = picture(name)
    frame = av.VideoFrame(320, 180, name)
    planes: Any = frame.planes
    assert len(made.planes) == len(planes)
    for codes, plane in zip(made.planes, planes, strict=True):
        assert codes.shape[0] == plane.height
        assert codes.dtype == (np.uint8 if made.format.encoding.bits == 8 else np.uint16)
        assert codes.flags.c_contiguous and codes.flags.owndata
        assert codes.shape[1] * codes.itemsize <= plane.line_size
    assert made.format.layout == name
    frame_of(made)


@pytest.mark.parametrize("name", [n for n in sorted(LAYOUTS) if n.startswith(("yuv", "nv", "gray", "uy", "yvyu"))])
def test_every_layout_has_the_same_luma(name: str) -> None:
    bits = LAYOUTS[name].bits
    wanted = picture({8: "yuv444p", 10: "yuv444p10le", 12: "yuv444p12le"}[bits]).planes[0]
    found = picture(name).planes[0]
    if LAYOUTS[name].packing == "packed":
        found = found[:, LAYOUTS[name].order.index("y") :: 2]
    np.testing.assert_array_equal(found, wanted)


@pytest.mark.parametrize("name,across,down", [("yuv422p10le", 2, 1), ("yuv420p10le", 2, 2)])
def test_chroma_is_the_mean_of_its_cell(name: str, across: int, down: int) -> None:
    fine = picture("yuv444p12le")
    coarse = picture(name)
    for plane in (1, 2):
        cells = fine.planes[plane].astype(float).reshape(180 // down, down, 320 // across, across).mean(axis=(1, 3))
        assert np.abs(cells / 4.0 - coarse.planes[plane]).max() <= 0.5 + 0.13


def test_rgb_layouts_agree_with_the_matrix() -> None:
    wanted = signal444(picture("yuv444p12le", nd=6.0))  # dark enough that no depth runs out of codes
    for name, order in (("rgb24", 1), ("bgr24", -1)):
        codes = rgb24(picture(name, nd=6.0))[..., ::order].astype(float)
        assert np.abs((codes - 16.0) / 219.0 - wanted).max() < 0.6 / 219.0


def test_ten_bits_are_eight_bits_seen_closer() -> None:
    eight, ten, twelve = (picture(n, nd=6.0).planes[0].astype(float) for n in ("gray", "gray10le", "gray12le"))
    assert np.abs(ten / 4.0 - eight).max() <= 0.5 + 0.126
    assert np.abs(twelve / 4.0 - ten).max() <= 0.5 + 0.126


@pytest.mark.parametrize("into", ["yuv420p", "nv12", "yuv422p10le", "yuv444p10le", "gray", "rgb24"])
@pytest.mark.parametrize("size", [(1, 1), (3, 5), (65, 33), (33, 64)])
def test_odd_sizes(into: str, size: tuple[int, int]) -> None:
    made = picture(into, width=size[0], height=size[1])
    frame = av.VideoFrame(*size, into)
    planes: Any = frame.planes
    assert [p.shape[0] for p in made.planes] == [plane.height for plane in planes]
    full = picture("yuv444p10le" if "10" in into else "yuv444p", width=size[0], height=size[1])
    if into != "rgb24":
        np.testing.assert_array_equal(made.planes[0], full.planes[0])


def test_packed_layout_refuses_an_odd_width() -> None:
    with pytest.raises(UsageError, match="even width"):
        picture("yuyv422", width=321)


def test_unknown_layout_names_the_nearest() -> None:
    with pytest.raises(UsageError, match="did you mean yuyv422"):
        layout("yuyv42")
