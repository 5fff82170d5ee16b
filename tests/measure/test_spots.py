"""Spots read from true pixels: against plain decoding of whole pictures, for every layout."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.measure.spots import COLUMNS, ROWS, SpotMeter, pixels, read_spots
from analysis.model.errors import FeedCorrupt
from analysis.model.frame import Frame
from analysis.model.sitter import Spot
from analysis.signal.curves import curve
from analysis.signal.layouts import LAYOUTS, plane_shapes
from tests.measure import plain


def spot(name: str = "spot", x: float = 0.25, y: float = 0.25, width: float = 0.25, height: float = 0.25) -> Spot:
    return Spot(name=name, kind="watch", x=x, y=y, width=width, height=height)


def gentle_frame(name: str, width: int, height: int, seed: int = 3, **how) -> Frame:
    """Codes around middle grey with little colour, so that nothing saturates."""
    layout = LAYOUTS[name]
    rng = np.random.default_rng(seed)
    unit = 1 << (layout.depth - 8)
    planes = []
    for shape in plane_shapes(layout, width, height):
        planes.append((rng.integers(100 * unit, 150 * unit, shape).astype(layout.dtype)) << layout.shift)
    return plain.frame_of(tuple(planes), name, width, height, **how)


def rgb_exact(frame: Frame) -> list[np.ndarray]:
    if LAYOUTS[frame.format.layout].is_grey:
        return [plain.luma_codes(frame).astype(float)] * 3
    return [exact for _, exact in plain.rgb_rounded(frame)]


@pytest.mark.parametrize("name", sorted(LAYOUTS))
def test_every_layout_reads_as_the_plain_decoding(name: str) -> None:
    """Of a small spot every pixel is read with the chroma of its group, wherever in a group it begins."""
    frame = gentle_frame(name, 240, 136)
    how = LAYOUTS[name]
    where = spot(x=65 / 240, y=33 / 136, width=43 / 240, height=31 / 136)
    assert pixels(where, (0, 0, 240, 136)) == (65, 33, 43, 31)
    found = read_spots(frame, (0, 0, 240, 136), [where], curve("bt709"))["spot"]
    rows, columns = slice(33, 64), slice(65, 108)
    bits, span = how.depth, frame.format.encoding.range
    luma = plain.luma_codes(frame)[rows, columns].mean()
    assert found.level == pytest.approx(plain.percent(luma, bits, span), abs=0.01)  # luma of R'G'B' is rounded there
    signal = np.stack([plain.percent(plane[rows, columns], bits, span) for plane in rgb_exact(frame)]) / 100.0
    light = np.array([0.2126, 0.7152, 0.0722]) @ curve("bt709").decode(signal).reshape(3, -1)  # BT.709-6 item 3.2
    assert found.stops == pytest.approx(np.log2(light.mean() / 0.18), abs=0.001)
    assert found.clipped == 0.0 and found.kind == "watch"


@pytest.mark.parametrize("name", ["yuyv422", "nv12", "yuv444p10le", "p010le", "bgr24", "gbrp12le", "gray10le"])
def test_a_large_spot_is_read_on_a_lattice(name: str) -> None:
    """A lattice of some 1,500 pixels of noise has a standard error of 0.025 of its spread."""
    frame = gentle_frame(name, 640, 360)
    found = read_spots(frame, (0, 0, 640, 360), [spot(x=0, y=0, width=1, height=1)])["spot"]
    luma = plain.percent(plain.luma_codes(frame), LAYOUTS[name].depth, frame.format.encoding.range)
    assert found.level == pytest.approx(luma.mean(), abs=5 * luma.std() / np.sqrt(COLUMNS * ROWS / 4))
    assert found.stops is None, "no curve, no stops"


def test_only_the_spot_is_touched() -> None:
    """Codes that would change everything lie just outside it."""
    luma = np.full((100, 160), 235, np.uint8)
    luma[20:40, 32:64] = 126
    frame = plain.frame_of((luma,), "gray", 160, 100)
    where = spot(x=0.2, y=0.2, width=0.2, height=0.2)
    found = read_spots(frame, (0, 0, 160, 100), [where], curve("bt709"))["spot"]
    assert found.level == pytest.approx(100.0 * 110 / 219) and found.clipped == 0.0


@pytest.mark.parametrize(
    "stop,level", [(-4, 5.06), (-3, 10.03), (-2, 17.32), (-1, 27.29), (0, 40.90), (1, 59.50), (2, 84.90)]
)
def test_levels_of_whole_stops_in_bt709(stop: int, level: float) -> None:
    """18 % times a power of two through the curve of ITU-R BT.709-6 item 1.2, computed from its formula."""
    codes = np.full((64, 64), round(64 + 8.76 * level), np.uint16)
    frame = plain.frame_of((codes,), "gray10le", 64, 64)
    found = read_spots(frame, (0, 0, 64, 64), [spot()], curve("bt709"))["spot"]
    assert found.stops == pytest.approx(stop, abs=0.02)
    assert found.level == pytest.approx(level, abs=0.06)


def test_stops_come_from_linear_light_of_each_channel() -> None:
    """A dark skin chip (R'G'B' 95 70 59 in narrow 8-bit codes, International Skin Spectra Archive, Lu et al. 2025):
    -1.00 stop in true luminance; luma through the curve would read 0.04 lower."""
    chip = np.array([95, 70, 59], np.uint8)
    frame = plain.frame_of((np.tile(chip, (40, 40)),), "rgb24", 40, 40)
    found = read_spots(frame, (0, 0, 40, 40), [spot()], curve("bt709"))["spot"]
    assert found.stops == pytest.approx(-1.00, abs=0.02)
    assert found.level == pytest.approx(26.8, abs=0.3)


@pytest.mark.parametrize("part", [0.0, 0.25, 1.0])
def test_clipped_counts_any_channel(part: float) -> None:
    """Red alone at 100 IRE clips; luma is far from it."""
    rgb = np.full((80, 80, 3), 60, np.uint8)
    rgb[: int(80 * part), :, 0] = 235
    frame = plain.frame_of((rgb.reshape(80, 240),), "rgb24", 80, 80)
    whole = spot(x=0, y=0, width=1, height=1)
    found = read_spots(frame, (0, 0, 80, 80), [whole])["spot"]
    assert found.clipped == pytest.approx(100 * part, abs=1.0)
    assert found.level < 50.0


@pytest.mark.parametrize("name", ["rgb24", "gbrp12le", "yuv444p", "nv12", "gray"])
def test_coloured_counts_what_clips_in_a_channel_and_not_in_luma(name: str) -> None:
    """Wild codes, against the plain decoding; luma of R'G'B' with the weights of BT.709-6 item 3.2."""
    layout, rng = LAYOUTS[name], np.random.default_rng(8)
    unit = 1 << (layout.depth - 8)
    planes = tuple(
        rng.integers(60 * unit, 255 * unit, shape).astype(layout.dtype) << layout.shift
        for shape in plane_shapes(layout, 64, 48)
    )
    frame = plain.frame_of(planes, name, 64, 48)
    found = read_spots(frame, (0, 0, 64, 48), [spot(x=0, y=0, width=48 / 64, height=36 / 48)])["spot"]
    span = frame.format.encoding.range
    rgb = np.stack([plain.percent(plane, layout.depth, span) for plane in rgb_exact(frame)])[:, :36, :48]
    if layout.is_rgb:
        luma = np.tensordot([0.2126, 0.7152, 0.0722], rgb, 1)
    else:
        luma = plain.percent(plain.luma_codes(frame), layout.depth, span)[:36, :48]
    slack = 0.5 * 100 / 219 / unit
    in_a_channel, in_luma = rgb.max(axis=0) >= 100.0 - slack, luma >= 100.0 - slack
    alone = 100.0 * np.mean(in_a_channel & ~in_luma)
    assert found.coloured == pytest.approx(alone, abs=0.3)
    assert found.coloured <= found.clipped
    assert (found.coloured == 0.0) is (name == "gray")


def test_share_is_what_a_spot_covers_and_others_of_its_kind_do_not() -> None:
    frame = plain.frame_of((np.full((100, 200), 60, np.uint8),), "gray", 200, 100)
    doors = spot("doors", 0.0, 0.0, 0.5, 0.5)
    laid = [
        doors,
        spot("pane", 0.25, 0.25, 0.5, 0.5),
        spot("inside", 0.1, 0.1, 0.1, 0.1),
        msgspec.structs.replace(doors, name="lamp", kind="let go"),
        spot("far", 0.9, 0.9, 0.1, 0.1),
    ]
    found = read_spots(frame, (0, 0, 200, 100), laid)
    shares = {name: each.share for name, each in found.items()}
    assert shares == pytest.approx({"doors": 25.0, "pane": 18.75, "inside": 0.0, "lamp": 25.0, "far": 1.0})
    # Of the active picture, not of the bars.
    assert read_spots(frame, (0, 25, 200, 50), [doors])["doors"].share == pytest.approx(25.0)


def test_shares_follow_a_spot_that_changes_its_kind() -> None:
    frame = plain.frame_of((np.full((100, 200), 60, np.uint8),), "gray", 200, 100)
    meter, first, second = SpotMeter(), spot("a", 0.0, 0.0, 0.5, 0.5), spot("b", 0.0, 0.0, 0.5, 0.5)
    assert meter.read(frame, (0, 0, 200, 100), [first, second])["b"].share == 0.0
    other = msgspec.structs.replace(second, kind="let go")
    assert meter.read(frame, (0, 0, 200, 100), [first, other])["b"].share == pytest.approx(25.0)


@pytest.mark.parametrize("bits,name", [(8, "yuv444p"), (10, "yuv444p10le")])
def test_the_clip_level_is_that_of_the_shares(bits: int, name: str) -> None:
    """White (235 or 940, BT.709-6 item 3.4) is clipped, one code less is not; an asked level moves it."""
    unit = 1 << (bits - 8)
    for below, clipped in ((0, 100.0), (1, 0.0)):
        kind = LAYOUTS[name].dtype
        planes = (np.full((32, 32), 235 * unit - below, kind), *(np.full((32, 32), 128 * unit, kind) for _ in "bc"))
        frame = plain.frame_of(planes, name, 32, 32)
        assert read_spots(frame, (0, 0, 32, 32), [spot()])["spot"].clipped == clipped
        assert read_spots(frame, (0, 0, 32, 32), [spot()], clip_percent=90.0)["spot"].clipped == 100.0
        assert read_spots(frame, (0, 0, 32, 32), [spot()], clip_percent=104.0)["spot"].clipped == 0.0


@pytest.mark.parametrize("size", [(320, 180), (640, 360), (1920, 1080), (3840, 2160), (1279, 717)])
def test_spots_scale_with_the_picture(size: tuple[int, int]) -> None:
    """The same picture at any size reads the same: a bright patch that fills the spot exactly."""
    width, height = size
    luma = np.full((height, width), 60, np.uint8)
    where = spot(x=0.5, y=0.25, width=0.125, height=0.25)
    x, y, wide, high = pixels(where, (0, 0, width, height))
    assert abs(x - 0.5 * width) <= 0.5 and abs(wide - 0.125 * width) <= 1.0
    luma[y : y + high, x : x + wide] = 180
    frame = plain.frame_of((luma,), "gray", width, height)
    assert read_spots(frame, (0, 0, width, height), [where])["spot"].level == pytest.approx(100 * 164 / 219)


def test_spots_are_parts_of_the_active_picture() -> None:
    """Black bars above and below do not count: the spot lies in the same place of what is shown."""
    luma = np.full((360, 640), 16, np.uint8)
    luma[40:320] = 60
    luma[110:180, 320:480] = 180
    frame = plain.frame_of((luma,), "gray", 640, 360)
    where = spot(x=0.5, y=0.25, width=0.25, height=0.25)
    assert read_spots(frame, (0, 40, 640, 280), [where])["spot"].level == pytest.approx(100 * 164 / 219)


fractions = st.floats(min_value=-0.5, max_value=1.5, allow_nan=False)


@given(fractions, fractions, fractions, fractions, st.integers(1, 4000), st.integers(1, 3000), st.integers(0, 99))
def test_a_spot_never_leaves_the_active_picture(
    x: float, y: float, width: float, height: float, wide: int, high: int, bar: int
) -> None:
    area = pixels(spot(x=x, y=y, width=width, height=height), (bar, 2 * bar, wide, high))
    assert area[0] >= bar and area[1] >= 2 * bar and area[2] >= 1 and area[3] >= 1
    assert area[0] + area[2] <= bar + wide and area[1] + area[3] <= 2 * bar + high


@pytest.mark.parametrize("name", ["nv12", "yuv410p", "yuyv422", "yuv444p", "bgr0"])
@pytest.mark.parametrize("size", [(1, 1), (5, 3), (7, 9)])
def test_tiny_odd_pictures(name: str, size: tuple[int, int]) -> None:
    frame = gentle_frame(name, *size)
    corners = [spot("a", 0, 0, 0.01, 0.01), spot("b", 0.99, 0.99, 0.01, 0.01), spot("c", 0, 0, 1, 1)]
    found = read_spots(frame, (0, 0, *size), corners, curve("srgb"))
    assert list(found) == ["a", "b", "c"]
    assert all(30.0 < each.level < 70.0 for each in found.values())


def test_many_spots_do_not_disturb_each_other() -> None:
    ramp = np.tile(np.linspace(16, 235, 480).astype(np.uint8), (90, 1))
    frame = plain.frame_of((ramp,), "gray", 480, 90)
    chosen = [spot(f"s{n}", n / 16, 0.1 + n / 40, 1 / 16, 0.2 + n / 40) for n in range(16)]
    together = read_spots(frame, (0, 0, 480, 90), chosen, curve("bt709"))
    for each in chosen:
        assert read_spots(frame, (0, 0, 480, 90), [each], curve("bt709"))[each.name] == together[each.name]
    levels = [together[each.name].level for each in chosen]
    assert levels == sorted(levels)


def test_no_light_no_stops() -> None:
    """Black has a level and no stops: no curve tells light from nothing."""
    frame = plain.frame_of((np.full((32, 32), 16, np.uint8),), "gray", 32, 32)
    found = read_spots(frame, (0, 0, 32, 32), [spot()], curve("bt709"))["spot"]
    assert found.level == 0.0 and found.stops is None


def test_a_corrupt_frame_tells_nothing() -> None:
    frame = plain.frame_of((np.zeros((2, 2), np.uint8),), "gray", 32, 32, corrupt=True)
    assert read_spots(frame, (0, 0, 32, 32), [spot()]) == {}


def test_planes_that_are_not_what_they_say_are_refused() -> None:
    frame = plain.frame_of((np.zeros((2, 2), np.uint8),), "gray", 32, 32)
    with pytest.raises(FeedCorrupt, match="too short"):
        read_spots(frame, (0, 0, 32, 32), [spot()])


def test_a_meter_follows_a_change_of_format_and_of_spots() -> None:
    meter = SpotMeter(curve("bt709"))
    for name in ("yuyv422", "nv12", "rgb24", "yuyv422"):
        frame = gentle_frame(name, 64, 48)
        assert meter.read(frame, (0, 0, 64, 48), [spot()]) == read_spots(
            frame, (0, 0, 64, 48), [spot()], curve("bt709")
        )
    assert meter.read(gentle_frame("nv12", 64, 48), (0, 0, 64, 48), []) == {}


def test_the_kind_travels_with_the_reading() -> None:
    frame = gentle_frame("gray", 64, 48)
    for kind in ("watch", "let go", "background"):
        where = msgspec.structs.replace(spot(), kind=kind)
        assert read_spots(frame, (0, 0, 64, 48), [where])["spot"].kind == kind


def test_the_picture_is_not_touched() -> None:
    frame = gentle_frame("p010le", 64, 48)
    before = [plane.copy() for plane in frame.planes]
    read_spots(frame, (0, 0, 64, 48), [spot()], curve("hlg"))
    assert all(np.array_equal(a, b) for a, b in zip(before, frame.planes, strict=True))
