"""The picture in stops: published levels, saturated colours, ends of the scale, and the rendered boathouse."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.feed.scene.controls import SceneControls
from analysis.feed.scene.renderer import Renderer
from analysis.measure.sample import Sampler
from analysis.measure.stops import BINS, LOW, STEP, StopsFound, StopsMeter
from analysis.model.frame import Frame
from analysis.model.instant import Instant
from analysis.signal.curves import curve, names
from analysis.signal.layouts import LAYOUTS
from analysis.signal.matrix import encode
from tests.measure import plain


def look(frame: Frame, name: str = "bt709", ceiling: float = 100.0, floor: float = 0.0, darkest: float = 0.0):
    """What the stops of a whole frame say."""
    area = (0, 0, frame.format.width, frame.format.height)
    luma = plain.luma_codes(frame)
    counts = np.bincount(luma.ravel(), minlength=1 << LAYOUTS[frame.format.layout].depth).astype(float)
    sample = Sampler(frame.format).take(frame, area)
    return StopsMeter(frame.format, curve(name)).look(sample, counts, ceiling, floor, darkest)


def even(code: int, layout: str = "gray", width: int = 64, height: int = 32, span: str = "narrow") -> Frame:
    how = LAYOUTS[layout]
    planes = [np.full(shape, code, how.dtype) for shape in plain.plane_shapes(how, width, height)]
    for plane in planes[1:]:
        plane[:] = 1 << (how.depth - 1)
    return plain.frame_of(tuple(planes), layout, width, height, span)


def middle(found: StopsFound) -> float:
    """The middle of the only bin that is filled."""
    full = [number for number, share in enumerate(found.spread.counts) if share]
    assert len(full) == 1 and found.spread.counts[full[0]] == 100.0
    return found.spread.low + found.spread.step * (full[0] + 0.5)


# Levels of BT.709 at whole stops from an 18 % card (ITU-R BT.709-6 item 1.2), as 10-bit narrow codes (item 3.4).
@pytest.mark.parametrize("stops,code", [(-4, 108), (-3, 152), (-2, 216), (-1, 303), (0, 422), (1, 585), (2, 808)])
@pytest.mark.parametrize("layout", ["gray10le", "yuv422p10le"])
def test_published_levels_lie_at_their_stops(stops: int, code: int, layout: str) -> None:
    assert middle(look(even(code, layout))) == pytest.approx(stops, abs=STEP / 2 + 0.02)


@pytest.mark.parametrize("name", [name for name in names() if name != "linear"])
@pytest.mark.parametrize("stops", [-4.1, -1.3, 0.1, 1.9])
def test_every_curve_is_undone(name: str, stops: float) -> None:
    level = float(curve(name).encode(np.array(0.18 * 2.0**stops)))
    code = round(256 + 3504 * level)
    light = float(curve(name).decode(np.array((code - 256) / 3504)))
    assert abs(middle(look(even(code, "gray12le"), name)) - np.log2(light / 0.18)) <= STEP / 2 + 0.005


def test_full_range_is_read_as_full_range() -> None:
    """sRGB code 118 of 255 is an 18 % card (IEC 61966-2-1; ISO 12232 uses it as the reference)."""
    assert abs(middle(look(even(118, "gray", span="full"), "srgb"))) <= STEP / 2 + 0.03


@pytest.mark.parametrize("colour", [(0.9, 0.1, 0.1), (0.1, 0.1, 0.8), (0.05, 0.7, 0.1), (0.6, 0.5, 0.4)])
@pytest.mark.parametrize("matrix", ["bt709", "bt2020"])
def test_colours_are_linearised_before_luminance(matrix: str, colour: tuple[float, float, float]) -> None:
    """Luma through the curve would read a saturated colour darker than its light is."""
    ycc = encode(colour, matrix, 10, "narrow")
    planes = tuple(np.full((32, 64), round(value), np.uint16) for value in ycc)
    found = look(plain.frame_of(planes, "yuv444p10le", 64, 32, matrix=matrix))
    weights = [float(weight) for weight in plain.WEIGHTS[matrix]]
    light = np.dot(weights, curve("bt709").decode(np.array(colour)))
    luma = curve("bt709").decode(np.array((ycc[0] - 64) / 876))
    assert abs(middle(found) - np.log2(light / 0.18)) <= STEP / 2 + 0.02
    if max(colour) > 0.75:
        assert np.log2(light / luma) > 0.3  # what would be lost


def test_the_spread_is_the_histogram_of_all_pixels() -> None:
    rng = np.random.default_rng(4)
    codes = rng.integers(64, 941, (135, 480)).astype(np.uint16)
    spread = look(plain.frame_of((codes,), "gray10le", 480, 135)).spread
    stops = np.log2(np.maximum(curve("bt709").decode((codes - 64.0) / 876), 1e-6) / 0.18)
    edges = LOW + STEP * np.arange(BINS + 1)
    expected = np.histogram(np.clip(stops, LOW, edges[-1] - 1e-6), edges)[0] * 100.0 / codes.size
    # Single precision may move codes that lie on an edge by one bin.
    assert np.abs(np.cumsum(spread.counts) - np.cumsum(expected)).max() < 0.2
    assert sum(spread.counts) == pytest.approx(100.0) and len(spread.counts) == BINS


def test_what_lies_beyond_the_table_is_counted_at_its_ends() -> None:
    assert look(even(16, "gray")).spread.counts[0] == 100.0  # black: no light at all
    assert look(even(4, "gray")).spread.counts[0] == 100.0  # below black
    assert look(even(1019, "gray10le", span="full"), "pq").spread.counts[-1] == 0.0
    assert look(even(254, "gray"), "acescc").spread.counts[-1] == 100.0
    assert look(even(1019, "gray10le"), "acescct").spread.counts[int((11.85 - LOW) / STEP)] == 100.0


# 18 % to 100 % is 2.4739 stops (log2(1/0.18)), to 109 % of the signal 2.726 with the curve carried on (by calculation).
@pytest.mark.parametrize("ceiling,stops", [(100.0, 2.4739), (109.0183, 2.726)])
def test_headroom_of_a_grey_card(ceiling: float, stops: float) -> None:
    assert look(even(1689, "gray12le"), ceiling=ceiling).headroom == pytest.approx(stops, abs=0.004)


def test_headroom_counts_from_the_largest_channel() -> None:
    colour = (0.9, 0.2, 0.2)
    planes = tuple(np.full((32, 64), round(value), np.uint16) for value in encode(colour, "bt709", 10, "narrow"))
    found = look(plain.frame_of(planes, "yuv444p10le", 64, 32))
    assert found.headroom == pytest.approx(-np.log2(curve("bt709").decode(np.array(0.9))), abs=0.01)


def test_specks_do_not_use_up_headroom_but_a_window_does() -> None:
    picture = np.full((1080, 1920), 106, np.uint8)
    picture.flat[np.random.default_rng(5).choice(picture.size, 400, replace=False)] = 235  # 0.02 %
    assert look(plain.frame_of((picture,), "gray", 1920, 1080)).headroom == pytest.approx(2.47, abs=0.03)
    window = np.full((1080, 1920), 106, np.uint8)
    window[:100, :100] = 235  # half a percent
    assert look(plain.frame_of((window,), "gray", 1920, 1080)).headroom == 0.0


def test_nothing_is_left_at_or_above_the_ceiling() -> None:
    assert look(even(245, "gray")).headroom == 0.0
    assert look(even(200, "gray"), ceiling=80.0).headroom == 0.0
    near = look(even(190, "gray"), ceiling=84.02)  # code 200
    decode = curve("bt709").decode
    assert near.headroom == pytest.approx(np.log2(decode(np.array(0.8402)) / decode(np.array(174 / 219))), abs=0.005)


def test_footroom_ends_one_code_above_the_floor() -> None:
    """In 10 bits that is 1/876 of the signal; BT.709 has light = signal / 4.5 there."""
    found = look(even(422, "gray10le"))
    last = 1.0 / 876 / 4.5
    card = float(curve("bt709").decode(np.array((422 - 64) / 876)))
    assert found.footroom == pytest.approx(np.log2(card / last), abs=0.01)


def test_noise_and_a_found_floor_end_footroom_earlier() -> None:
    frame = even(422, "gray10le")
    assert look(frame, darkest=0.18 / 32).footroom == pytest.approx(5.0, abs=0.01)
    assert look(frame, floor=5.06).footroom == pytest.approx(4.0, abs=0.05)  # -4 stops lie at 5.06 % of BT.709
    assert look(even(64, "gray10le")).footroom == 0.0
    assert look(even(70, "gray10le"), floor=5.0).footroom == 0.0


def test_a_curve_without_light_at_its_floor_has_no_footroom_to_tell() -> None:
    """One 8-bit code above black is -0.07 of light in ACEScct: no light at all."""
    assert look(even(100, "gray"), "acescct").footroom is None
    assert look(even(100, "gray"), "acescct", darkest=0.01).footroom is not None


@pytest.mark.parametrize("name,layout", [("bt709", "yuyv422"), ("acescct", "yuv422p10le"), ("hlg", "yuv422p10le")])
def test_the_boathouse_has_the_light_that_was_put_into_it(name: str, layout: str) -> None:
    """The share of the picture above each whole stop, against the scene's own light before curve and codes."""
    controls = SceneControls(width=640, height=360, curve=name, layout=layout, noise=False, clouds=False, nd=4.0)
    renderer = Renderer(controls)
    picture = renderer.picture(0.0, 0)
    frame = Frame(planes=picture.planes, format=picture.format, instant=Instant(0.0, 0.0), generation=1, sequence=0)
    found = look(frame, name)
    stage = renderer._stage
    light = renderer._camera.caught(stage.palette.under(_lights(controls)))
    luminance = np.tensordot((0.2126, 0.7152, 0.0722), light, axes=1)[stage.index(*renderer._move(0.0))]
    stops = np.log2(np.maximum(luminance, 1e-6) / 0.18)
    # Halved chroma mixes light at edges; a tenth of a stop of a whole picture is the most it moves.
    for whole in range(-5, 3):
        above = sum(found.spread.counts[int((whole - LOW) / STEP) :])
        low, high = (100.0 * float((stops > whole + step).mean()) for step in (0.15, -0.15))
        assert low - 1.0 <= above <= high + 1.0, whole


def _lights(controls: SceneControls):
    from analysis.feed.scene.lights import levels

    return levels(controls, 0.0)
