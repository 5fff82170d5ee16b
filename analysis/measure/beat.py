"""Looks for one known beat in the brightness of strips of the picture over time. Arithmetic only."""

from __future__ import annotations

from typing import Any

import msgspec
import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

OVERSAMPLING = 4
"""Frequencies looked at in one width of a line, 1 / duration."""
AROUND_LINES = 14.0
"""How far on either side the level of everything else is taken, in widths of a line."""
OWN_LINES = 3.0
"""Half of what belongs to the line itself under the window used."""
LEAST_OVER_PEAK = 4.0
"""How many times the power of a beat must exceed the largest of what lies around it.

Of 4800 stretches of white noise, random walks, random steps and pulses one passed.
"""


class Beat(msgspec.Struct, frozen=True, kw_only=True):
    """A beat: frequency in Hz, stops peak to peak, and how much of it the whole picture shares (0 to 1)."""

    hz: float
    stops: float
    together: float


def find(seconds: Floats, stops: Floats, near: float, reach: float, highest: float) -> Beat | None:
    """The beat within ``reach`` Hz of ``near``, or None where nothing stands out there.

    ``seconds`` has shape (frames,), ``stops`` (frames, strips): log2 of the light of each strip. ``highest``
    is the largest frequency the frame rate can show. Slow changes are taken out as a parabola per strip;
    a Hann window keeps what is left of them from leaking. A beat must stand out from the spectrum
    around it, summed over strips, in the whole time; and it must be there, alike, in each half of it:
    movement and changing light are broad, or come and go.
    """
    whole = _Spectrum(seconds, stops)
    line = 1.0 / whole.duration
    first, last = max(near - AROUND_LINES * line, OWN_LINES * line), min(near + AROUND_LINES * line, highest)
    if near - reach < OWN_LINES * line:
        return None
    grid = np.arange(first, last + 1e-9, line / OVERSAMPLING)
    power = whole.power(grid)
    inside = np.abs(grid - near) <= reach
    if not inside.any() or inside.all():
        return None
    peak = int(np.flatnonzero(inside)[np.argmax(power[inside])])
    outside = np.abs(grid - grid[peak]) > OWN_LINES * line
    if np.count_nonzero(outside) < 2 * OVERSAMPLING:
        return None
    around = power[outside]
    if power[peak] < LEAST_OVER_PEAK * float(around.max()):
        return None
    hz = whole.refine(float(grid[peak]), line / OVERSAMPLING, highest)
    if abs(hz - near) > reach:
        return None
    middle = len(seconds) // 2
    halves = [_amplitudes(seconds[part], stops[part], hz) for part in (slice(0, middle), slice(middle, None))]
    sizes = [float(np.sqrt(np.mean(np.abs(half) ** 2))) for half in halves]
    if min(sizes) < 0.5 * max(sizes):
        return None
    waves = _amplitudes(seconds, stops, hz)
    size = float(np.sqrt(np.mean(np.abs(waves) ** 2)))
    return Beat(hz=hz, stops=2.0 * size, together=float(abs(np.mean(waves))) / size)


class _Spectrum:
    """Power of the strips, slow changes taken out, at any frequency; times need not be even."""

    def __init__(self, seconds: Floats, stops: Floats) -> None:
        self.duration = float(seconds[-1] - seconds[0])
        self._seconds = seconds - seconds[0]
        place = 2.0 * self._seconds / self.duration - 1.0
        slow = np.stack([np.ones_like(place), place, place**2], axis=1)
        window = 0.5 + 0.5 * np.cos(np.pi * place)
        left = (stops - _product(slow, _fitted(slow, stops))) * window[:, None]
        self._left = left.astype(np.float32)

    def power(self, hz: Floats) -> Floats:
        turns = 2.0 * np.pi * hz[:, None] * self._seconds[None, :]
        total = np.zeros(hz.size)
        for wave in (np.cos(turns), np.sin(turns)):
            total += (_product(wave.astype(np.float32), self._left).astype(np.float64) ** 2).sum(axis=1)
        return total

    def refine(self, hz: float, step: float, highest: float) -> float:
        """The top of the line near ``hz``, by ever finer looks and a parabola through the logarithms."""
        for width in (step, step / 8.0):
            grid = np.clip(hz + width * np.linspace(-1.0, 1.0, 9), 0.0, highest)
            hz = float(grid[int(np.argmax(self.power(grid)))])
        width = step / 32.0
        left, top, right = np.log(self.power(np.array([hz - width, hz, hz + width])) + 1e-300)
        bend = left - 2.0 * top + right
        shift = 0.5 * (left - right) / bend if bend < 0.0 else 0.0
        return min(highest, hz + width * float(np.clip(shift, -1.0, 1.0)))


def _amplitudes(seconds: Floats, stops: Floats, hz: float) -> npt.NDArray[np.complex128]:
    """Amplitude and phase of a wave of this frequency in each strip, fitted beside a parabola.

    Least squares with a Hann window, so that what is not the wave weighs less; shape (strips,).
    """
    since = seconds - seconds[0]
    place = 2.0 * since / max(float(since[-1]), 1e-9) - 1.0
    turn = 2.0 * np.pi * hz * since
    shapes = np.stack([np.ones_like(place), place, place**2, np.cos(turn), np.sin(turn)], axis=1)
    weight = np.sqrt(0.52 + 0.48 * np.cos(np.pi * place))[:, None]
    fitted = _fitted(shapes * weight, stops * weight)
    return np.asarray(fitted[3] - 1j * fitted[4])


def _fitted(shapes: Floats, values: Floats) -> Floats:
    """Least squares by normal equations; the smallest solution where shapes coincide, as sin and cos can."""
    gram, right = _product(shapes.T, shapes), _product(shapes.T, values)
    found, *_ = np.linalg.lstsq(gram, right, rcond=1e-9)
    return np.asarray(found)


def _product(left: Any, right: Any) -> Any:
    """Matrix product in NumPy's own loops: for arrays this small the threads of a linear algebra library cost
    many times what they save (measured: 60 ms of spinning for 3 ms of work on two busy cores)."""
    return np.einsum("ij,jk->ik", left, right)
