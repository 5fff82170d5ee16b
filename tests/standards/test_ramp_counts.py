"""Code ramps counted against EBU R 103 (v3.0, May 2020) and ITU-R BT.709-6 limits.

R 103 prints 5 and 246 for 8 bits, 20 and 984 for 10 bits as the limits of -5 % and 105 %; the shares of
a ramp that holds every code once follow by counting.
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.measure.meter import Meter
from analysis.measure.meter_settings import MeterSettings
from analysis.model.instant import Instant
from analysis.model.reading import Reading
from analysis.signal.levels import percent
from tests.measure import plain


def ramp(first: int, last: int, layout: str = "gray", rows: int = 8, **wish) -> Reading:
    """The reading of a picture whose every row holds each code from ``first`` to ``last`` once."""
    dtype = np.uint8 if layout in {"gray", "yuv444p"} else np.uint16
    row = np.arange(first, last + 1, dtype=dtype)
    luma = np.ascontiguousarray(np.broadcast_to(row, (rows, row.size)))
    planes = (luma,) if layout.startswith("gray") else (luma, np.full_like(luma, 128), np.full_like(luma, 128))
    frame = plain.frame_of(planes, layout, row.size, rows)
    return Meter(MeterSettings(view=False, **wish)).measure(frame, None, Instant(0.0, 0.0)).reading


@pytest.mark.parametrize("layout", ["gray", "yuv444p"])
@pytest.mark.parametrize(
    "clip_at,crush_at,above,below",
    [
        (247, 4, 3.515625, 1.953125),  # beyond the R 103 limits 5 and 246
        (236, 15, 7.8125, 6.25),  # beyond nominal white and black
        (235, 16, 8.203125, 6.640625),  # at or beyond them: what clipped and crushed mean here
    ],
)
def test_full_8_bit_ramp(layout: str, clip_at: int, crush_at: int, above: float, below: float) -> None:
    reading = ramp(
        0, 255, layout, clip_percent=percent(clip_at, 8, "narrow"), crush_percent=percent(crush_at, 8, "narrow")
    )
    assert (reading.clipped.luma, reading.crushed.luma) == (above, below)
    assert (reading.clipped.any, reading.crushed.any) == (above, below)


def test_full_8_bit_ramp_at_the_levels_of_r103() -> None:
    """-5 % and 105 % in the words of R 103 fall between codes: 5.05 and 245.95."""
    reading = ramp(0, 255, clip_percent=105.0, crush_percent=-5.0)
    assert reading.clipped.luma == 100.0 * 10 / 256  # 246 to 255
    assert reading.crushed.luma == 100.0 * 6 / 256  # 0 to 5


def test_nominal_8_bit_ramp() -> None:
    reading = ramp(16, 235, rows=1)
    assert reading.clipped.luma == pytest.approx(0.4545, abs=5e-5)
    assert ramp(16, 235, clip_percent=percent(246, 8, "narrow")).clipped.luma == 0.0
    found = [reading.luma.p1, reading.luma.p5, reading.luma.p50, reading.luma.p95, reading.luma.p99]
    codes = [18.19, 26.95, 125.5, 224.05, 232.81]  # numpy.percentile of the ramp
    assert found == pytest.approx([percent(code, 8, "narrow") for code in codes])
    assert (reading.luma.min, reading.luma.max) == (0.0, 100.0)


def test_percentiles_of_the_full_8_bit_ramp() -> None:
    luma = ramp(0, 255, rows=1).luma
    codes = [2.55, 12.75, 127.5, 242.25, 252.45]  # numpy.percentile of the ramp
    assert [luma.p1, luma.p5, luma.p50, luma.p95, luma.p99] == pytest.approx([percent(c, 8, "narrow") for c in codes])


def test_10_bit_ramp() -> None:
    """Nominal 64 to 940, R 103 limits 20 and 984, so 19 and 985 are the first beyond."""
    reading = ramp(0, 1023, "gray10le")
    assert (reading.clipped.luma, reading.crushed.luma) == (100.0 * 84 / 1024, 100.0 * 65 / 1024)
    beyond = ramp(0, 1023, "gray10le", clip_percent=percent(985, 10, "narrow"), crush_percent=percent(19, 10, "narrow"))
    assert (beyond.clipped.luma, beyond.crushed.luma) == (100.0 * 39 / 1024, 100.0 * 20 / 1024)


@pytest.mark.parametrize("pixels,over", [(20_736, False), (20_737, True)])
def test_one_percent_of_a_1080p_picture(pixels: int, over: bool) -> None:
    """R 103 tolerates 1 % of the picture; one pixel more is seen, because every pixel is counted."""
    luma = np.full((1080, 1920), 120, np.uint8)
    luma.flat[np.random.default_rng(1).choice(luma.size, pixels, replace=False)] = 247
    chroma = np.full((1080, 960), 128, np.uint8)
    frame = plain.frame_of((luma, chroma, chroma.copy()), "yuv422p", 1920, 1080)
    wish = MeterSettings(view=False, clip_percent=percent(247, 8, "narrow"))
    reading = Meter(wish).measure(frame, None, Instant(0.0, 0.0)).reading
    for share in (reading.clipped.any, reading.clipped.luma, reading.clipped.r, reading.clipped.g, reading.clipped.b):
        assert (share > 1.0) is over and share == pytest.approx(100.0 * pixels / luma.size, abs=1e-9)
