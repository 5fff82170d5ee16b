"""The zone map against the printed Zone System, the curves and the rendered boathouse."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.measure.sample import Sampler
from analysis.measure.zones import (
    CLIP,
    CRUSH,
    QUIET,
    ZONE_NAMES,
    Aimed,
    Free,
    ZoneMapper,
    levels_of,
    marks,
    only_outside,
    shares,
    zone_of_stops,
)
from analysis.signal.curves import curve, names
from tests.measure import plain

# A. Adams, The Negative: printed zones against stops from zone V (middle grey, an 18 % card). The levels are
# 18 % times a power of two through ITU-R BT.709-6 item 1.2, computed.
PRINTED = [
    ("0", -5, 2.53), ("I", -4, 5.06), ("II", -3, 10.03), ("III", -2, 17.32), ("IV", -1, 27.29),
    ("V", 0, 40.90), ("VI", 1, 59.50), ("VII", 2, 84.90),
]  # fmt: skip


def grey(*codes: float, dtype: type = np.uint8) -> np.ndarray:
    """One row of greys, shape (1, n, 3)."""
    return np.repeat(np.array(codes, dtype)[None, :, None], 3, axis=2)


@pytest.mark.parametrize("name,stops,level", PRINTED)
def test_the_printed_zones_in_bt709(name: str, stops: int, level: float) -> None:
    mapper = ZoneMapper(curve("bt709"))
    assert ZONE_NAMES[zone_of_stops(stops)] == name
    assert ZONE_NAMES[mapper.of_picture(grey(round(2.55 * level)))[0, 0]] == name
    assert ZONE_NAMES[mapper.of_signal(grey(level / 100.0, dtype=np.float32))[0, 0]] == name


def test_zones_are_one_stop_wide_about_their_own() -> None:
    for zone in range(11):
        for within in (-0.49, -0.2, 0.0, 0.49):
            assert zone_of_stops(zone - 5 + within) == zone
    assert zone_of_stops(-40.0) == 0 and zone_of_stops(40.0) == 10


@pytest.mark.parametrize("name", [name for name in names() if name != "linear"])
@pytest.mark.parametrize("stops", [-4.8, -4.2, -3.0, -2.3, -1.0, 0.0, 0.3, 1.0, 1.7, 2.3])
def test_every_curve_puts_the_same_light_into_the_same_zone(name: str, stops: float) -> None:
    """Values away from the edges by more than half a code of 8 bits; the signal form is exact."""
    signal = float(curve(name).encode(np.array(0.18 * 2.0**stops)))
    if 0.0 < signal < 1.0:
        mapper = ZoneMapper(curve(name))
        assert mapper.of_signal(grey(signal, dtype=np.float32))[0, 0] == zone_of_stops(stops)
        assert mapper.of_picture(grey(round(255 * signal)))[0, 0] == zone_of_stops(stops)


@pytest.mark.parametrize("stops", [3.0, 4.0, 4.4, 5.0, 6.5])
def test_log_reaches_the_upper_zones(stops: float) -> None:
    """ACEScct (Academy S-2016-001) holds ten stops above middle grey; BT.709 ends at 2.47 (log2 1/0.18)."""
    signal = float(curve("acescct").encode(np.array(0.18 * 2.0**stops)))
    assert ZoneMapper(curve("acescct")).of_signal(grey(signal, dtype=np.float32))[0, 0] == zone_of_stops(stops)
    beyond = float(curve("bt709").encode(np.array(0.18 * 2.0**stops)))
    assert ZoneMapper(curve("bt709")).of_signal(grey(beyond, dtype=np.float32))[0, 0] == CLIP


@given(
    st.lists(st.integers(0, 255), min_size=2, max_size=40), st.sampled_from(["bt709", "hlg", "pq", "acescct", "srgb"])
)
def test_brighter_is_never_a_lower_zone(codes: list[int], name: str) -> None:
    codes = sorted(codes)
    found = ZoneMapper(curve(name)).of_picture(grey(*codes))[0]
    order = np.where(found == CRUSH, -1, found.astype(int))
    assert np.all(np.diff(order) >= 0)


def test_light_is_linearised_before_luminance() -> None:
    """Green alone makes 0.7152 of the luminance (ITU-R BT.709-6 item 3.2): of light, not of the level."""
    light = 0.18 * 2.0**-0.3 / 0.7152
    signal = np.zeros((1, 1, 3), np.float32)
    signal[..., 1] = curve("bt709").encode(np.array(light))
    assert ZoneMapper(curve("bt709")).of_signal(signal)[0, 0] == 5
    luma = 0.7152 * signal[0, 0, 1]
    assert zone_of_stops(float(np.log2(curve("bt709").decode(luma) / 0.18))) == 4, "through luma it would be one lower"


def test_the_weights_are_those_of_the_feed() -> None:
    """BT.2020-2 table 4: green weighs 0.6780."""
    signal = np.zeros((1, 1, 3), np.float32)
    signal[..., 1] = curve("bt709").encode(np.array(0.18 * 2.0**0.52 / 0.7152))
    assert ZoneMapper(curve("bt709")).of_signal(signal)[0, 0] == 6
    assert ZoneMapper(curve("bt709"), (0.2627, 0.6780, 0.0593)).of_signal(signal)[0, 0] == 5


def test_any_channel_at_the_top_is_clipped_and_luma_at_the_bottom_is_crushed() -> None:
    mapper = ZoneMapper(curve("bt709"))
    red = np.array([[[255, 40, 40], [254, 40, 40], [0, 0, 0], [9, 0, 0], [0, 0, 1]]], np.uint8)
    assert mapper.of_picture(red).tolist()[0][0] == CLIP
    assert mapper.of_picture(red).tolist()[0][1] < 11
    assert mapper.of_picture(red).tolist()[0][2] == CRUSH
    assert mapper.of_picture(red).tolist()[0][3] == 0
    assert mapper.of_picture(red).tolist()[0][4] == CRUSH


def test_levels_of_clip_and_crush_follow_the_camera() -> None:
    """A ceiling at 92 IRE and a floor at 4."""
    mapper = ZoneMapper(curve("acescct"), clip_percent=92.0, crush_percent=4.0)
    assert mapper.of_picture(grey(234, 235, 10, 11)).tolist() == [[10, CLIP, CRUSH, 0]]
    fine = mapper.of_signal(grey(0.9199, 0.9201, 0.0399, 0.0401, dtype=np.float32)).tolist()
    assert fine == [[10, CLIP, CRUSH, 0]]


def test_a_level_that_the_picture_cannot_hold_is_not_told_by_it() -> None:
    """Super-white: the small picture ends at 100 IRE, the clip level is 105."""
    mapper = ZoneMapper(curve("bt709"), clip_percent=105.0, crush_percent=-2.0)
    assert mapper.of_picture(grey(255, 0)).tolist() == [[7, 0]]
    assert mapper.of_signal(grey(1.049, 1.051, -0.019, -0.021, dtype=np.float32)).tolist() == [[8, CLIP, 0, CRUSH]]


def test_masks_mark_what_averaging_hid_and_clip_outweighs_crush() -> None:
    mapper = ZoneMapper(curve("bt709"))
    yes, no = np.array([[True, False]]), np.array([[False, False]])
    assert mapper.of_picture(grey(104, 104), clipped=yes).tolist() == [[CLIP, 5]]
    assert mapper.of_picture(grey(104, 104), crushed=yes).tolist() == [[CRUSH, 5]]
    assert mapper.of_picture(grey(104, 104), clipped=yes, crushed=yes).tolist() == [[CLIP, 5]]
    assert mapper.of_picture(grey(104, 104), no, no).tolist() == [[5, 5]]


def speck_frame(name: str, codes: int) -> tuple:
    luma = np.full((270, 480), 110, np.uint8)
    luma[100:102, 200:203] = codes
    luma[200:220, 40:80] = 16
    luma[30, 30] = 16
    frame = plain.frame_of((luma,), name, 480, 270)
    return frame, Sampler(frame.format).take(frame, (0, 0, 480, 270))


def test_marks_find_a_burnt_speck_and_leave_a_black_one() -> None:
    frame, sample = speck_frame("gray", 235)
    clipped, crushed = marks(sample, frame.format, (160, 90))
    assert clipped.shape == crushed.shape == (90, 160)
    assert 1 <= np.count_nonzero(clipped) <= 4 and clipped[33, 66]
    assert crushed[70, 20] and not crushed[10, 10]
    assert not np.any(clipped & crushed)


def test_marks_take_the_level_that_is_asked_for() -> None:
    frame, sample = speck_frame("gray", 234)
    assert not marks(sample, frame.format, (160, 90))[0].any()
    assert marks(sample, frame.format, (160, 90), clip_percent=99.0)[0].any()
    assert marks(sample, frame.format, (160, 90), crush_percent=50.0)[1].all() is np.False_
    assert marks(sample, frame.format, (160, 90), crush_percent=45.0)[1].mean() > 0.9


@pytest.mark.parametrize("size", [(160, 90), (33, 17), (1, 1), (480, 270)])
def test_marks_fit_any_small_picture(size: tuple[int, int]) -> None:
    frame, sample = speck_frame("gray", 235)
    clipped, crushed = marks(sample, frame.format, size)
    assert clipped.shape == crushed.shape == (size[1], size[0]) and clipped.any()


def test_only_what_is_outside_the_aims() -> None:
    """A face area with a band of 45 to 55 IRE; the rest of the picture is quiet but for clip and crush."""
    mapper = ZoneMapper(curve("bt709"))
    small = np.repeat(np.full((10, 10, 1), 127, np.uint8), 3, axis=2)
    small[0:5, 0:5] = 80
    small[5, 5] = 255
    small[9, 9] = 0
    zones = mapper.of_picture(small)
    shown = only_outside(zones, levels_of(small), [Aimed(x=0.0, y=0.0, width=0.5, height=1.0, low=45.0, high=55.0)])
    assert np.all(shown[0:5, 0:5] == zones[0:5, 0:5]) and zones[0, 0] == 4
    assert np.all(shown[5:, 0:5] == QUIET) and np.all(shown[:5, 5:] == QUIET)
    assert shown[5, 5] == CLIP and shown[9, 9] == CRUSH
    assert np.all(zones == mapper.of_picture(small)), "the map itself is as it was"


def test_a_free_area_may_clip_but_not_crush() -> None:
    zones = np.array([[CLIP, CLIP], [CRUSH, 5]], np.uint8)
    level = np.full((2, 2), 50.0)
    left = Free(x=0.0, y=0.0, width=0.5, height=1.0)
    assert only_outside(zones, level, [], [left]).tolist() == [[QUIET, CLIP], [CRUSH, QUIET]]
    assert only_outside(zones, level, []).tolist() == [[CLIP, CLIP], [CRUSH, QUIET]]


def test_an_aim_on_a_free_area_is_still_an_aim() -> None:
    zones = np.array([[CLIP, 5]], np.uint8)
    everything = {"x": 0.0, "y": 0.0, "width": 1.0, "height": 1.0}
    aim = Aimed(**everything, low=30.0, high=70.0)
    shown = only_outside(zones, np.array([[100.0, 41.0]]), [aim], [Free(**everything)])
    assert shown.tolist() == [[CLIP, QUIET]]


@pytest.mark.parametrize("shape", [(1, 1), (90, 160), (3, 7)])
def test_areas_never_leave_the_map(shape: tuple[int, int]) -> None:
    zones = np.full(shape, 5, np.uint8)
    level = np.full(shape, 90.0)
    for x, y, width, height in ((0.99, 0.99, 0.5, 0.5), (-1.0, -1.0, 0.1, 0.1), (0.0, 0.0, 9.0, 9.0)):
        shown = only_outside(zones, level, [Aimed(x=x, y=y, width=width, height=height, low=40.0, high=60.0)])
        assert 1 <= np.count_nonzero(shown == 5) <= zones.size


def test_shares_are_percent() -> None:
    found = shares(np.array([[5, 5, CLIP, CRUSH]], np.uint8))
    assert found[5] == 50.0 and found[11] == 25.0 and found[12] == 25.0 and sum(found) == 100.0
    assert len(found) == 13


def test_levels_are_luma() -> None:
    """ITU-R BT.709-6 item 3.2: full red is 21.26 %, green 71.52, blue 7.22."""
    primaries = np.array([[[255, 0, 0], [0, 255, 0], [0, 0, 255], [255, 255, 255]]], np.uint8)
    assert levels_of(primaries)[0].tolist() == pytest.approx([21.26, 71.52, 7.22, 100.0], abs=1e-3)
