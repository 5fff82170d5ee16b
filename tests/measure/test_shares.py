"""Clipped and crushed shares against whole-number arithmetic, for every layout, range and matrix."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.measure.meter import Meter
from analysis.measure.meter_settings import MeterSettings
from analysis.model.reading import Shares
from analysis.signal.layouts import LAYOUTS
from analysis.signal.levels import clip_code, crush_code
from tests.measure import plain

SIZES = [(64, 48), (33, 17), (1, 1), (2, 2), (5, 1), (1, 6), (130, 70)]


def found(shares: Shares) -> dict[str, float]:
    return {name: getattr(shares, name) for name in ("luma", "r", "g", "b", "any") if getattr(shares, name) is not None}


def check(name: str, width: int, height: int, span: str, matrix: str, settings: MeterSettings, seed: int) -> None:
    how = LAYOUTS[name]
    rng = np.random.default_rng(seed)
    meter = Meter(settings)
    for sequence in range(2):  # the second frame meets used arrays
        frame = plain.frame_of(
            plain.random_planes(how, width, height, rng), name, width, height, span, matrix, sequence
        )
        reading = meter.measure(frame, None, frame.instant).reading
        clip = clip_code(settings.clip_percent, how.depth, span)
        crush = crush_code(settings.crush_percent, how.depth, span)
        above, below = plain.shares(frame, clip, crush)
        slack = 1e-9 + (plain.undecided(frame, clip, crush) if how.kind == "ycbcr" else 0.0)
        assert found(reading.clipped) == pytest.approx(above, abs=slack)
        assert found(reading.crushed) == pytest.approx(below, abs=slack)


@pytest.mark.parametrize("span", ["narrow", "full"])
@pytest.mark.parametrize("name", sorted(LAYOUTS))
def test_every_layout_and_range(name: str, span: str) -> None:
    for number, (width, height) in enumerate(SIZES):
        check(name, width, height, span, "bt709", MeterSettings(), number)


@pytest.mark.parametrize("matrix", ["bt709", "bt601", "bt2020"])
@pytest.mark.parametrize("name", ["yuyv422", "yuv420p10le", "nv12"])
@pytest.mark.parametrize(
    "clip,crush", [(None, None), (90.0, 5.0), (30.0, 60.0), (109.0, -7.0), (-10.0, 110.0), (None, 45.0), (90.0, None)]
)
def test_every_matrix_and_level(name: str, matrix: str, clip: float | None, crush: float | None) -> None:
    for span in ("narrow", "full"):
        check(name, 96, 54, span, matrix, MeterSettings(clip_percent=clip, crush_percent=crush), 7)
