"""FFmpeg's own frame statistics (filter ``signalstats``) as a second opinion on luma.

Its documentation: YMIN and YMAX are the extreme codes, YLOW and YHIGH the 10 % and 90 % percentiles (of
the codes, without interpolation), YAVG the mean.
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.measure.histogram import percentile
from analysis.measure.meter import Meter
from analysis.measure.meter_settings import MeterSettings
from analysis.model.frame import Frame
from analysis.model.instant import Instant
from analysis.signal.layouts import LAYOUTS
from analysis.signal.levels import code
from tests.measure import plain
from tests.standards import lavfi

GENERATORS = ["smptehdbars", "testsrc2", "pal100bars", "yuvtestsrc"]
PICTURES = ["yuv420p", "yuv422p", "yuv444p", "yuv420p10le", "yuv422p10le", "yuv422p12le"]


def compare(frame: Frame) -> None:
    bits = LAYOUTS[frame.format.layout].depth
    theirs = lavfi.statistics(frame)
    luma = Meter(MeterSettings(active_picture=False)).measure(frame, None, Instant(0.0, 0.0)).reading.luma
    assert code(luma.min, bits, "narrow") == pytest.approx(theirs["YMIN"], abs=1e-6)
    assert code(luma.max, bits, "narrow") == pytest.approx(theirs["YMAX"], abs=1e-6)
    assert code(luma.mean, bits, "narrow") == pytest.approx(theirs["YAVG"], abs=0.01)  # printed to six figures
    counts = np.bincount(plain.luma_codes(frame).ravel(), minlength=1 << bits)
    cumulative = np.cumsum(counts).astype(float)
    for name, part in (("YLOW", 10.0), ("YHIGH", 90.0)):
        ours = percentile(cumulative, part)
        # Theirs is the code at which the running count first reaches the part, ours lies between two codes.
        neighbours = percentile(cumulative, part - 0.02), percentile(cumulative, part + 0.02)
        assert min(*neighbours, ours) - 1 <= theirs[name] <= max(*neighbours, ours) + 1


@pytest.mark.parametrize("generator", GENERATORS)
@pytest.mark.parametrize("layout", PICTURES)
def test_generated_pictures(generator: str, layout: str) -> None:
    compare(lavfi.drawn(generator, layout, 640, 360))


@pytest.mark.parametrize("layout", PICTURES)
@pytest.mark.parametrize("seed", range(4))
def test_random_pictures(layout: str, seed: int) -> None:
    rng = np.random.default_rng(seed)
    how = LAYOUTS[layout]
    planes = list(plain.random_planes(how, 320, 180, rng))
    middle, spread = rng.uniform(0.2, 0.8) * (1 << how.depth), rng.uniform(0.01, 0.2) * (1 << how.depth)
    planes[0] = np.clip(rng.normal(middle, spread, (180, 320)), 0, (1 << how.depth) - 1).astype(how.dtype)
    compare(plain.frame_of(tuple(planes), layout, 320, 180))
