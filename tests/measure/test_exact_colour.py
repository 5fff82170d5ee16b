"""Every pair of 8-bit chroma codes, at every luma that matters: R'G'B' decided in whole numbers."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.measure.meter import Meter
from analysis.measure.meter_settings import MeterSettings
from analysis.model.instant import Instant
from tests.measure import plain

CLIP = {"narrow": 235, "full": 255}
CRUSH = {"narrow": 16, "full": 0}


@pytest.mark.parametrize("span", ["narrow", "full"])
@pytest.mark.parametrize("matrix", ["bt709", "bt601", "bt2020"])
def test_all_chroma_pairs(matrix: str, span: str) -> None:
    blue, red = np.meshgrid(np.arange(256, dtype=np.uint8), np.arange(256, dtype=np.uint8))
    meter = Meter(MeterSettings(view=False, active_picture=False))
    wrong = {"r": 0.0, "g": 0.0, "b": 0.0}
    for luma in range(0, 256, 3):
        planes = (np.full((256, 256), luma, np.uint8), blue.copy(), red.copy())
        frame = plain.frame_of(planes, "yuv444p", 256, 256, span, matrix)
        reading = meter.measure(frame, None, Instant(0.0, 0.0)).reading
        above, below = plain.shares(frame, CLIP[span], CRUSH[span])
        for channel in wrong:
            wrong[channel] += abs(getattr(reading.clipped, channel) - above[channel]) * 655.36
            wrong[channel] += abs(getattr(reading.crushed, channel) - below[channel]) * 655.36
    assert wrong["r"] == pytest.approx(0.0, abs=1e-6) and wrong["b"] == pytest.approx(0.0, abs=1e-6)
    # G' of three pairs lies within 0.00003 code of halfway; each can matter at one luma per end of the scale.
    assert wrong["g"] <= 6.0


def test_exactly_halfway_counts_as_the_upper_code() -> None:
    """BT.601, full range: B' = Y + 1.772 * 125 = Y + 221.5, exactly halfway between two codes."""
    for luma, clipped in ((33, 100.0), (32, 0.0)):
        planes = (np.full((2, 2), luma, np.uint8), np.full((2, 2), 253, np.uint8), np.full((2, 2), 128, np.uint8))
        frame = plain.frame_of(planes, "yuv444p", 2, 2, "full", "bt601")
        assert Meter().measure(frame, None, Instant(0.0, 0.0)).reading.clipped.b == clipped


def test_chroma_is_repeated_and_not_interpolated() -> None:
    """Two neighbouring chroma samples, one saturated: exactly its own four pixels clip."""
    luma = np.full((2, 8), 180, np.uint8)
    planes = (luma, np.full((1, 4), 128, np.uint8), np.array([[128, 200, 128, 128]], np.uint8))
    reading = Meter().measure(plain.frame_of(planes, "yuv420p", 8, 2), None, Instant(0.0, 0.0)).reading
    assert reading.clipped.r == reading.clipped.any == 25.0
