"""The meter as a whole: levels for every layout, what it leaves alone, and what it refuses."""

from __future__ import annotations

import tracemalloc
import zlib

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.measure import unpack
from analysis.measure.meter import Meter
from analysis.measure.meter_settings import MeterSettings
from analysis.model.errors import FeedCorrupt, FeedUnreadable, SettingsError
from analysis.model.instant import Instant
from analysis.model.reading import FeedHealth, Luma, Shares
from analysis.signal.layouts import LAYOUTS
from tests.measure import plain

START = Instant(0.0, 0.0)


def noise(name: str, width: int, height: int, seed: int = 0, span: str = "narrow", sequence: int = 0):
    planes = plain.random_planes(LAYOUTS[name], width, height, np.random.default_rng(seed))
    return plain.frame_of(planes, name, width, height, span, sequence=sequence)


@pytest.mark.parametrize("name", sorted(LAYOUTS))
@pytest.mark.parametrize("width,height", [(64, 48), (33, 17), (1, 1)])
def test_levels_of_every_layout_are_numpys(name: str, width: int, height: int) -> None:
    frame = noise(name, width, height, 3)
    luma, bits = plain.luma_codes(frame), LAYOUTS[name].depth
    found = Meter().measure(frame, None, START).reading.luma
    expected = plain.percent(np.percentile(luma, [1, 5, 50, 95, 99]), bits, "narrow")
    half = plain.percent(0.5, bits, "full") if LAYOUTS[name].is_rgb else 1e-9
    assert [found.p1, found.p5, found.p50, found.p95, found.p99] == pytest.approx(expected, abs=half)
    extremes = plain.percent(np.array([luma.min(), luma.mean(), luma.max()]), bits, "narrow")
    assert [found.min, found.mean, found.max] == pytest.approx(extremes, abs=half)


@pytest.mark.parametrize("name", ["yuyv422", "yuv422p10le", "nv12", "p010le", "gbrp", "rgb24", "gray", "yuvj420p"])
def test_a_frame_is_only_read(name: str) -> None:
    frame = noise(name, 322, 181)
    before = [zlib.crc32(plane.tobytes()) for plane in frame.planes]
    meter = Meter()
    for _ in range(3):
        meter.measure(frame, None, START)
    assert before == [zlib.crc32(plane.tobytes()) for plane in frame.planes]
    assert not any(plane.flags.writeable for plane in frame.planes)


@pytest.mark.parametrize("name", sorted(LAYOUTS))
@pytest.mark.parametrize("width,height", [(160, 90), (159, 91), (67, 37)])
def test_many_small_tiles_give_what_one_gives(name: str, width: int, height: int, monkeypatch) -> None:
    frame = noise(name, width, height, 9)
    one = Meter().measure(frame, None, START)
    monkeypatch.setattr(unpack, "_TILE_BYTES", 300)
    monkeypatch.setattr(unpack, "_WIDE", 16)
    many = Meter().measure(frame, None, START)
    # Above 8 bits single precision may decide a value halfway between codes by where it lies in an array.
    moved = 0 if LAYOUTS[name].depth == 8 else 2
    assert many.reading.luma.p50 == pytest.approx(one.reading.luma.p50, abs=0.001 * moved)
    assert many.reading.picture == one.reading.picture
    for part in ("clipped", "crushed"):
        shares = [msgspec.structs.asdict(getattr(reading, part)) for reading in (one.reading, many.reading)]
        for channel in ("any", "luma", "r", "g", "b"):
            assert shares[0][channel] == pytest.approx(shares[1][channel], abs=100 * moved / (width * height))
    assert np.abs(one.view.trace - many.view.trace).sum() <= 2 * moved
    assert np.abs(one.view.small.astype(int) - many.view.small).max() <= moved
    if not LAYOUTS[name].is_grey:
        assert np.abs(one.view.trace_rgb - many.view.trace_rgb).sum() <= 6 * moved


def test_a_frame_whose_memory_is_not_contiguous() -> None:
    wide = np.random.default_rng(1).integers(0, 256, (48, 140), dtype=np.uint8)
    loose = plain.frame_of((wide[:, :128],), "yuyv422", 64, 48)
    tight = plain.frame_of((wide[:, :128].copy(),), "yuyv422", 64, 48)
    assert Meter().measure(loose, None, START).reading == Meter().measure(tight, None, START).reading


@pytest.mark.parametrize("name", ["yuyv422", "yuv420p10le", "gbrp12le", "gray10le"])
def test_the_same_frame_reads_the_same_in_used_arrays(name: str) -> None:
    meter, frame = Meter(), noise(name, 130, 70, 1)
    first = meter.measure(frame, None, START)
    meter.measure(noise(name, 130, 70, 2), None, START)
    again = meter.measure(frame, None, START)
    assert first.reading == again.reading
    assert np.array_equal(first.view.trace, again.view.trace) and np.array_equal(first.view.small, again.view.small)


def test_what_was_given_out_does_not_change_later() -> None:
    meter = Meter()
    first = meter.measure(noise("yuyv422", 130, 70, 1), None, START).view
    kept = first.trace.copy(), first.trace_rgb.copy(), first.small.copy()
    meter.measure(noise("yuyv422", 130, 70, 2), None, START)
    assert all(np.array_equal(a, b) for a, b in zip(kept, (first.trace, first.trace_rgb, first.small), strict=True))


def test_no_picture_sized_memory_is_asked_for_frame_by_frame() -> None:
    frame, meter = noise("yuyv422", 1280, 720), Meter()
    meter.measure(frame, None, START)
    tracemalloc.start()
    try:
        meter.measure(frame, None, START)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < 1280 * 720, "the traces and the small picture take about 0.7 MB, a plane as much again"


def test_a_change_of_format_starts_afresh() -> None:
    meter = Meter()
    for name, width, height in [("yuyv422", 64, 48), ("nv12", 64, 48), ("nv12", 32, 48), ("gbrp10le", 32, 48)]:
        frame = noise(name, width, height)
        assert meter.measure(frame, None, START).reading == Meter().measure(frame, None, START).reading


def test_what_is_passed_through() -> None:
    health = FeedHealth(fps=25.0, age_ms=12.0, skipped=3, generation=1)
    frame = noise("gray", 8, 8, sequence=50)
    measurement = Meter().measure(frame, health, Instant(1.0, 0.0), "late")
    reading = measurement.reading
    assert (reading.sequence, reading.seconds, reading.validity, reading.feed) == (50, 2.0, "late", health)
    assert reading.encoding == frame.format.encoding and measurement.instant == frame.instant
    assert (reading.picture.width, reading.picture.height, reading.picture.active) == (8, 8, (0, 0, 8, 8))


def test_a_corrupt_frame_is_suspect_and_unmeasured() -> None:
    frame = plain.frame_of((np.zeros((4, 4), np.uint8),), "gray", 8, 8, corrupt=True)
    measurement = Meter().measure(frame, None, START)
    assert measurement.reading.validity == "suspect" and measurement.view is None
    assert measurement.reading.luma is measurement.reading.clipped is measurement.reading.crushed is None


def test_bad_planes_and_layouts_are_refused_by_name() -> None:
    with pytest.raises(FeedCorrupt, match="too short"):
        Meter().measure(plain.frame_of((np.zeros((4, 4), np.uint8),), "gray", 8, 8), None, START)
    frame = noise("gray", 8, 8)
    odd = msgspec.structs.replace(frame, format=msgspec.structs.replace(frame.format, layout="pal8"))
    with pytest.raises(FeedUnreadable, match="pal8"):
        Meter().measure(odd, None, START)


def test_grey_has_no_colour_shares_and_no_colour_trace() -> None:
    measurement = Meter().measure(noise("gray12le", 40, 30), None, START)
    clipped = measurement.reading.clipped
    assert clipped.r is clipped.g is clipped.b is None and clipped.any == clipped.luma
    assert measurement.view.trace_rgb is None and measurement.view.small.shape == (30, 40, 3)


@pytest.mark.parametrize(
    "span,wish,level,by",
    [
        ("narrow", MeterSettings(), (100.0, 0.0), ("narrow", "narrow")),
        ("full", MeterSettings(), (100.0, 0.0), ("full", "full")),
        ("narrow", MeterSettings(clip_percent=92.4, crush_percent=3.5), (92.4, 3.5), ("asked", "asked")),
    ],
)
def test_the_reading_says_what_set_the_level(span, wish, level, by) -> None:
    reading = Meter(wish).measure(noise("nv12", 16, 16, span=span), None, START).reading
    assert (reading.clipped.level, reading.crushed.level) == level
    assert (reading.clipped.by, reading.crushed.by) == by


def test_saturated_skin_clips_in_red_before_it_clips_in_luma() -> None:
    """R' at 102.5 % with luma at only 86 %: the very light skin of the spectral archive, a stop over."""
    red, green, blue = 102.5, 84.0, 76.5
    luma = 0.2126 * red + 0.7152 * green + 0.0722 * blue
    codes = [16 + 2.19 * luma, 128 + 2.24 * (blue - luma) / 1.8556, 128 + 2.24 * (red - luma) / 1.5748]
    y, cb, cr = (round(code) for code in codes)
    planes = (np.tile(np.array([y, cb, y, cr], np.uint8), (8, 4)),)
    reading = Meter().measure(plain.frame_of(planes, "yuyv422", 8, 8), None, START).reading
    assert reading.clipped.r == reading.clipped.any == 100.0
    assert reading.clipped.luma == reading.clipped.g == reading.clipped.b == 0.0
    assert reading.luma.p50 == pytest.approx(86.0, abs=2.0)


def test_8k_and_a_single_pixel() -> None:
    planes = (np.full((4320, 7680), 235, np.uint8), np.full((2160, 7680), 128, np.uint8))
    reading = Meter().measure(plain.frame_of(planes, "nv12", 7680, 4320), None, START).reading
    assert reading.luma == Luma(mean=100.0, min=100.0, p1=100.0, p5=100.0, p50=100.0, p95=100.0, p99=100.0, max=100.0)
    assert reading.clipped == Shares(any=100.0, luma=100.0, r=100.0, g=100.0, b=100.0, level=100.0, by="narrow")
    one = Meter().measure(plain.frame_of((np.array([[16]], np.uint8),), "gray", 1, 1), None, START)
    assert one.reading.luma.max == 0.0 and one.view.trace.sum() == 1.0 and one.view.small.shape == (1, 1, 3)


def test_parts_can_be_left_out() -> None:
    frame = noise("yuyv422", 64, 48)
    assert Meter(MeterSettings(view=False)).measure(frame, None, START).view is None
    view = Meter(MeterSettings(rgb=False)).measure(frame, None, START).view
    assert view.trace_rgb is None and view.small.shape == (48, 64, 3)


@pytest.mark.parametrize(
    "wish",
    [{"columns": 0}, {"rgb_columns": 257}, {"small_width": 0}, {"clip_percent": 200.0}, {"crush_percent": -99.0}],
)
def test_senseless_settings_are_refused_by_name(wish: dict[str, float]) -> None:
    with pytest.raises(SettingsError, match=next(iter(wish))):
        MeterSettings(**wish)


@settings(max_examples=2000, deadline=None)
@given(
    st.sampled_from(sorted(LAYOUTS)),
    st.integers(1, 40),
    st.integers(1, 40),
    st.sampled_from(["narrow", "full"]),
    st.sampled_from(["bt709", "bt601", "bt2020"]),
    st.integers(0, 2**32 - 1),
    st.sampled_from([MeterSettings(), MeterSettings(clip_percent=50.0, crush_percent=50.0, columns=7, rgb_columns=3)]),
)
def test_any_frame_gives_a_sane_reading(name, width, height, span, matrix, seed, wish) -> None:
    planes = plain.random_planes(LAYOUTS[name], width, height, np.random.default_rng(seed))
    measurement = Meter(wish).measure(plain.frame_of(planes, name, width, height, span, matrix), None, START)
    reading, view = measurement.reading, measurement.view
    for shares in (reading.clipped, reading.crushed):
        parts = [part for part in (shares.r, shares.g, shares.b, shares.luma) if part is not None]
        assert all(0.0 <= part <= 100.0 + 1e-9 for part in parts)
        assert max(parts) - 1e-9 <= shares.any <= min(100.0, sum(parts)) + 1e-9
    levels = reading.luma
    assert levels.min <= levels.p1 <= levels.p5 <= levels.p50 <= levels.p95 <= levels.p99 <= levels.max
    assert levels.min <= levels.mean <= levels.max and 0 < view.trace.sum() <= width * height
    msgspec.json.encode(reading)
