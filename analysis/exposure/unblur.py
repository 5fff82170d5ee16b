"""The brightest channels of a picture without the noise that blurs them: what more light would show.

A dark picture's table of peaks is what the scene is, spread by noise. More light on the sensor shrinks that noise
against the signal, so the edge that will clip is sharper than the table tells. The spread is taken out again by the
iteration of Richardson (1972) and Lucy (1974), and put back by as much as is left of the noise.

The two figures of channels below were chosen on rendered scenes. On other scenes, lights and seeds, two to six and a
half stops under, the share was then up to 0.57 points off (0.88 with the noise left in); with a sensor of twice the
read noise and half the well 2.1 (6.6). So how far off it may be is told beside it: where the edge of what will clip
is steep and noise, or one step of the code, is wide, nothing that was measured says on which side light lies.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from analysis.exposure.crushed import Grain, normal
from analysis.exposure.shares import Shares
from analysis.model.reading import StopsSpread
from analysis.signal.curves import MIDDLE_GREY, Curve

Floats = npt.NDArray[np.float64]

CHANNEL = 1.0
"""Noise of a channel against what is told of luma: 1.18 by calculation where two pixels share their chroma (4:2:2,
weights of BT.709-6), over the 1.17 by which the noise of dark rendered pictures was told too large."""
CHANNELS = 1.1
"""Of how many equally bright channels the brightest is taken to be one; with this, rendered scenes come out nearest."""
TELLS = 0.75
"""By how many stops noise in the signal has to rise with a stop of light to tell which light it was measured at."""
OF_NOISE, OF_CODE, OF_CHANGE = 0.2, 0.5, 0.5
"""What is in doubt at an edge: parts of the noise that goes, of a step of the code, and of the change that was made
here. With them 600 predictions on scenes other than those the figures above were chosen on held within 0.2 points, but
for 4 of the noisiest sensor (0.55 at worst)."""
NEARBY = 0.1
"""Stops to both sides in which the steepness of an edge is taken."""
ROUNDS = 15
"""Rounds of the iteration; more of them sharpen the noise of the table itself."""


class Unblurred:
    """A table of peaks and the same without its noise, asked together."""

    def __init__(self, table: StopsSpread | None, grain: Grain | None) -> None:
        self._as_is, self._grain = Shares(table), grain
        self._clear = self._as_is if table is None or grain is None else Shares(_cleared(table, grain))

    def change(self, stops: Floats, caught: Floats) -> Floats:
        """Percent points to add to the share above ``stops`` (as the picture is) when the sensor catches more."""
        if self._grain is None or self._clear is self._as_is:
            return np.zeros(np.shape(stops))
        gone = self._noise(self._grain, stops, caught)[1]
        return np.asarray(gone * (self._clear.above(stops) - self._as_is.above(stops)))

    def doubt(self, stops: Floats, caught: Floats, code: Floats) -> Floats:
        """Percent points by which the share above ``stops`` may be off, where a code is ``code`` stops wide."""
        tables = (self._as_is, self._clear)
        steep = [(each.above(stops - NEARBY) - each.above(stops + NEARBY)) / (2.0 * NEARBY) for each in tables]
        wide = OF_CODE * np.minimum(code, 1.0)
        if self._grain is not None:
            noise, gone = self._noise(self._grain, stops, caught)
            wide = wide + OF_NOISE * np.minimum(noise, 1.0) * gone
        return np.asarray(np.maximum(*steep) * wide + OF_CHANGE * np.abs(self.change(stops, caught)))

    @staticmethod
    def _noise(grain: Grain, stops: Floats, caught: Floats) -> tuple[Floats, Floats]:
        """The noise at ``stops`` as it is, in stops of light, and the part of its blur that goes with more light."""
        light, more = MIDDLE_GREY * 2.0 ** np.minimum(stops, 30.0), np.maximum(caught, 0.0)
        shot, read = grain.shot * light, grain.read
        # What blur does to a share goes with its variance: shot noise falls with light, read noise with its square.
        left = (shot * 2.0**-more + read * 4.0**-more) / np.maximum(shot + read, 1e-18)
        return np.asarray(np.sqrt(shot + read) / (light * np.log(2.0))), np.asarray(1.0 - left)


def noisy_light(ratio: float, ire: float, curve: Curve) -> float | None:
    """The light at which noise of a linear signal-to-noise ``ratio`` is ``ire`` large in the signal; None if not told.

    A log curve gives noise of one ratio one size at every light, so there nothing is told.

    >>> from analysis.signal.curves import curve
    >>> round(noisy_light(2.0, 1.8, curve("bt709")), 3)  # BT.709-6 is 4.5 L below 0.018: 1.8 IRE are 0.004 of light
    0.008
    >>> noisy_light(2.0, 4.0, curve("acescc")) is None
    True
    """
    nodes = np.arange(-12.0, 1.0, 0.05)
    signal = np.asarray(curve.encode(MIDDLE_GREY * 2.0**nodes), np.float64)
    size = np.log2(np.maximum(np.gradient(signal, nodes * np.log(2.0)), 1e-9))
    beyond = np.flatnonzero(size >= np.log2(max(ratio * ire, 1e-9) / 100.0))
    if not beyond.size or beyond[0] == 0:
        return None
    at = int(beyond[0])
    if (size[at] - size[at - 1]) / 0.05 < TELLS:
        return None
    part = (np.log2(ratio * ire / 100.0) - size[at - 1]) / (size[at] - size[at - 1])
    return float(MIDDLE_GREY * 2.0 ** (nodes[at - 1] + 0.05 * part))


def _cleared(table: StopsSpread, grain: Grain) -> StopsSpread:
    """The table that, spread by this noise, gives ``table``. What lies in the first bin stays there."""
    counts = np.asarray(table.counts, np.float64)
    edges = MIDDLE_GREY * 2.0 ** (table.low + table.step * np.arange(counts.size + 1))
    light = np.sqrt(edges[1:] * edges[:-1])
    sigma = CHANNEL * np.sqrt(np.maximum(grain.shot * light + grain.read, 0.0))
    # The brightest of several channels that are about as bright lies below a light only if all of them do.
    inner = normal((edges[None, 1:-1] - light[:, None]) / np.maximum(sigma, 1e-12)[:, None]) ** CHANNELS
    ends = np.zeros((light.size, 1))
    spread = np.diff(np.hstack([ends, inner, ends + 1.0]), axis=1)
    found = counts.copy()
    for _ in range(ROUNDS):
        found *= spread @ (counts / np.maximum(found @ spread, 1e-12))
    return StopsSpread(low=table.low, step=table.step, counts=tuple(found.tolist()))
