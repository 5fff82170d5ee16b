"""The spread of the brightest channel: against codes laid out by hand, and against what is true of a rendered scene."""

from __future__ import annotations

from math import log2

import numpy as np
import pytest

from analysis.measure.peaks import HIGH, LOW, STEP, PeaksMeter
from analysis.measure.sample import Sampler
from analysis.model.frame import Encoding, Frame, FrameFormat
from analysis.model.instant import Instant
from analysis.model.reading import StopsSpread
from analysis.signal.curves import curve
from tests.exposure.boathouse import renderer

AREA = (0, 0, 64, 48)


def frame_of(layout: str, planes: tuple[np.ndarray, ...], bits: int = 8, span: str = "full") -> Frame:
    matrix = "rgb" if layout == "rgb24" else "bt709"
    shape = FrameFormat(
        layout=layout,
        width=64,
        height=48,
        encoding=Encoding(bits=bits, range=span, matrix=matrix),  # type: ignore[arg-type]
    )
    return Frame(planes=planes, format=shape, instant=Instant(0.0, 0.0), generation=1, sequence=0)


def above(table: StopsSpread, stops: float) -> float:
    edges = table.low + table.step * np.arange(len(table.counts) + 1)
    return 100.0 - float(np.interp(stops, edges, np.concatenate([[0.0], np.cumsum(table.counts)])))


def test_the_brightest_channel_counts_whichever_it_is() -> None:
    picture = np.zeros((48, 64, 3), np.uint8)
    picture[:12, :, 0] = 200
    picture[12:24, :, 1] = 200
    picture[24:36, :, 2] = 200
    frame = frame_of("rgb24", (picture.reshape(48, -1),))
    found = PeaksMeter(frame.format, curve("bt709")).look(Sampler(frame.format).take(frame, AREA))
    # BT.709-6 item 1.2 inverted by hand: V = 200/255 -> ((V + 0.099) / 1.099)^(1/0.45)
    light = ((200 / 255 + 0.099) / 1.099) ** (1 / 0.45)
    place = log2(light / 0.18)
    assert above(found, place - 0.05) == pytest.approx(75.0)
    assert above(found, place + 0.05) == pytest.approx(0.0, abs=1e-9)


def test_a_code_is_spread_over_the_light_it_stands_for() -> None:
    """ACEScct in 8 bits (S-2016-001): 17.52 stops over 255 codes of full range, 0.0687 stop to a code."""
    grey = np.full((48, 64), 150, np.uint8)
    frame = frame_of("gray", (grey,))
    found = PeaksMeter(frame.format, curve("acescct")).look(Sampler(frame.format).take(frame, AREA))
    place = 150 / 255 * 17.52 - 9.72 - log2(0.18)
    assert above(found, place) == pytest.approx(50.0, abs=1.0)
    assert above(found, place - 0.0343 - STEP) == pytest.approx(100.0, abs=1.0)
    assert above(found, place + 0.0343 + STEP) == pytest.approx(0.0, abs=1.0)


def test_the_table_holds_the_whole_picture() -> None:
    dice = np.random.default_rng(5)
    for layout, codes in (
        ("rgb24", dice.integers(0, 256, (48, 192), np.uint8)),
        ("gray", np.zeros((48, 64), np.uint8)),
    ):
        frame = frame_of(layout, (codes,))
        found = PeaksMeter(frame.format, curve("hlg")).look(Sampler(frame.format).take(frame, AREA))
        assert (found.low, found.step) == (LOW, STEP)
        assert sum(found.counts) == pytest.approx(100.0)
        assert min(found.counts) >= 0.0 and len(found.counts) <= (HIGH - LOW) / STEP
        assert found.counts[-1] > 0.0 or len(found.counts) == 1


@pytest.mark.parametrize(("name", "layout"), [("bt709", "yuyv422"), ("bt709", "yuv422p10le"), ("hlg", "yuv422p10le")])
def test_against_a_scene_whose_light_is_known(name: str, layout: str) -> None:
    scene = renderer(curve=name, layout=layout, nd=2.0)
    picture = scene.picture(0.0, 0)
    frame = Frame(
        planes=tuple(picture.planes), format=scene.format, instant=Instant(0.0, 0.0), generation=1, sequence=0
    )
    area = (0, 0, scene.controls.width, scene.controls.height)
    meter = PeaksMeter(scene.format, curve(name))
    closely, quick = meter.look_closely(frame, area), meter.look(Sampler(scene.format).take(frame, area))
    for stops in (-1.0, 0.0, 0.5, 1.0, 1.5, 2.0):
        level = 100.0 * float(curve(name).encode(np.array(0.18 * 2.0**stops)))
        true = scene.truth(0.0, clip=level).clipped.any
        assert above(closely, stops) == pytest.approx(true, abs=0.2)
        assert above(quick, stops) == pytest.approx(true, abs=0.4)
