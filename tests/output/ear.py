"""What can be heard in samples: strokes, pitches, partials, onset. Knows nothing of the renderer."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Wave = npt.NDArray[np.floating]
QUIET = 0.01  # of the loudest sample
SILENCE_SECONDS = 0.030


@dataclass(frozen=True)
class Stroke:
    begin: float
    end: float
    wave: Wave
    rate: int

    @property
    def seconds(self) -> float:
        return self.end - self.begin

    def pitch(self, first: float, last: float) -> float:
        """Strongest frequency between two parts of the stroke (0 to 1)."""
        frequencies, strengths = self.spectrum(first, last)
        return float(frequencies[np.argmax(strengths)])

    def spectrum(self, first: float, last: float) -> tuple[Wave, Wave]:
        part = self.wave[round(first * len(self.wave)) : round(last * len(self.wave))]
        count = 1 << 18  # zero-padded: a grid of 0.2 Hz, so the window alone limits the accuracy
        strengths = np.abs(np.fft.rfft(part * np.hanning(len(part)), count))
        return np.fft.rfftfreq(count, 1 / self.rate), strengths

    def level_db(self, hz: float, first: float, last: float) -> float:
        """Level near a frequency against the strongest."""
        frequencies, strengths = self.spectrum(first, last)
        near = strengths[np.abs(frequencies - hz) < 20].max()
        return float(20 * np.log10(near / strengths.max()))

    def onset_seconds(self) -> float:
        """From the first audible sample to 90 percent of the loudest within the first 50 ms."""
        start = np.abs(self.wave[: round(0.05 * self.rate)])
        return float(np.argmax(start >= 0.9 * start.max())) / self.rate


def strokes(wave: Wave, rate: int) -> list[Stroke]:
    """Runs of sound with at least 30 ms of silence between them."""
    loudest = float(np.abs(wave).max()) if len(wave) else 0.0
    if loudest == 0.0:
        return []
    heard = np.flatnonzero(np.abs(wave) > QUIET * loudest)
    breaks = np.flatnonzero(np.diff(heard) > SILENCE_SECONDS * rate)
    begins = heard[np.r_[0, breaks + 1]]
    ends = heard[np.r_[breaks, len(heard) - 1]] + 1
    return [Stroke(b / rate, e / rate, wave[b:e], rate) for b, e in zip(begins, ends, strict=True)]
