"""The small picture that is searched: true colours from any layout, in place, never enlarged; and its stretch."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from analysis.measure.face import stretched
from analysis.measure.shrunken import Shrinker, fitted
from analysis.model.errors import FeedUnreadable
from analysis.signal.layouts import LAYOUTS, layout, plane_shapes
from analysis.signal.matrix import encode
from tests.measure import drawn_faces, plain

COLOURS = [(0.8, 0.4, 0.2), (0.1, 0.6, 0.3), (0.0, 0.0, 0.0), (1.0, 1.0, 1.0)]


def flat(name: str, rgb: tuple[float, float, float], width: int = 640, height: int = 360, span: str = "narrow"):
    """An even frame of a colour, its codes from the equations of ITU-R BT.709-6 items 3.2 to 3.4."""
    how = layout(name)
    black, white = (0, 2**how.depth - 1) if span == "full" else (16 << how.depth - 8, 235 << how.depth - 8)
    grey = 0.2126 * rgb[0] + 0.7152 * rgb[1] + 0.0722 * rgb[2]
    if how.is_rgb:
        codes = [black + (white - black) * part for part in rgb]
    elif how.is_grey:
        codes = [black + (white - black) * grey]
    else:
        codes = list(encode(rgb, "bt709", how.depth, span))
    planes = [np.zeros(shape, how.dtype) for shape in plane_shapes(how, width, height)]
    for component, code in zip(how.components, codes, strict=True):
        value = int(min(max(code + 0.5, 0), 2**how.depth - 1)) << how.shift
        planes[component.plane][:, component.offset :: component.step] = value
    return plain.frame_of(tuple(planes), name, width, height, span)


@pytest.mark.parametrize("name", sorted(LAYOUTS))
@pytest.mark.parametrize("rgb", COLOURS[:2])
def test_every_layout_gives_the_same_colour(name: str, rgb: tuple[float, float, float]) -> None:
    frame = flat(name, rgb, span="full" if LAYOUTS[name].full_by_name else "narrow")
    small = Shrinker(frame.format).take(frame, (0, 0, 640, 360), 320)
    grey = 255 * (0.2126 * rgb[0] + 0.7152 * rgb[1] + 0.0722 * rgb[2])
    due = [grey] * 3 if LAYOUTS[name].is_grey else [255 * part for part in reversed(rgb)]
    assert small.bgr.shape == (180, 320, 3) and small.bgr.dtype == np.uint8 and small.bgr.flags.c_contiguous
    assert small.bgr.reshape(-1, 3).mean(axis=0) == pytest.approx(due, abs=2.5)
    assert np.ptp(small.bgr.reshape(-1, 3), axis=0).max() == 0
    assert small.luma.mean() == pytest.approx(grey, abs=1.5)


@pytest.mark.parametrize("span", ["narrow", "full"])
@pytest.mark.parametrize("rgb", COLOURS)
def test_range_is_undone(span: str, rgb: tuple[float, float, float]) -> None:
    small = Shrinker(flat("yuv422p", rgb, span=span).format).take(
        flat("yuv422p", rgb, span=span), (0, 0, 640, 360), 320
    )
    assert small.bgr[0, 0].tolist() == pytest.approx([255 * part for part in reversed(rgb)], abs=3)


def test_beyond_black_and_white_saturates() -> None:
    for level, due in ((-0.05, 0), (1.08, 255)):
        frame = drawn_faces.coded(np.full((360, 640, 3), level))
        small = Shrinker(frame.format).take(frame, (0, 0, 640, 360), 320)
        assert set(np.unique(small.bgr)) == {due} and set(np.unique(small.luma)) == {due}


@pytest.mark.parametrize("name", ["yuv422p10le", "yuv420p", "yuyv422", "yuv444p"])
@pytest.mark.parametrize("size", [(1920, 1080), (1280, 720), (720, 576), (642, 362)])
def test_things_keep_their_place(name: str, size: tuple[int, int]) -> None:
    """A bright square in the picture is where ``scale`` and ``area`` say it is, to half a small pixel."""
    signal = np.full((size[1], size[0], 3), 0.2)
    left, top, side = size[0] // 2 + 10, size[1] // 3 + 6, size[1] // 5
    signal[top : top + side, left : left + side] = 0.8
    frame = drawn_faces.coded(signal, layout=name)
    area = (size[0] // 8 // 2 * 2, size[1] // 8 // 2 * 2, size[0] * 3 // 4 // 2 * 2, size[1] * 3 // 4 // 2 * 2)
    small = Shrinker(frame.format).take(frame, area, 320)
    rows, columns = np.nonzero(small.luma > 127)
    across, down = small.scale
    assert area[0] + columns.min() * across == pytest.approx(left, abs=across)
    assert area[0] + (columns.max() + 1) * across == pytest.approx(left + side, abs=across)
    assert area[1] + rows.min() * down == pytest.approx(top, abs=down)
    assert area[1] + (rows.max() + 1) * down == pytest.approx(top + side, abs=down)


def test_the_mean_survives_noise() -> None:
    """Rows are left out, columns are not: the mean of a noisy picture is kept to a fifth of a code."""
    rng = np.random.default_rng(0)
    frame = plain.frame_of(plain.random_planes(LAYOUTS["gray"], 1920, 1080, rng), "gray", 1920, 1080, "full")
    small = Shrinker(frame.format).take(frame, (0, 0, 1920, 1080), 320)
    assert small.luma.mean() == pytest.approx(frame.planes[0].mean(), abs=0.5)
    assert small.luma.std() < 30  # single codes: 74


@pytest.mark.parametrize(
    "area,width,due",
    [
        ((0, 0, 1920, 1080), 320, (320, 180)),
        ((0, 0, 1920, 1080), 640, (640, 360)),
        ((0, 0, 3840, 2160), 320, (320, 180)),
        ((0, 0, 640, 480), 320, (320, 240)),
        ((0, 0, 200, 100), 320, (200, 100)),
        ((0, 0, 1920, 800), 320, (320, 133)),
        ((0, 0, 2, 1), 320, (2, 1)),
    ],
)
def test_sizes(area: tuple[int, int, int, int], width: int, due: tuple[int, int]) -> None:
    assert fitted(area, width) == due


def test_a_tall_picture_costs_no_more() -> None:
    wide, high = fitted((0, 0, 1080, 1920), 320)
    assert wide * high <= 320 * 240 * 1.01
    assert wide / high == pytest.approx(1080 / 1920, rel=0.01)


def test_unknown_layouts_are_refused() -> None:
    shape = flat("gray", COLOURS[0]).format
    with pytest.raises(FeedUnreadable):
        Shrinker(msgspec.structs.replace(shape, layout="pal8"))


def ramp(low: int, high: int) -> np.ndarray:
    return np.tile(np.linspace(low, high, 320).astype(np.uint8), (180, 1))


@pytest.mark.parametrize(
    "low,high,changed",
    [(60, 140, True), (22, 160, True), (18, 120, False), (0, 90, False), (30, 190, False), (80, 80, False)],
)
def test_only_a_flat_picture_with_lifted_black_is_stretched(low: int, high: int, changed: bool) -> None:
    luma = ramp(low, high)
    bgr = np.repeat(luma[:, :, None], 3, axis=2)
    made = stretched(bgr, luma)
    assert (made is not bgr) == changed
    if changed:
        gain = (float(made.max()) - float(made.min())) / (high - low)
        assert 1.0 < gain <= 2.55


def test_a_noisy_dark_picture_is_left_alone() -> None:
    """Stretching such frames lost half of the faces."""
    luma = np.clip(np.random.default_rng(1).normal(12, 5, (180, 320)), 0, 255).astype(np.uint8)
    bgr = np.repeat(luma[:, :, None], 3, axis=2)
    assert stretched(bgr, luma) is bgr
