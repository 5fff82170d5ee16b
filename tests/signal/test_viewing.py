"""The viewing transform: where light lands on the screen, against BT.709, BT.2408, BT.2100 and BT.2087."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.feed.address import parse_address
from analysis.feed.clock import SystemClock
from analysis.feed.factory import FeedOptions, make_source
from analysis.feed.pool import FramePool
from analysis.measure.meter import Meter
from analysis.model.errors import SettingsError
from analysis.model.frame import Encoding, Frame, Matrix
from analysis.signal.curves import Curve, adopt, built_in, curve
from analysis.signal.curves.display import bt709_oetf
from analysis.signal.viewing import ViewingTransform, viewing_for
from analysis.signal.viewing_render import (
    BT709_TOP_STOPS,
    between_primaries,
    display_level,
    scene_light,
    top_stops,
)
from tests.support.colour_library import colour_library

RAMP = np.repeat(np.arange(256, dtype=np.uint8)[np.newaxis, :, np.newaxis], 3, axis=2)
MADE_OF_LIGHT = ("hlg", "pq", "acescct", "acescc", "cineon", "linear")


def encoding(name: str | None, matrix: Matrix = "bt709") -> Encoding:
    return Encoding(bits=10, range="narrow", matrix=matrix, curve=name)


def shown(view: ViewingTransform, level: float) -> float:
    """Display level of a grey of this signal level, through the 8-bit picture."""
    code = int(level * 255 + 0.5)
    return float(view.apply(np.full((2, 2, 3), code, np.uint8))[1, 1, 1]) / 255.0


@pytest.mark.parametrize("name", ["bt709", "srgb"])
def test_pictures_made_for_a_screen_are_shown_code_for_code(name: str) -> None:
    view = viewing_for(encoding(name), "auto")
    np.testing.assert_array_equal(view.apply(RAMP), RAMP)
    assert view.trouble is None


@pytest.mark.parametrize("name", MADE_OF_LIGHT)
def test_middle_grey_lands_where_bt709_puts_it(name: str) -> None:
    """ITU-R BT.709-6 item 1.2: an 18 % card is at 40.9 %; half an 8-bit input code may be lost."""
    view = viewing_for(encoding(name), "auto")
    assert display_level(np.array(0.18), top_stops(curve(name))) == pytest.approx(0.409008, abs=1e-6)
    steepest = float(np.diff(view.apply(RAMP)[0, :, 0].astype(int)).max())
    assert shown(view, curve(name).middle) == pytest.approx(0.409, abs=(0.5 + 0.5 * steepest) / 255)


@pytest.mark.parametrize(
    "stops,level", [(-6, 0.0127), (-4, 0.0506), (-2, 0.1732), (-1, 0.2729), (0, 0.4090), (1, 0.5950)]
)
@pytest.mark.parametrize("top", [2.0, BT709_TOP_STOPS, 3.0, 4.39, 8.0, 10.27, 40.0])
def test_up_to_the_knee_the_level_is_that_of_bt709(stops: float, level: float, top: float) -> None:
    """Levels of 18 % x 2^s by ITU-R BT.709-6 item 1.2 (calculated)."""
    assert float(display_level(np.array(0.18 * 2.0**stops), top)) == pytest.approx(level, abs=6e-5)


def test_without_room_above_white_the_rendering_is_bt709() -> None:
    """The roll-off holds BT.709 as the curve whose top is 2.474 stops above middle grey."""
    light = np.geomspace(0.001, 1.0, 500)
    np.testing.assert_allclose(display_level(light, BT709_TOP_STOPS), bt709_oetf(light), atol=1e-9)
    np.testing.assert_allclose(display_level(light, BT709_TOP_STOPS + 1e-6), bt709_oetf(light), atol=1e-5)


@given(st.floats(2.48, 40.0))
def test_roll_off_rises_to_the_top_without_a_kink(top: float) -> None:
    stops = np.linspace(-8.0, top, 4001)
    level = display_level(0.18 * 2.0**stops, top)
    assert (np.diff(level) >= 0.0).all()
    assert level[-1] == pytest.approx(1.0, abs=1e-9)
    # Around the knee at one stop; BT.709's own join of line and power lies 3.3 stops under middle grey.
    near = np.linspace(0.5, 1.5, 1001)
    slopes = np.diff(display_level(0.18 * 2.0**near, top)) / 0.001
    assert np.abs(np.diff(slopes)).max() < 0.2 * 0.001
    assert slopes[500] == pytest.approx(0.45 * np.log(2.0) * (0.594959 + 0.099), abs=1e-3)
    assert float(display_level(np.array(0.18 * 2.0 ** (top + 3)), top)) == pytest.approx(1.0)


@pytest.mark.parametrize("name", MADE_OF_LIGHT)
def test_black_is_black_and_the_top_is_white(name: str) -> None:
    view = viewing_for(encoding(name), "auto")
    codes = view.apply(RAMP)[0, :, 0]
    assert codes[255] == 255
    dark = scene_light(curve(name), np.arange(256) / 255.0) <= 1e-5
    assert (codes[dark] == 0).all()
    assert codes[0] <= 1  # ACEScc has no black: its least signal is 0.0012 of light
    assert (np.diff(codes.astype(int)) >= 0).all()


@pytest.mark.parametrize(
    "name,grey,white",
    # ITU-R BT.2408 Table 1: an 18 % card at 38 % in both; reference white at 75 % HLG, 58 % PQ.
    [("hlg", 0.38, 0.75), ("pq", 0.38, 0.5807)],
)
def test_reference_levels_of_hdr(name: str, grey: float, white: float) -> None:
    """The card where BT.709 puts it; white near the top, with room above for highlights."""
    view = viewing_for(encoding(name), "auto")
    assert shown(view, grey) == pytest.approx(0.409, abs=0.01)
    assert 0.80 <= shown(view, white) <= 0.92
    assert shown(view, 1.0) == 1.0


def test_highlights_stay_apart_up_to_the_top() -> None:
    """Every stop above white that the curve can carry is still a step on the screen."""
    for name in ("hlg", "acescct", "cineon"):
        top = top_stops(curve(name))
        stops = np.arange(2.0, np.floor(top) + 1)
        levels = display_level(0.18 * 2.0**stops, top) * 255
        assert (np.diff(levels) >= 0.5).all(), name
        assert levels[-1] <= 255.0


@pytest.mark.parametrize("name", MADE_OF_LIGHT)
def test_each_code_is_the_nearest_to_the_formula(name: str) -> None:
    exact = display_level(scene_light(curve(name), np.arange(256) / 255.0), top_stops(curve(name))) * 255.0
    seen = viewing_for(encoding(name), "auto").apply(RAMP)[0, :, 0]
    assert np.abs(seen - exact).max() <= 0.5


@pytest.mark.parametrize("matrix", ["bt709", "bt2020"])
@pytest.mark.parametrize("name", built_in())
def test_grey_stays_grey(name: str, matrix: Matrix) -> None:
    picture = viewing_for(encoding(name, matrix), "auto").apply(RAMP).astype(int)
    assert np.ptp(picture, axis=2).max() <= (0 if matrix == "bt709" else 2)


@pytest.mark.parametrize("name", built_in())
def test_wide_primaries_leave_greys_where_they_were(name: str) -> None:
    """R = G = B is the same D65 grey in ITU-R BT.709 and BT.2020."""
    narrow = viewing_for(encoding(name), "auto").apply(RAMP).astype(int)
    wide = viewing_for(encoding(name, "bt2020"), "auto").apply(RAMP).astype(int)
    assert np.abs(narrow - wide).max() <= (3 if name == "linear" else 1)  # linear is steepest at black


def test_matrix_between_primaries() -> None:
    """ITU-R BT.2087 (from memory, four decimals) and colour-science, which computes it from the primaries."""
    published = [[1.6605, -0.5876, -0.0728], [-0.1246, 1.1329, -0.0083], [-0.0182, -0.1006, 1.1187]]
    np.testing.assert_allclose(between_primaries(), published, atol=6e-5)
    np.testing.assert_allclose(between_primaries().sum(axis=1), 1.0, atol=1e-12)
    colour = colour_library()
    spaces = colour.RGB_COLOURSPACES
    theirs = colour.matrix_RGB_to_RGB(spaces["ITU-R BT.2020"], spaces["ITU-R BT.709"], None)
    np.testing.assert_allclose(between_primaries(), theirs, atol=1e-4)


@pytest.mark.parametrize("name", ["bt709", "hlg", "pq", "acescct"])
def test_a_bt709_colour_inside_bt2020_comes_back(name: str) -> None:
    """Light of a colour within BT.709, written with BT.2020 primaries, is shown as that BT.709 colour."""
    rng = np.random.default_rng(3)
    light = rng.uniform(0.02, 0.7, (600, 3))
    coded = np.clip(curve(name).encode(np.maximum(light @ np.linalg.inv(between_primaries()).T, 0.0)), 0.0, 1.0)
    small = np.floor(coded * 255 + 0.5).astype(np.uint8).reshape(20, 30, 3)
    seen = viewing_for(encoding(name, "bt2020"), "auto").apply(small).reshape(-1, 3) / 255.0
    wanted = np.asarray(bt709_oetf(light)) if name == "bt709" else display_level(light, top_stops(curve(name)))
    assert np.abs(seen - wanted).mean() < 0.012  # what 8 bits of the coded signal cost
    assert np.abs(seen - wanted).max() < 0.08


def test_log_looks_dull_as_it_comes_and_not_through_its_transform() -> None:
    """The point of it all: the spread from 3 stops under to 3 stops over middle grey."""
    light = 0.18 * 2.0 ** np.array([-3.0, 3.0])
    low, high = curve("acescct").encode(light)
    view = viewing_for(encoding("acescct"), "auto")
    assert high - low < 0.36
    assert shown(view, high) - shown(view, low) > 0.7


@pytest.mark.parametrize("name", ["acescct", "hlg", "pq"])
def test_the_same_room_looks_the_same_whatever_the_camera_writes(name: str) -> None:
    """One rendered picture in two curves: below the knee the log or HDR one is shown as the BT.709 one is."""
    plain, coded = small_of("bt709"), small_of(name)
    below = (plain < 0.58 * 255).all(axis=2)  # the knee is at 59.5 %
    assert below.mean() > 0.5
    away = np.abs(viewing_for(encoding(name), "auto").apply(coded).astype(float) - plain)[below]
    assert away.mean() < 2.0
    assert np.percentile(away, 99) < 8.0  # area averages of log are not those of BT.709 along edges
    assert np.abs(coded.astype(float) - plain)[below].mean() > 4.0  # and as it comes it is not


def small_of(name: str) -> np.ndarray:
    """The small picture of a metered frame of the boathouse."""
    clock = SystemClock()
    address = parse_address(f"scene:boathouse?curve={name}&bits=10&size=640x360&noise=off&lamp=on")
    source = make_source(address, FeedOptions(), FramePool(2), clock)
    source.open()
    picture = source.read()
    frame = Frame(planes=picture.planes, format=picture.format, instant=clock.now(), generation=0, sequence=0)
    view = Meter().measure(frame, None, frame.instant).view
    assert view is not None
    return view.small


def test_signal_is_shown_as_it_comes() -> None:
    view = viewing_for(encoding("acescct"), "signal")
    np.testing.assert_array_equal(view.apply(RAMP), RAMP)
    assert (view.label, view.trouble) == ("as it comes", None)


@pytest.mark.parametrize("name,said", [(None, "nobody said"), ("no-such", "no-such: no such curve"), ("torn", "mend")])
def test_a_curve_that_is_not_known_is_said_and_shown_as_it_comes(name: str | None, said: str) -> None:
    adopt([], {"torn": SettingsError("line 3 is torn", "torn.csv", "mend it")})
    try:
        view = viewing_for(encoding(name), "auto")
    finally:
        adopt([])
    np.testing.assert_array_equal(view.apply(RAMP), RAMP)
    assert view.trouble is not None
    assert said in view.trouble


def test_the_operators_own_curve() -> None:
    """A curve adopted from a file is shown by its own middle grey and top."""
    own = Curve(name="lake", encode=lambda x: np.log2(np.asarray(x) / 0.18) / 10 + 0.4,
                decode=lambda v: 0.18 * 2.0 ** ((np.asarray(v) - 0.4) * 10), source="the operator's own")  # fmt: skip
    adopt([own])
    try:
        view = viewing_for(encoding("lake"), "auto")
    finally:
        adopt([])
    assert top_stops(own) == pytest.approx(6.0)
    assert shown(view, 0.4) == pytest.approx(0.409, abs=0.004)
    assert shown(view, 0.5) == pytest.approx(0.595, abs=0.006)
    assert shown(view, 1.0) == 1.0
    assert "lake" in view.label


@pytest.mark.parametrize("decode", [lambda v: np.full_like(v, np.nan), lambda v: np.exp(v * 1e4), lambda v: -v])
@pytest.mark.parametrize("matrix", ["bt709", "bt2020"])
def test_a_wild_curve_still_makes_a_picture(decode: object, matrix: Matrix) -> None:
    adopt([Curve(name="wild", encode=np.asarray, decode=decode, source="nonsense")])  # type: ignore[arg-type]
    try:
        view = viewing_for(encoding("wild", matrix), "auto")
    finally:
        adopt([])
    assert view.apply(RAMP).shape == RAMP.shape


def test_a_table_must_be_given() -> None:
    with pytest.raises(SettingsError, match=r"no table is given .*; name a \.cube or \.clf file"):
        viewing_for(encoding("bt709"), "table")
