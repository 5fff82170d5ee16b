"""Colour bars of the driver, in every native format it offers and this program reads, within two codes.

Expected codes are computed here from ITU-R BT.601-7 (section 2.5.1, 2.5.2) and BT.709-6 (table, items 3.2, 3.3, 4.5,
4.6): luma and colour-difference equations and their 8-bit quantisation; full range as in ITU-T H.273 (8.3,
equations for VideoFullRangeFlag 1). The driver rounds down, hence two codes and not one.
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.feed.v4l2.fourcc import NATIVE
from analysis.signal.layouts import component, layout
from tests.device import vivid

# white, yellow, cyan, green, magenta, red, blue, black
BARS = [(1, 1, 1), (1, 1, 0), (0, 1, 1), (0, 1, 0), (1, 0, 1), (1, 0, 0), (0, 0, 1), (0, 0, 0)]
WEIGHTS = {"bt601": (0.299, 0.587, 0.114), "bt709": (0.2126, 0.7152, 0.0722)}
OFFERED = ["YUYV", "UYVY", "YVYU", "422P", "YU12", "YV12", "NV12", "NV21", "NV16", "GREY", "Y10 ", "Y12 ", "Y16 ",
           "RGB3", "BGR3", "XR24", "XB24"]  # fmt: skip
# y_cbcr_encoding and quantization as the driver numbers them in its menus
SAID = [("bt601", 1, "narrow", 2), ("bt709", 2, "narrow", 2), ("bt601", 1, "full", 1), ("bt709", 2, "full", 1)]


def ycbcr(rgb: tuple[float, float, float], matrix: str, span: str) -> tuple[float, float, float]:
    red, green, blue = WEIGHTS[matrix]
    y = red * rgb[0] + green * rgb[1] + blue * rgb[2]
    cb, cr = (rgb[2] - y) / (2 * (1 - blue)), (rgb[0] - y) / (2 * (1 - red))
    if span == "narrow":
        return 16 + 219 * y, 128 + 224 * cb, 128 + 224 * cr
    return 255 * y, min(255.0, 128 + 255 * cb), min(255.0, 128 + 255 * cr)


COMPONENT = [name for name in OFFERED if layout(NATIVE[name].layout).kind == "ycbcr"]
GREY = [name for name in OFFERED if layout(NATIVE[name].layout).is_grey]
RGB = [name for name in OFFERED if layout(NATIVE[name].layout).is_rgb]


def middles(plane: np.ndarray) -> np.ndarray:
    """The code in the middle of each of eight bars, from a row in the middle."""
    rows, columns = plane.shape
    return plane[rows // 2, ((np.arange(8) + 0.5) * columns / 8).astype(int)].astype(float)


def measured(feed, native, frames: int = 2):
    source = feed(layout=native.layout)
    for _ in range(frames):
        picture = source.read()
    source.close()
    how = layout(picture.format.layout)
    planes = [component(how, picture.planes, number, picture.format.width) for number in range(len(how.components))]
    assert not picture.corrupt and (picture.format.width, picture.format.height) == (320, 180)
    return picture.format, [middles(plane >> how.shift) / (1 << how.depth - 8) for plane in planes]


@pytest.mark.parametrize("fourcc", COMPONENT)
@pytest.mark.parametrize("matrix,encoding,span,quantization", SAID)
def test_component_bars(feed, fourcc: str, matrix: str, encoding: int, span: str, quantization: int) -> None:
    native = NATIVE[fourcc]
    for pattern, level in ((0, 0.75), (1, 1.0)):
        vivid.control(f"test_pattern={pattern},y_cbcr_encoding={encoding},quantization={quantization}")
        shape, codes = measured(feed, native)
        assert (shape.encoding.matrix, shape.encoding.range) == (matrix, span)
        assert (shape.encoding.matrix_from, shape.encoding.range_from) == ("tag", "tag")
        for bar, colour in enumerate(BARS):
            expected = ycbcr(tuple(level * part for part in colour), matrix, span)
            for name, wanted, found in zip(("Y", "Cb", "Cr"), expected, codes, strict=True):
                assert abs(found[bar] - wanted) <= 2, f"{level:.0%} bar {bar} {name}: {found[bar]} for {wanted:.1f}"


@pytest.mark.parametrize("fourcc", GREY)
def test_grey_bars(feed, fourcc: str) -> None:
    """This driver's grey is always BT.709 luma in full range, whatever its controls say (seen on 6.1 and 6.12)."""
    for pattern, level in ((0, 0.75), (1, 1.0)):
        vivid.control(f"test_pattern={pattern},quantization=1")
        shape, (luma,) = measured(feed, NATIVE[fourcc])
        assert shape.encoding.range == "full" and shape.encoding.bits == layout(shape.layout).depth
        for bar, colour in enumerate(BARS):
            wanted = ycbcr(tuple(level * part for part in colour), "bt709", "full")[0]
            assert abs(luma[bar] - wanted) <= 2, f"{level:.0%} bar {bar}: {luma[bar]} for {wanted:.1f}"


@pytest.mark.parametrize("fourcc", RGB)
@pytest.mark.parametrize("span,quantization", [("full", 1), ("narrow", 2)])
def test_rgb_bars(feed, fourcc: str, span: str, quantization: int) -> None:
    for pattern, level in ((0, 0.75), (1, 1.0)):
        vivid.control(f"test_pattern={pattern},quantization={quantization}")
        shape, codes = measured(feed, NATIVE[fourcc])
        assert (shape.encoding.matrix, shape.encoding.range) == ("rgb", span)
        for bar, colour in enumerate(BARS):
            for part, found in zip(colour, codes, strict=True):
                wanted = 255 * level * part if span == "full" else 16 + 219 * level * part
                assert abs(found[bar] - wanted) <= 2, f"{level:.0%} bar {bar}: {found[bar]} for {wanted:.1f}"


def test_the_two_planar_orders_are_the_same_picture(feed) -> None:
    """YU12 and YV12 differ only in which chroma plane comes first in memory."""
    vivid.control("test_pattern=1")
    first, second = (measured(feed, NATIVE[name])[1] for name in ("YU12", "NV12"))
    for one, other in zip(first, second, strict=True):
        assert np.array_equal(one, other)


def test_nothing_offered_is_left_out() -> None:
    """Every format of this list that the driver has is checked above, at whatever kernel this is."""
    listed = vivid.command("--list-formats")
    here = {name for name, native in NATIVE.items() if f"'{name}'" in listed and not native.compressed}
    assert here - set(OFFERED) == set()
