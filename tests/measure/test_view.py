"""What the screen is given, against plain counting of the same pixels."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.measure.meter import Meter
from analysis.measure.meter_settings import MeterSettings
from analysis.model.instant import Instant
from analysis.model.reading import View
from analysis.signal.layouts import LAYOUTS
from analysis.signal.matrix import encode
from tests.measure import plain

START = Instant(0.0, 0.0)


def view_of(frame, **wish) -> View:
    return Meter(MeterSettings(**wish)).measure(frame, None, START).view


def noise(name: str, width: int, height: int, span: str = "narrow"):
    planes = plain.random_planes(LAYOUTS[name], width, height, np.random.default_rng(5))
    return plain.frame_of(planes, name, width, height, span)


def counted(codes: np.ndarray, columns: int, bits: int) -> np.ndarray:
    """Counts per strip and upper 8 bits of the codes, one strip after the other."""
    strips = np.arange(codes.shape[1]) * columns // codes.shape[1]
    high = np.clip(codes, 0, (1 << bits) - 1) >> (bits - 8)
    return np.array([np.bincount(high[:, strips == strip].ravel(), minlength=256) for strip in range(columns)])


@pytest.mark.parametrize("name", ["yuyv422", "nv12", "yuv411p", "yuv422p10le", "p010le", "yuv444p12le", "gray16le"])
def test_luma_trace(name: str) -> None:
    frame, how = noise(name, 128, 96), LAYOUTS[name]
    view = view_of(frame, columns=16)
    taken = plain.luma_codes(frame)[:: 1 << how.log2_height, :: 1 << how.log2_width]
    assert np.array_equal(view.trace, counted(taken, 16, how.depth))


@pytest.mark.parametrize("name", ["yuyv422", "nv12", "yuv422p10le", "yuv444p12le", "rgb24", "gbrp10le", "rgb48le"])
@pytest.mark.parametrize("span", ["narrow", "full"])
def test_rgb_trace(name: str, span: str) -> None:
    frame, how = noise(name, 128, 96, span), LAYOUTS[name]
    view = view_of(frame, rgb_columns=8)
    for trace, plane in zip(view.trace_rgb, plain.rgb_codes(frame), strict=True):
        taken = plane[:: 1 << how.log2_height, :: 1 << how.log2_width]
        moved = np.abs(trace - counted(taken, 8, how.depth)).sum() / 2
        assert moved <= 0.002 * taken.size, "single precision may move a pixel on the edge of a bin"


@pytest.mark.parametrize("name,span,low,high", [
    ("gray", "narrow", -7.53, 109.36), ("gray10le", "narrow", -7.36, 109.53), ("gray", "full", -0.2, 100.2),
])  # fmt: skip
def test_bins_cover_the_range(name: str, span: str, low: float, high: float) -> None:
    view = view_of(noise(name, 16, 16, span))
    assert view.low == pytest.approx(low, abs=0.01)
    assert view.low + 256 * view.step == pytest.approx(high, abs=0.01)


@pytest.mark.parametrize("name", ["gray", "gray10le", "gray12le"])
@pytest.mark.parametrize("level", [0.0, 18.0, 41.0, 100.0, 105.0])
def test_a_level_lies_in_its_bin(name: str, level: float) -> None:
    bits = LAYOUTS[name].depth
    code = round(16 * 2 ** (bits - 8) + level * 2.19 * 2 ** (bits - 8))
    frame = plain.frame_of((np.full((8, 8), code, LAYOUTS[name].dtype),), name, 8, 8)
    view = view_of(frame)
    bin_number = int(view.trace.sum(axis=0).argmax())
    true = plain.percent(code, bits, "narrow")
    assert view.low + bin_number * view.step <= true <= view.low + (bin_number + 1) * view.step


def test_rows_are_thinned_evenly_and_columns_kept() -> None:
    frame = noise("gray", 640, 2000)
    view = view_of(frame)
    assert np.array_equal(view.trace, counted(plain.luma_codes(frame)[::7], 160, 8))
    assert view.trace.shape == (160, 256) and view.trace.dtype == np.float32


@pytest.mark.parametrize("width,columns", [(1, 1), (9, 5), (1000, 160)])
def test_no_strip_is_empty(width: int, columns: int) -> None:
    view = view_of(noise("yuyv422", width, 4))
    assert view.trace.shape[0] == columns and (view.trace.sum(axis=1) > 0).all()


@pytest.mark.parametrize("width,height,small", [
    (1920, 1080, (90, 160)), (720, 576, (90, 112)), (1080, 1920, (90, 51)), (64, 48, (48, 64)), (4096, 16, (1, 160)),
])  # fmt: skip
def test_small_picture_keeps_its_shape(width: int, height: int, small: tuple[int, int]) -> None:
    picture = view_of(plain.frame_of((np.full((height, width), 126, np.uint8),), "gray", width, height)).small
    assert picture.shape == (*small, 3) and picture.dtype == np.uint8
    assert (picture == 128).all(), "126 is 50.2 IRE and 128 of 255"


@pytest.mark.parametrize("matrix", ["bt709", "bt601", "bt2020"])
@pytest.mark.parametrize("rgb", [(1.0, 0.5, 0.25), (0.1, 0.2, 0.9), (0.75, 0.75, 0.0)])
def test_small_picture_has_the_colour_of_the_light(matrix: str, rgb: tuple[float, float, float]) -> None:
    codes = [round(value) for value in encode(rgb, matrix, 10, "narrow")]
    planes = tuple(np.full((60, width), code, np.uint16) for width, code in zip((80, 40, 40), codes, strict=True))
    small = view_of(plain.frame_of(planes, "yuv422p10le", 80, 60, "narrow", matrix)).small
    assert np.abs(small.astype(int) - np.array([255 * value for value in rgb])).max() <= 2


def test_small_picture_has_its_parts_in_their_places() -> None:
    luma = np.full((360, 640), 16, np.uint8)
    luma[:180, 320:] = 235
    small = view_of(plain.frame_of((luma,), "gray", 640, 360), active_picture=False).small
    assert (small[:44, 82:] == 255).all() and (small[46:] == 0).all() and (small[:, :78] == 0).all()


def test_beyond_the_range_is_drawn_as_its_end() -> None:
    for code, shown in ((1, 0), (16, 0), (235, 255), (254, 255)):
        assert (view_of(plain.frame_of((np.full((4, 4), code, np.uint8),), "gray", 4, 4)).small == shown).all()
