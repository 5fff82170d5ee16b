"""Maps of light against the light of the picture computed plainly."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.measure.light_map import LightMapper
from analysis.measure.sample import Sampler
from analysis.model.frame import Encoding, Frame, FrameFormat
from analysis.model.instant import Instant
from analysis.model.light import COLUMNS, ROWS, LightMap
from analysis.signal.curves import curve

NOW = Instant(3.0, 4.0)


def map_of(codes: np.ndarray, name: str = "bt709", bits: int = 8, clip: float = 100.0, crush: float = 0.0) -> LightMap:
    """The map of a picture of grey codes."""
    high, wide = codes.shape
    form = FrameFormat(
        layout="gray" if bits == 8 else "gray10le",
        width=wide,
        height=high,
        encoding=Encoding(bits=bits, range="narrow", matrix="bt709"),
    )
    plane = np.ascontiguousarray(codes.astype(np.uint8 if bits == 8 else np.uint16))
    frame = Frame(planes=(plane,), format=form, instant=NOW, generation=2, sequence=0)
    area = (0, 0, wide, high)
    return LightMapper(form, curve(name)).look(Sampler(form).take(frame, area), clip, crush, NOW, 2, area)


def codes_of(stops: np.ndarray, name: str, bits: int) -> np.ndarray:
    """Narrow codes of grey at these stops: 16 and 235 of eight bits are black and white (ITU-R BT.709-6, item 5)."""
    signal = curve(name).encode(0.18 * 2.0**stops)
    return np.round((16.0 + 219.0 * signal) * 2 ** (bits - 8))


@pytest.mark.parametrize(("name", "bits"), [("acescct", 10), ("acescct", 8), ("bt709", 10), ("hlg", 10)])
def test_stops_are_those_of_the_light(name: str, bits: int) -> None:
    true = np.linspace(-4.0, 1.5, COLUMNS)
    picture = np.repeat(np.repeat(true, 10)[None, :], 270, axis=0)
    found = map_of(codes_of(picture, name, bits), name, bits)
    one_code = 0.05 if bits == 8 else 0.06 if name != "acescct" else 0.012
    assert found.trusted.all()
    assert np.abs(found.stops - true[None, :]).max() < one_code
    assert (found.at, found.generation, found.area) == (NOW, 2, (0, 0, 480, 270))


def test_the_mean_is_of_light_not_of_codes() -> None:
    picture = np.where(np.indices((270, 480)).sum(0) % 2, -3.0, 1.0)
    found = map_of(codes_of(picture, "acescct", 10), "acescct", 10)
    assert float(np.median(found.stops)) == pytest.approx(np.log2((2.0**-3 + 2.0) / 2.0), abs=0.02)


def test_clipped_and_crushed_cells_are_not_trusted() -> None:
    stops = np.zeros((270, 480))
    codes = codes_of(stops, "bt709", 8)
    codes[:100, :100], codes[-100:, :100] = 236, 16
    found = map_of(codes)
    assert found.clipped[2, 2] and not found.trusted[2, 2] and not found.crushed[2, 2]
    assert found.crushed[-2, 2] and not found.trusted[-2, 2] and not found.clipped[-2, 2]
    assert found.trusted[:, 14:].all()


def test_clipping_counts_from_the_level_that_is_given() -> None:
    codes = codes_of(np.zeros((270, 480)), "acescct", 8)
    level = 100.0 * (float(codes[0, 0]) - 16.0) / 219.0
    assert not map_of(codes, "acescct").clipped.any()
    assert map_of(codes, "acescct", clip=level - 0.1).clipped.all()


def test_room_is_stops_below_the_clip() -> None:
    # 100 IRE of BT.709 is linear light 1.0: 2.47 stops above 18 %.
    found = map_of(codes_of(np.full((270, 480), -0.5), "bt709", 8))
    assert float(np.median(found.room)) == pytest.approx(np.log2(1.0 / 0.18) + 0.5, abs=0.03)


def test_where_codes_are_coarse_nothing_is_trusted() -> None:
    assert not map_of(codes_of(np.full((270, 480), -7.0), "bt709", 8)).trusted.any()
    assert map_of(codes_of(np.full((270, 480), -5.5), "bt709", 10)).trusted.all()


def test_saturated_colour_clips_by_its_channel() -> None:
    form = FrameFormat(
        layout="yuv444p", width=480, height=270, encoding=Encoding(bits=8, range="narrow", matrix="bt709")
    )
    # The red of 100 % bars: Y' 63, Cb 102, Cr 240 (ITU-R BT.709-6: 0.2126 of luma, full Cr).
    planes = tuple(np.full((270, 480), code, np.uint8) for code in (63, 102, 240))
    frame = Frame(planes=planes, format=form, instant=NOW, generation=1, sequence=0)
    sample = Sampler(form).take(frame, (0, 0, 480, 270))
    found = LightMapper(form, curve("bt709")).look(sample, 99.0, 0.0, NOW, 1, (0, 0, 480, 270))
    assert found.clipped.all()
    # Luminance of pure red is 0.2126 of white.
    assert float(np.median(found.stops)) == pytest.approx(np.log2(0.2126 / 0.18), abs=0.05)


@pytest.mark.parametrize("size", [(64, 36), (1920, 1080), (333, 217), (720, 1280)])
def test_any_size_gives_the_same_cells(size: tuple[int, int]) -> None:
    found = map_of(codes_of(np.zeros((size[1], size[0])), "bt709", 8))
    assert found.stops.shape == found.room.shape == found.trusted.shape == (ROWS, COLUMNS)
    assert found.trusted.all()


def test_maps_do_not_share_memory() -> None:
    form = FrameFormat(layout="gray", width=480, height=270, encoding=Encoding(bits=8, range="narrow", matrix="bt709"))
    mapper, sampler, found = LightMapper(form, curve("bt709")), Sampler(form), []
    for level in (100, 180):
        plane = np.full((270, 480), level, np.uint8)
        frame = Frame(planes=(plane,), format=form, instant=NOW, generation=1, sequence=0)
        found.append(mapper.look(sampler.take(frame, (0, 0, 480, 270)), 100.0, 0.0, NOW, 1, (0, 0, 480, 270)))
    assert float(found[1].stops[0, 0] - found[0].stops[0, 0]) > 1.0
    assert not np.shares_memory(found[0].stops, found[1].stops)


def test_a_cell_stays_on_the_same_thing_while_the_camera_moves_a_little() -> None:
    """Three and four pixels where ten are a cell: hand-held."""
    dice = np.random.default_rng(4)
    place = np.repeat(np.repeat(dice.uniform(-4.0, 1.0, (40, 60)), 10, 0), 10, 1)
    form = FrameFormat(
        layout="gray", width=480, height=270, encoding=Encoding(bits=8, range="narrow", matrix="bt709", curve="acescct")
    )
    mapper, sampler, area = LightMapper(form, curve("acescct")), Sampler(form), (0, 0, 480, 270)
    found = []
    for number, (down, right) in enumerate([(0, 0), (4, -3)]):
        view = place[20 - down : 290 - down, 20 - right : 500 - right]
        plane = np.ascontiguousarray(codes_of(view, "acescct", 8).astype(np.uint8))
        frame = Frame(planes=(plane,), format=form, instant=NOW, generation=2, sequence=number)
        found.append(mapper.look(sampler.take(frame, area), 100.0, 0.0, NOW, 2, area))
    one, two = found
    assert one.shift == (0.0, 0.0) and two.shift == pytest.approx((0.4, -0.3), abs=0.05)
    both = one.trusted & two.trusted
    assert both[1:-1, 1:-1].mean() > 0.9 and not two.trusted[-1].any() and not two.trusted[:, 0].any()
    followed = np.median(np.abs(two.stops - one.stops)[both])
    left = np.median(np.abs(map_of(codes_of(place[16:286, 23:503], "acescct", 8), "acescct").stops - one.stops)[both])
    assert followed < 0.1 * left
    again = mapper.look(sampler.take(frame, area), 100.0, 0.0, NOW, 3, area)
    assert again.shift == (0.0, 0.0), "another life of the feed begins where it is"
