"""How much of the picture lies how near the clip: the brightest of R, G and B of every pixel, in stops.

What clips is a channel, not luminance: a coloured light is lost long before its luminance is bright. The table is
finer than that of luminance, and every code is spread over the light it stands for, so that the few codes a stop has
in 8-bit log do not leave holes between them.
"""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt

from analysis.measure.extreme import Channel, ExtremeMeter
from analysis.measure.sample import STEPS_PER_CODE, signal_of_steps
from analysis.model.frame import FrameFormat
from analysis.model.reading import StopsSpread
from analysis.signal.curves import MIDDLE_GREY, Curve
from analysis.signal.levels import percent, top_code

LOW, HIGH, STEP = -6.0, 12.0, 1.0 / 32.0
"""The table: from -6 to +12 stops in thirty-seconds. What is darker than -6 needs more than eight stops to clip."""
_FAINTEST = 1e-9


class PeaksMeter(ExtremeMeter):
    """Tells how near the clip the pictures of one format are, through one curve."""

    def __init__(self, shape: FrameFormat, curve: Curve) -> None:
        super().__init__(shape)
        depth, span = self._how.depth, shape.encoding.range
        # Saturated codes decode to R'G'B' that no camera wrote; beyond the code range no curve is defined.
        least, most = (percent(code, depth, span) / 100.0 for code in (0, top_code(depth)))
        half = STEPS_PER_CODE * 2.0 ** (8 - depth) / 2.0
        signal = signal_of_steps(depth, span)
        self._upper = _stops(np.clip(signal + (signal[1] - signal[0]) * half, least, most), curve)
        self._lower = _stops(np.clip(signal - (signal[1] - signal[0]) * half, least, most), curve)
        self._edges = LOW + STEP * np.arange(1, round((HIGH - LOW) / STEP))

    def _of(self, one: Channel, other: Channel) -> Channel:
        return cv2.max(one, other)

    def _spread(self, counts: npt.NDArray[np.float64]) -> StopsSpread:
        there, total = np.flatnonzero(counts), float(counts.sum())
        low, high = self._lower[there], self._upper[there]
        # The part of every code's light that lies below every edge; a code without width lies at its place.
        width = np.maximum(high - low, _FAINTEST)
        below = np.clip((self._edges[:, None] - low[None, :]) / width[None, :], 0.0, 1.0) @ counts[there]
        shares = np.diff(np.concatenate([[0.0], below, [total]])) * (100.0 / total)
        last = int(np.flatnonzero(shares > 0.0)[-1]) + 1
        return StopsSpread(low=LOW, step=STEP, counts=tuple(np.maximum(shares[:last], 0.0).tolist()))


def _stops(signal: npt.NDArray[np.float64], curve: Curve) -> npt.NDArray[np.float64]:
    light = np.asarray(curve.decode(signal), np.float64)
    return np.asarray(np.log2(np.maximum(light, _FAINTEST) / MIDDLE_GREY))
