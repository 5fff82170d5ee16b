"""The sparse sample against the plain decoding of whole pictures, for every layout."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from analysis.measure.sample import (
    COLUMNS,
    ROWS,
    STEP_OF_CODE_0,
    STEPS,
    STEPS_PER_CODE,
    Sampler,
    level_of_step,
    signal_of_steps,
    step_of_level,
)
from analysis.model.errors import FeedUnreadable
from analysis.model.frame import Frame
from analysis.signal.layouts import LAYOUTS, component
from tests.measure import plain


def random_frame(name: str, width: int, height: int, seed: int = 1, **how) -> Frame:
    planes = plain.random_planes(LAYOUTS[name], width, height, np.random.default_rng(seed))
    return plain.frame_of(planes, name, width, height, **how)


def steps(codes: np.ndarray, depth: int) -> np.ndarray:
    return STEP_OF_CODE_0 + STEPS_PER_CODE * codes / 2 ** (depth - 8)


@pytest.mark.parametrize("name", sorted(LAYOUTS))
def test_every_layout_gives_the_codes_of_the_picture(name: str) -> None:
    how = LAYOUTS[name]
    frame = random_frame(name, 1000, 300)
    sample = Sampler(frame.format).take(frame, (0, 0, 1000, 300))
    luma = plain.luma_codes(frame)
    stride = [luma.shape[axis] // sample.luma.shape[axis] for axis in (0, 1)]
    off = np.abs(sample.luma - luma[:: stride[0], :: stride[1]])
    # Luma of R'G'B' is a sum in single precision: of 12 and 16 bits a few that end in a half go the other way.
    assert off.max() <= (1 if how.is_rgb and how.depth > 10 else 0) and np.count_nonzero(off) < 0.01 * off.size
    if how.is_grey:
        assert all(plane is sample.rgb[0] for plane in sample.rgb)
        assert np.abs(sample.rgb[0] - steps(sample.luma.astype(float), how.depth)).max() <= 0.5
        return
    for got, (_, exact) in zip(sample.rgb, plain.rgb_rounded(frame), strict=True):
        assert np.abs(got - steps(exact[:: stride[0], :: stride[1]], how.depth)).max() <= 0.51


@pytest.mark.parametrize("matrix", ["bt709", "bt601", "bt2020"])
@pytest.mark.parametrize("span", ["narrow", "full"])
def test_no_colour_saturates(matrix: str, span: str) -> None:
    """Every pair of chroma codes at the darkest and the brightest luma stays on the scale."""
    blue, red = np.meshgrid(np.arange(256, dtype=np.uint8), np.arange(256, dtype=np.uint8))
    for luma in (0, 255):
        planes = (np.full((256, 256), luma, np.uint8), blue.copy(), red.copy())
        frame = plain.frame_of(planes, "yuv444p", 256, 256, span, matrix)
        sample = Sampler(frame.format).take(frame, (0, 0, 256, 256))
        assert sample.luma.shape == (256, 256)
        for got, (_, exact) in zip(sample.rgb, plain.rgb_rounded(frame), strict=True):
            assert np.abs(got - steps(exact, 8)).max() <= 0.51
            assert got.min() > 0 and got.max() < STEPS - 1


@pytest.mark.parametrize("size", [(1920, 1080), (3840, 2160), (1280, 720), (720, 576), (64, 36), (5, 3), (1, 1)])
@pytest.mark.parametrize("name", ["gray", "nv12", "yuv410p"])
def test_the_lattice_is_of_one_size(name: str, size: tuple[int, int]) -> None:
    width, height = size
    how = LAYOUTS[name]
    planes = tuple(np.zeros(shape, how.dtype) for shape in plain.plane_shapes(how, width, height))
    frame = plain.frame_of(planes, name, width, height)
    sample = Sampler(frame.format).take(frame, (0, 0, width, height))
    rows, columns = sample.luma.shape
    assert rows == min(rows, height) and rows <= 2 * ROWS and columns <= 2 * COLUMNS
    if width >= 1920:
        assert (rows, columns) == (ROWS, COLUMNS)
    assert all(plane.shape == sample.luma.shape for plane in sample.rgb)


def test_only_the_active_picture_is_sampled() -> None:
    frame = random_frame("yuv420p", 640, 360)
    area = (64, 40, 512, 280)
    sample = Sampler(frame.format).take(frame, area)
    inside = plain.luma_codes(frame)[40:320, 64:576]
    assert np.array_equal(sample.luma, inside[::2, ::2])
    red = plain.rgb_rounded(frame)[0][1][40:320, 64:576]
    assert np.abs(sample.rgb[0] - steps(red[::2, ::2], 8)).max() <= 0.51


def test_pixels_are_taken_and_not_averaged() -> None:
    """A board of black and white pixels keeps its two codes."""
    board = np.indices((720, 1280)).sum(axis=0) % 2
    frame = plain.frame_of((np.where(board, 235, 16).astype(np.uint8),), "gray", 1280, 720)
    sample = Sampler(frame.format).take(frame, (0, 0, 1280, 720), beside=True)
    assert set(np.unique(sample.luma)) <= {16, 235} and set(np.unique(sample.beside)) <= {16, 235}
    assert np.all(sample.luma != sample.beside)


@pytest.mark.parametrize("name", ["yuyv422", "uyvy422", "nv12", "p010le", "rgb24", "gbrp10le", "gray", "y210le"])
def test_the_pixels_beside(name: str) -> None:
    frame = random_frame(name, 1920, 48)
    sample = Sampler(frame.format).take(frame, (0, 0, 1920, 48), colour=False, beside=True)
    luma = plain.luma_codes(frame)
    down = luma.shape[0] // sample.luma.shape[0]
    assert np.array_equal(sample.beside, luma[::down, 1::4]) and np.array_equal(sample.luma, luma[::down, ::4])
    assert sample.rgb is None


def test_beside_the_last_column_there_is_nothing() -> None:
    frame = random_frame("gray", 63, 9)
    sample = Sampler(frame.format).take(frame, (0, 0, 63, 9), beside=True)
    assert sample.luma.shape == (9, 63) and sample.beside.shape == (9, 62)


def test_arrays_are_used_again_and_the_picture_is_not_touched() -> None:
    frame, other = random_frame("yuyv422", 640, 360), random_frame("yuyv422", 640, 360, seed=2)
    sampler, area = Sampler(frame.format), (0, 0, 640, 360)
    first = sampler.take(frame, area)
    kept = first.luma.copy()
    second = sampler.take(other, area)
    assert first.luma is second.luma and all(a is b for a, b in zip(first.rgb, second.rgb, strict=True))
    assert not np.array_equal(kept, second.luma)
    assert not np.shares_memory(second.luma, other.planes[0])


def test_a_smaller_active_picture_needs_other_arrays() -> None:
    frame = random_frame("nv12", 1920, 1080)
    sampler = Sampler(frame.format)
    assert sampler.take(frame, (0, 0, 1920, 1080)).luma.shape == (135, 480)
    assert sampler.take(frame, (0, 140, 1920, 800)).luma.shape == (200, 480)
    assert sampler.take(frame, (240, 0, 1440, 1080)).rgb[1].shape == (135, 720)


@pytest.mark.parametrize("bits", [8, 10, 12, 16])
@pytest.mark.parametrize("span", ["narrow", "full"])
def test_the_scale_of_steps(bits: int, span: str) -> None:
    signal = signal_of_steps(bits, span)
    assert signal.shape == (STEPS,) and np.all(np.diff(signal) > 0.0)
    for level in (-6.0, 0.0, 18.0, 100.0, 105.0):
        step = step_of_level(level, bits, span)
        assert level_of_step(step, bits, span) == pytest.approx(level)
        assert np.interp(step, np.arange(STEPS), signal) == pytest.approx(level / 100.0)
    for code in (0, 1 << (bits - 1), (1 << bits) - 1):
        step = int(steps(np.array(code), bits))
        assert signal[step] * 100.0 == pytest.approx(plain.percent(code, bits, span), abs=0.01)


def test_luma_of_rgb_is_that_of_opencv_to_a_code() -> None:
    """cv2.cvtColor to grey has BT.601 weights (OpenCV, color conversions); ours are those of BT.709."""
    frame = random_frame("bgr24", 480, 135)
    sample = Sampler(frame.format).take(frame, (0, 0, 480, 135), colour=False)
    bgr = frame.planes[0].reshape(135, 480, 3).astype(np.float32)
    ours = cv2.transform(bgr, np.array([[0.0722, 0.7152, 0.2126]], np.float32))
    assert np.abs(ours - sample.luma).max() <= 0.501


def test_what_cannot_be_read_is_refused() -> None:
    frame = random_frame("yuv420p", 64, 48)
    odd = plain.frame_of(tuple(plane.copy() for plane in frame.planes), "yuv420p", 64, 48, matrix="rgb")
    with pytest.raises(FeedUnreadable, match="its matrix cannot be rgb"):
        Sampler(odd.format)
    assert component(LAYOUTS["yuv420p"], frame.planes, 0, 64).shape == (48, 64)
