"""How much of the picture lies how near the floor: the darkest of R, G and B of every pixel, in stops.

What is crushed is a channel, as what clips is: a deep red has lost its blue long before it is dark. Light at or below
nothing, which noise and rounding leave, is counted in the first bin.
"""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt

from analysis.measure.extreme import Channel, ExtremeMeter
from analysis.measure.sample import signal_of_steps
from analysis.model.frame import FrameFormat
from analysis.model.reading import StopsSpread
from analysis.signal.curves import MIDDLE_GREY, Curve
from analysis.signal.levels import percent, top_code

LOW, HIGH, STEP = -14.0, 2.0, 1.0 / 4.0
"""The table: from -14 to +2 stops in quarters; what is brighter needs more than eight stops to be crushed."""
_FAINTEST = 1e-9


class DepthsMeter(ExtremeMeter):
    """Tells how near the floor the pictures of one format are, through one curve."""

    def __init__(self, shape: FrameFormat, curve: Curve) -> None:
        super().__init__(shape)
        depth, span = self._how.depth, shape.encoding.range
        # Saturated codes decode to R'G'B' that no camera wrote; beyond the code range no curve is defined.
        least, most = (percent(code, depth, span) / 100.0 for code in (0, top_code(depth)))
        light = np.asarray(curve.decode(np.clip(signal_of_steps(depth, span), least, most)), np.float64)
        stops = np.log2(np.maximum(light, _FAINTEST) / MIDDLE_GREY)
        self._bins = round((HIGH - LOW) / STEP)
        self._bin = np.clip(np.floor((stops - LOW) / STEP), 0, self._bins - 1).astype(np.intp)

    def _of(self, one: Channel, other: Channel) -> Channel:
        return cv2.min(one, other)

    def _spread(self, counts: npt.NDArray[np.float64]) -> StopsSpread:
        shares = np.bincount(self._bin, weights=counts, minlength=self._bins) * (100.0 / float(counts.sum()))
        return StopsSpread(low=LOW, step=STEP, counts=tuple(shares.tolist()))
