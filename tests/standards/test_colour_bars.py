"""Line-up bars drawn by FFmpeg must read exactly as their standards print them.

``smptehdbars`` draws SMPTE RP 219-2002; ``smptebars``, ``pal75bars`` and ``pal100bars`` are coded with
the matrix of ITU-R BT.601.
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.measure.meter import Meter
from analysis.measure.meter_settings import MeterSettings
from analysis.model.frame import Frame
from analysis.model.instant import Instant
from analysis.model.reading import Reading
from analysis.signal.bars import COLOURS, bar, step
from tests.measure import plain
from tests.standards import lavfi

LAYOUTS_8 = ["yuv444p", "yuv422p", "yuv420p", "yuyv422", "nv12"]
TOP = 540  # rows of the 75 % bars that are far from their lower edge
# Widths drawn at 1920 pixels: top row 240 (grey), seven of 206, 238 (grey); bottom row:
BOTTOM = (240, 310, 412, 172, 68, 68, 68, 68, 68, 208, 238)
BOTTOM_LEVELS = (15.0, 0.0, 100.0, 0.0, -2.0, 0.0, 2.0, 0.0, 4.0, 0.0, 15.0)
NAMES = ["white", "yellow", "cyan", "green", "magenta", "red", "blue"]


def read(frame: Frame, **wish) -> Reading:
    return Meter(MeterSettings(view=False, **wish)).measure(frame, None, Instant(0.0, 0.0)).reading


def cut(frame: Frame, x: int, y: int, width: int, height: int) -> Frame:
    """A part of a frame as a frame of its own, 4:4:4 codes."""
    planes = plain.components(frame)
    parts = tuple(np.ascontiguousarray(plane[y : y + height, x : x + width].astype(np.uint8)) for plane in planes)
    return plain.frame_of(parts, "yuv444p", width, height, "narrow", frame.format.encoding.matrix)


@pytest.fixture(scope="module", params=LAYOUTS_8)
def bars(request) -> Frame:
    return lavfi.drawn("smptehdbars", request.param)


def test_every_bar_of_the_top_row_has_its_codes(bars: Frame) -> None:
    planes, x = plain.components(bars), 240
    for name in NAMES:
        middle = [int(plane[TOP // 2, x + 103]) for plane in planes]
        assert tuple(middle) == bar(name), name
        x += 206
    assert int(planes[0][10, 10]) == step(40.0)


@pytest.mark.parametrize("number", range(11))
def test_every_step_of_the_bottom_row_reads_its_level(number: int) -> None:
    frame = lavfi.drawn("smptehdbars", "yuv422p")
    x, width = sum(BOTTOM[:number]), BOTTOM[number]
    part = read(cut(frame, x + 4, 1000, width - 8, 60))
    assert part.luma.min == part.luma.max == pytest.approx(plain.percent(step(BOTTOM_LEVELS[number]), 8, "narrow"))
    assert part.luma.p50 == pytest.approx(BOTTOM_LEVELS[number], abs=0.25)  # half a code is 0.228
    assert part.clipped.any == (100.0 if BOTTOM_LEVELS[number] == 100.0 else 0.0)
    assert part.crushed.any == (100.0 if BOTTOM_LEVELS[number] <= 0.0 else 0.0)
    assert (part.luma.max < 0.0) == (BOTTOM_LEVELS[number] == -2.0), "only the -2 % patch lies below black"


def test_shares_of_the_whole_picture_are_the_areas_drawn(bars: Frame) -> None:
    """Every area is known from the codes of the picture itself; above them stand the widths of the rows."""
    reading = read(bars)
    above, below = plain.shares(bars, 235, 16)
    assert reading.clipped.luma == pytest.approx(above["luma"])
    assert reading.crushed.luma == pytest.approx(below["luma"])
    undecided = plain.undecided(bars, 235, 16) + 1e-9
    assert reading.clipped.any == pytest.approx(above["any"], abs=undecided)
    assert reading.crushed.any == pytest.approx(below["any"], abs=undecided)
    bottom = plain.luma_codes(bars)[1000]
    for code, width in ((235, 412), (12, 68), (20, 68), (25, 68), (16, 310 + 172 + 68 + 68 + 208)):
        assert int((bottom == code).sum()) == pytest.approx(width, abs=6)  # FFmpeg moves edges to whole chroma samples
    black_white = 25.0 / 100 * np.array([412, 310 + 172 + 68 + 68 + 208 + 68]) / 1920 * 100
    # The ramp of the third row (a twelfth of the height) adds its own ends, under half its width.
    assert black_white[0] - 0.5 < reading.clipped.luma < black_white[0] + 4.0
    assert black_white[1] - 0.5 < reading.crushed.luma < black_white[1] + 4.0


def test_seventy_five_percent_bars_do_not_clip(bars: Frame) -> None:
    top = read(cut(bars, 0, 0, 1920, TOP))
    assert top.clipped.any == top.clipped.luma == top.clipped.r == top.clipped.g == top.clipped.b == 0.0
    assert top.luma.max == pytest.approx(75.0, abs=0.23)
    assert top.crushed.luma == 0.0, "no bar is black in luma; saturated ones lack a channel"


@pytest.mark.parametrize("name", NAMES)
def test_each_bar_reads_its_luma_and_lacks_the_channels_it_lacks(bars: Frame, name: str) -> None:
    x = 240 + 206 * NAMES.index(name)
    part = read(cut(bars, x + 8, 8, 190, 400))
    red, green, blue = COLOURS[name]
    level = 75.0 * (0.2126 * red + 0.7152 * green + 0.0722 * blue)
    assert part.luma.mean == pytest.approx(level, abs=0.23)
    # A channel at 0 % comes back as code 16 or 17 from quantised Y'CbCr: within one code of crushed.
    nearly = read(cut(bars, x + 8, 8, 190, 400), crush_percent=0.5)
    assert [nearly.crushed.r, nearly.crushed.g, nearly.crushed.b] == [100.0 * (1 - on) for on in (red, green, blue)]


@pytest.mark.parametrize("bits", [10, 12])
def test_deep_bars_are_the_8_bit_codes_at_their_depth(bits: int) -> None:
    """FFmpeg draws 8 bits and widens them; every level is that of the 8-bit picture."""
    deep, plain8 = lavfi.drawn("smptehdbars", f"yuv422p{bits}le"), lavfi.drawn("smptehdbars", "yuv422p")
    ours, theirs = read(deep), read(plain8)
    for name in ("mean", "min", "p1", "p5", "p50", "p95", "p99", "max"):
        assert getattr(ours.luma, name) == pytest.approx(getattr(theirs.luma, name), abs=0.06)
    assert ours.clipped.luma == pytest.approx(theirs.clipped.luma)


@pytest.mark.parametrize("generator,amplitude", [("smptebars", 75.0), ("pal75bars", 75.0), ("pal100bars", 100.0)])
def test_bt601_bars_do_not_pass_as_bt709(generator: str, amplitude: float) -> None:
    frame = lavfi.drawn(generator, "yuv444p", 720, 576)
    luma = plain.components(frame)[0][60]
    seen = {int(code) for code in luma}
    for name in ("yellow", "cyan", "green", "magenta", "red", "blue"):
        coded_601, coded_709 = bar(name, amplitude, "bt601")[0], bar(name, amplitude)[0]
        assert coded_601 in seen, f"{name} is coded with BT.601"
        assert 5 <= abs(coded_601 - coded_709) <= 28 and coded_709 not in seen


@pytest.mark.parametrize("matrix,right", [("bt601", True), ("bt709", False)])
def test_reading_the_wrong_matrix_shows_in_the_channels(matrix: str, right: bool) -> None:
    """Bars of BT.601 (white at 100 %, colours at 75 %): with the right matrix only 0, 75 and 100 % come out."""
    frame = lavfi.drawn("pal75bars", "yuv444p", 720, 576, matrix)
    planes = plain.rgb_codes(frame)
    levels = {int(value) for plane in planes for value in np.unique(plane[100])}
    on = round(16 + 2.19 * 75)
    exact = all(min(abs(value - 16), abs(value - on), abs(value - 235)) <= 2 for value in levels)
    assert exact is right
    reading = read(frame, active_picture=False)
    above, below = plain.shares(frame, 235, 16)
    undecided = plain.undecided(frame, 235, 16) + 1e-9
    assert reading.crushed.any == pytest.approx(below["any"], abs=undecided)
    assert reading.clipped.any == pytest.approx(above["any"], abs=undecided)
