"""A logarithmic curve by its numbers: a log above a cut, a straight line below it."""

from __future__ import annotations

import math

import msgspec
import numpy as np

from analysis.signal.curves.display import FloatArray

LARGEST_STEP = 0.002
"""Signal by which the two parts may miss each other at the cut: makers publish rounded constants."""
SMALLEST = 1e-6
"""Least slope, gain or toe slope, and least base above 1: less is no curve, and its light would not be finite."""
_REACH = 200.0
"""Largest exponent of the base that is worked out, so that a wild signal stays a finite light."""


class ParametricLog(msgspec.Struct, frozen=True, kw_only=True):
    """Signal V of linear light x: ``slope log_base(gain x + shift) + lift`` at ``cut`` and above, a line below.

    Below the cut V = ``toe_slope x + toe_lift``. V is 0 at black and 1 at nominal white, x is 0.18
    for an 18 % card. Raises ValueError, in words, for numbers that make no rising curve.

    >>> curve = ParametricLog.with_tangent(slope=0.25, gain=5.0, shift=0.05, lift=0.4, cut=0.0)
    >>> round(float(curve.encode(np.array(0.18))), 6), round(float(curve.decode(np.array(0.3944309))), 4)
    (0.394431, 0.18)
    """

    slope: float
    gain: float
    shift: float
    lift: float
    cut: float
    toe_slope: float
    toe_lift: float
    base: float = 10.0

    def __post_init__(self) -> None:
        self._check_log(self.slope, self.gain, self.shift, self.cut, self.base)
        if self.toe_slope < SMALLEST:
            raise ValueError("the line below the cut must rise: its slope must be above zero")
        gap = self.at_cut - (self.toe_slope * self.cut + self.toe_lift)
        if abs(gap) > LARGEST_STEP:
            raise ValueError(f"at the cut the log gives {self.at_cut:.5f} and the line {self.at_cut - gap:.5f}")

    @staticmethod
    def _check_log(slope: float, gain: float, shift: float, cut: float, base: float) -> None:
        if slope < SMALLEST or gain < SMALLEST:
            raise ValueError("slope and gain of the log must be above zero")
        if base < 1.0 + SMALLEST:
            raise ValueError("the base of the log must be above 1")
        if gain * cut + shift <= 0.0:
            raise ValueError("at the cut the log has nothing above zero to work on: raise the cut or the shift")

    @classmethod
    def with_tangent(
        cls, *, slope: float, gain: float, shift: float, lift: float, cut: float, base: float = 10.0
    ) -> ParametricLog:
        """The curve that goes on below ``cut`` as the tangent there."""
        cls._check_log(slope, gain, shift, cut, base)
        inner = gain * cut + shift
        toe = slope * gain / (inner * math.log(base))
        at_cut = slope * math.log(inner, base) + lift
        return cls(
            slope=slope, gain=gain, shift=shift, lift=lift, cut=cut, base=base,
            toe_slope=toe, toe_lift=at_cut - toe * cut,
        )  # fmt: skip

    @property
    def at_cut(self) -> float:
        """Signal of the log side at the cut."""
        return self.slope * math.log(self.gain * self.cut + self.shift, self.base) + self.lift

    def encode(self, light: FloatArray) -> FloatArray:
        """Signal V of linear light of any shape."""
        light = np.asarray(light)
        inner = self.gain * np.maximum(light, self.cut) + self.shift
        log = self.slope / math.log(self.base) * np.log(inner) + self.lift
        return np.where(light < self.cut, self.toe_slope * light + self.toe_lift, log)

    def decode(self, signal: FloatArray) -> FloatArray:
        """Linear light of signal V; a signal inside the step at the cut reads as the cut itself."""
        signal = np.asarray(signal)
        exponent = np.minimum((np.maximum(signal, self.at_cut) - self.lift) / self.slope, _REACH / math.log(self.base))
        power = (np.power(self.base, exponent) - self.shift) / self.gain
        line = np.minimum((signal - self.toe_lift) / self.toe_slope, self.cut)
        return np.where(signal < self.at_cut, line, np.maximum(power, self.cut))
