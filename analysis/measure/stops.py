"""The picture in stops: linear light of R'G'B' before luminance, counted from middle grey.

Stops are log2(linear light / 0.18). The curve is undone on R', G' and B' each, then luminance is their
weighted sum: luma through the curve would read saturated colours too dark. Without a known curve there
are no stops.
"""

from __future__ import annotations

from math import log2
from typing import Any

import cv2
import msgspec
import numpy as np
import numpy.typing as npt

from analysis.measure.histogram import Counts, percentile
from analysis.measure.sample import STEPS, Sample, level_of_step, signal_of_steps
from analysis.model.frame import FrameFormat
from analysis.model.reading import StopsSpread
from analysis.signal.curves import MIDDLE_GREY, Curve
from analysis.signal.layouts import layout
from analysis.signal.levels import codes_per_range, percent, top_code
from analysis.signal.matrix import luma_weights

LOW, STEP, BINS = -10.0, 0.25, 88
"""The table of a spread: from -10 to +12 stops. ACEScct at 109 IRE is +11.8."""

BRIGHTEST, DARKEST = 99.9, 0.1
"""Percentiles taken for the brightest and the darkest light that means something: fewer pixels are specks."""

FAINTEST = 1e-6
"""Linear light below which no curve tells anything; -17 stops."""


class StopsFound(msgspec.Struct, frozen=True, kw_only=True):
    """What the curve says of one frame; see :class:`StopsMeter`."""

    spread: StopsSpread
    headroom: float
    footroom: float | None


class StopsMeter:
    """Tells the pictures of one format in stops through one curve."""

    def __init__(self, shape: FrameFormat, curve: Curve) -> None:
        self.curve = curve
        self._depth, self._range = layout(shape.layout).depth, shape.encoding.range
        # Saturated codes decode to R'G'B' that no camera wrote; beyond the code range no curve is defined.
        least, most = (percent(code, self._depth, self._range) / 100.0 for code in (0, top_code(self._depth)))
        signal = np.clip(signal_of_steps(self._depth, self._range), least, most)
        self._light = np.asarray(curve.decode(signal), np.float32).reshape(1, STEPS)
        self._weights = luma_weights(shape.encoding.matrix)
        self._kept: dict[str, npt.NDArray[Any]] = {}

    def look(
        self, sample: Sample, luma_counts: Counts, ceiling: float, floor: float, darkest_light: float = 0.0
    ) -> StopsFound:
        """Spread, headroom and footroom of a frame.

        ``luma_counts`` says how many pixels of the whole active picture have each code. ``ceiling`` and
        ``floor`` are the levels in IRE where the signal ends. Headroom counts from the brightest
        meaningful level, the 99.9th percentile of the largest of R', G' and B', to the ceiling: 0 when
        it lies there. Footroom counts from the darkest meaningful luma, the 0.1th percentile, down to
        the last light that the signal can still show: one code above the floor, or ``darkest_light``
        (linear light that noise equals) when that is more. None where that is no light at all.
        """
        assert sample.rgb is not None, "stops need a sample with colour"
        return StopsFound(
            spread=self.spread(sample),
            headroom=self._headroom(sample, ceiling),
            footroom=self._footroom(luma_counts, floor, darkest_light),
        )

    def light_of(self, level: float) -> float:
        """Linear light of a level in IRE; 0.18 is middle grey."""
        return float(self.curve.decode(np.array(level / 100.0)))

    def luminance(self, sample: Sample) -> npt.NDArray[np.float32]:
        """Linear luminance of every pixel of a sample; good until the next is asked for."""
        assert sample.rgb is not None, "luminance needs a sample with colour"
        total = self._array("total", sample.luma.shape, np.float32)
        red, green, blue = sample.rgb
        if red is green:
            cv2.LUT(red, self._light, dst=total)
            return total
        part = self._array("part", sample.luma.shape, np.float32)
        cv2.LUT(red, self._light, dst=total)
        cv2.LUT(green, self._light, dst=part)
        cv2.addWeighted(total, self._weights[0], part, self._weights[1], 0.0, dst=total)
        cv2.LUT(blue, self._light, dst=part)
        cv2.scaleAdd(part, self._weights[2], total, dst=total)
        return total

    def spread(self, sample: Sample) -> StopsSpread:
        """How much of the picture lies at how many stops from middle grey."""
        stops = self.luminance(sample)
        np.maximum(stops, FAINTEST, out=stops)
        cv2.log(stops, dst=stops)
        bins = self._array("bins", stops.shape, np.uint8)
        scale = 1.0 / (STEP * float(np.log(2.0)))
        shift = -(log2(MIDDLE_GREY) + LOW) / STEP - 0.5  # rounding to nearest, moved to rounding down
        cv2.addWeighted(stops, scale, stops, 0.0, shift, dst=bins, dtype=cv2.CV_8U)
        counts = cv2.calcHist([bins], [0], None, [256], [0, 256]).ravel().astype(np.float64)
        counts[BINS - 1] += counts[BINS:].sum()
        shares = counts[:BINS] * (100.0 / bins.size)
        return StopsSpread(low=LOW, step=STEP, counts=tuple(shares.tolist()))

    def _headroom(self, sample: Sample, ceiling: float) -> float:
        assert sample.rgb is not None
        red, green, blue = sample.rgb
        largest = red
        if green is not red:
            largest = self._array("largest", red.shape, np.uint16)
            cv2.max(red, green, largest)
            cv2.max(largest, blue, largest)
        place = int(BRIGHTEST / 100.0 * (largest.size - 1))
        bright = float(np.partition(largest.ravel(), place)[place])
        level = level_of_step(bright, self._depth, self._range)
        above = max(self.light_of(ceiling), FAINTEST)
        return max(0.0, log2(above / max(self.light_of(level), FAINTEST)))

    def _footroom(self, counts: Counts, floor: float, darkest_light: float) -> float | None:
        dark = percentile(np.cumsum(counts), DARKEST)
        level = percent(dark, self._depth, self._range)
        one_code = 100.0 / codes_per_range(self._depth, self._range)
        last = max(self.light_of(floor + one_code), darkest_light)
        if last <= FAINTEST:
            return None
        return max(0.0, log2(max(self.light_of(level), FAINTEST) / last))

    def _array(self, name: str, shape: tuple[int, ...], dtype: npt.DTypeLike) -> npt.NDArray[Any]:
        kept = self._kept.get(name)
        if kept is None or kept.shape != shape:
            kept = self._kept[name] = np.empty(shape, dtype)
        return kept
