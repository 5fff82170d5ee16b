"""Signal tolerance against plain counting for every layout, the estimate against the count, and the filter."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from analysis.measure.sample import Sampler
from analysis.measure.tolerance import ToleranceMeter, applies, estimate, preferred_codes
from analysis.model.errors import FeedUnreadable, SettingsError
from analysis.model.frame import Frame
from analysis.model.reading import Tolerance
from analysis.signal.layouts import LAYOUTS
from tests.measure import plain


def counted(frame: Frame, area: tuple[int, int, int, int]) -> dict[str, float]:
    """Percent outside, on whole planes in whole numbers."""
    how = LAYOUTS[frame.format.layout]
    low, high = preferred_codes(how.depth)
    part = slice(area[1], area[1] + area[3]), slice(area[0], area[0] + area[2])
    planes = {"luma": plain.luma_codes(frame)}
    if not how.is_grey:
        planes |= dict(zip("rgb", plain.rgb_codes(frame), strict=True))
    outside = {name: ((plane < low) | (plane > high))[part] for name, plane in planes.items()}
    outside["any"] = np.any(list(outside.values()), axis=0)
    return {name: 100.0 * float(found.mean()) for name, found in outside.items()}


def shares(found: Tolerance) -> dict[str, float]:
    told = {name: getattr(found, name) for name in ("luma", "r", "g", "b", "any")}
    return {name: share for name, share in told.items() if share is not None}


def undecided(frame: Frame) -> float:
    low, high = preferred_codes(LAYOUTS[frame.format.layout].depth)
    return plain.undecided(frame, high + 1, low - 1)


def random_frame(name: str, width: int, height: int, spread: float = 1.0, **how) -> Frame:
    """Any codes; with a small ``spread`` near the middle of the range, so that most are inside."""
    made = plain.random_planes(LAYOUTS[name], width, height, np.random.default_rng(5))
    if spread < 1.0:
        shift, depth = LAYOUTS[name].shift, LAYOUTS[name].depth
        middle = 1 << (depth - 1)
        made = tuple(
            ((middle + ((plane >> shift).astype(np.float64) - middle) * spread).astype(plane.dtype) << shift)
            for plane in made
        )
    return plain.frame_of(made, name, width, height, **how)


@pytest.mark.parametrize("name", sorted(name for name in LAYOUTS if not LAYOUTS[name].full_by_name))
def test_every_layout_is_counted_to_the_pixel(name: str) -> None:
    frame = random_frame(name, 96, 48)
    found = ToleranceMeter(frame.format).measure(frame, (0, 0, 96, 48))
    expected, slack = counted(frame, (0, 0, 96, 48)), undecided(frame) if not LAYOUTS[name].is_grey else 0.0
    # Luma of 12- and 16-bit R'G'B' is a sum in single precision; a limit is missed by a pixel in thousands.
    for share, value in shares(found).items():
        assert value == pytest.approx(expected[share], abs=slack + (0.05 if LAYOUTS[name].is_rgb else 1e-9)), share
    assert set(shares(found)) == set(expected)


@pytest.mark.parametrize("matrix", ["bt709", "bt601", "bt2020"])
@pytest.mark.parametrize("name", ["yuv420p", "yuyv422", "p010le"])
@pytest.mark.parametrize("spread", [1.0, 0.6, 0.3])
def test_matrices_and_pictures_that_are_mostly_inside(matrix: str, name: str, spread: float) -> None:
    frame = random_frame(name, 640, 360, spread, matrix=matrix)
    expected = counted(frame, (0, 0, 640, 360))
    found = ToleranceMeter(frame.format).measure(frame, (0, 0, 640, 360))
    for share, value in shares(found).items():
        assert value == pytest.approx(expected[share], abs=undecided(frame) + 1e-9), share
    assert found.within is (expected["any"] <= 1.0)


def test_every_pair_of_chroma_codes() -> None:
    blue, red = np.meshgrid(np.arange(256, dtype=np.uint8), np.arange(256, dtype=np.uint8))
    wrong = 0.0
    for luma in (0, 4, 5, 60, 128, 200, 246, 247, 255):
        planes = (np.full((256, 256), luma, np.uint8), blue.copy(), red.copy())
        frame = plain.frame_of(planes, "yuv444p", 256, 256)
        found = ToleranceMeter(frame.format).measure(frame, (0, 0, 256, 256))
        expected = counted(frame, (0, 0, 256, 256))
        wrong += sum(abs(value - expected[share]) * 655.36 for share, value in shares(found).items())
    assert wrong <= 8.0  # G' of three pairs of chroma lies within 0.00003 code of halfway


def test_red_too_high_and_blue_too_low_is_one_pixel_outside() -> None:
    """A pixel is counted once in any, however many of its channels are outside, and on whichever side."""
    y, cb, cr = 120, 16, 240
    planes = tuple(np.full((16, 16), code, np.uint8) for code in (y, cb, cr))
    frame = plain.frame_of(planes, "yuv444p", 16, 16)
    red, _, blue = (int(plane[0, 0]) for plane in plain.rgb_codes(frame))
    assert red > 246 and blue < 5
    found = ToleranceMeter(frame.format).measure(frame, (0, 0, 16, 16))
    assert (found.any, found.luma, found.r, found.b) == (100.0, 0.0, 100.0, 100.0)


@pytest.mark.parametrize("area", [(0, 0, 333, 201), (64, 32, 200, 100), (2, 2, 331, 199)])
@pytest.mark.parametrize("name", ["yuv420p", "nv12", "gray", "rgb24"])
@pytest.mark.parametrize("way", ["none", "mean3"])
def test_only_the_active_picture_counts(area: tuple[int, int, int, int], name: str, way: str) -> None:
    frame = random_frame(name, 333, 201, 0.9)
    found = ToleranceMeter(frame.format, way).measure(frame, area)
    expected = counted(frame, area)
    if way == "none":
        assert found.any == pytest.approx(expected["any"], abs=undecided(frame) if name != "gray" else 1e-9)
    else:
        x, y, width, height = area
        luma = plain.luma_codes(frame)[y : y + height, x : x + width].astype(np.float32)
        mean = cv2.blur(luma, (3, 3), borderType=cv2.BORDER_REPLICATE)
        assert found.luma == pytest.approx(100.0 * float(((mean >= 246.5) | (mean < 4.5)).mean()), abs=0.05)


@pytest.mark.parametrize("layout", ["gray", "yuv444p", "rgb24"])
def test_the_mean_forgives_single_pixels_but_no_areas(layout: str) -> None:
    grey = np.full((90, 160), 180, np.uint8)
    grey[10:80:10, 10:150:10] = 255
    grey[40:60, 100:140] = 250
    chroma = np.full((90, 160), 128, np.uint8)
    planes = {
        "gray": (grey,),
        "yuv444p": (grey, chroma, chroma.copy()),
        "rgb24": (np.ascontiguousarray(np.stack([grey] * 3, axis=-1).reshape(90, 480)),),
    }[layout]
    frame = plain.frame_of(planes, layout, 160, 90)
    plainly, filtered = (ToleranceMeter(frame.format, way).measure(frame, (0, 0, 160, 90)) for way in ("none", "mean3"))
    assert plainly.any == pytest.approx(100.0 * np.count_nonzero(grey > 246) / grey.size)
    # The area loses the row of pixels at its edge: there a third of the mean is 180.
    assert filtered.any == filtered.luma == pytest.approx(100.0 * 18 * 38 / grey.size)


@pytest.mark.parametrize("name", ["yuyv422", "yuv422p10le", "yuv444p12le", "rgb24", "gray"])
@pytest.mark.parametrize("spread", [0.9, 0.5])
def test_the_estimate_is_near_the_count(name: str, spread: float) -> None:
    frame = random_frame(name, 960, 540, spread)
    area = (0, 0, 960, 540)
    found, seen = (
        ToleranceMeter(frame.format).measure(frame, area),
        estimate(Sampler(frame.format).take(frame, area), frame.format),
    )
    assert seen.estimated and not found.estimated
    for share, value in shares(seen).items():
        expected = shares(found)[share]
        pixels = 135 * 480
        assert abs(value - expected) <= 5.0 * 100.0 * np.sqrt(max(expected, 0.1) / 100.0 / pixels) + 0.01, share


@pytest.mark.parametrize("name", ["yuv420p", "yuyv422", "yuv444p10le", "yuv422p12le", "gbrp", "gray10le"])
def test_the_estimate_of_a_picture_that_is_sampled_whole(name: str) -> None:
    """Every pixel of a small picture is looked at (every second where chroma is halved): only rounding differs."""
    frame = random_frame(name, 240, 120)
    how = LAYOUTS[name]
    seen = shares(estimate(Sampler(frame.format).take(frame, (0, 0, 240, 120)), frame.format))
    low, high = preferred_codes(how.depth)
    planes = {"luma": plain.luma_codes(frame)}
    if not how.is_grey:
        planes |= dict(zip("rgb", plain.rgb_codes(frame), strict=True))
    for channel, plane in planes.items():
        plane = plane[:: 1 << how.log2_height, :: 1 << how.log2_width]
        assert seen[channel] == pytest.approx(100.0 * float(((plane < low) | (plane > high)).mean()), abs=0.03)


@pytest.mark.parametrize("code,outside", [(4, True), (5, False), (246, False), (247, True)])
@pytest.mark.parametrize("bits", [8, 10, 12, 16])
def test_the_estimate_has_the_same_limits(code: int, outside: bool, bits: int) -> None:
    name = {8: "gbrp", 10: "gbrp10le", 12: "gbrp12le", 16: "rgb48le"}[bits]
    how = LAYOUTS[name]
    planes = tuple(np.full(shape, code << (bits - 8), how.dtype) for shape in plain.plane_shapes(how, 32, 32))
    frame = plain.frame_of(planes, name, 32, 32)
    seen = estimate(Sampler(frame.format).take(frame, (0, 0, 32, 32)), frame.format)
    assert set(shares(seen).values()) == {100.0 if outside else 0.0}


def test_full_range_has_no_preferred_range() -> None:
    frame = random_frame("yuv420p", 64, 48, span="full")
    assert not applies(frame.format)
    assert estimate(Sampler(frame.format).take(frame, (0, 0, 64, 48)), frame.format) is None
    with pytest.raises(SettingsError, match="narrow range only"):
        ToleranceMeter(frame.format)


def test_what_cannot_be_is_refused() -> None:
    frame = random_frame("yuv420p", 64, 48)
    with pytest.raises(SettingsError, match="no filter median; use none or mean3"):
        ToleranceMeter(frame.format, "median")
    with pytest.raises(FeedUnreadable):
        ToleranceMeter(random_frame("yuv420p", 64, 48, matrix="rgb").format)
    assert estimate(Sampler(frame.format).take(frame, (0, 0, 64, 48), colour=False), frame.format) is None


def test_the_picture_is_only_read_and_the_meter_used_again() -> None:
    frame, other = random_frame("nv12", 320, 180), random_frame("nv12", 320, 180, 0.3)
    before = [plane.copy() for plane in frame.planes]
    meter = ToleranceMeter(frame.format)
    first = meter.measure(frame, (0, 0, 320, 180))
    assert meter.measure(other, (0, 0, 320, 180)).any < first.any
    assert meter.measure(frame, (0, 0, 320, 180)) == first
    assert all(np.array_equal(a, b) for a, b in zip(before, frame.planes, strict=True))
