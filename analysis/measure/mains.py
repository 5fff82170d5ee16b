"""Lamps on the mains: how their light beats with a frame rate, and which shutter angles are safe.

A lamp on alternating current glows twice in each period: at 100 or 120 Hz. A shutter that stays open for a
whole number of these half periods always gathers the same light. Any other leaves a ripple, which the frame
rate folds down to a slow beat. Lamps driven by pulses of another frequency are outside this arithmetic.
"""

from __future__ import annotations

from math import floor, inf, log2, pi, sin

SAME_HZ = 0.01
"""A beat slower than this takes minutes for a cycle: the rate fits the mains, any angle is safe."""


def safe_angles(fps: float, mains_hz: float) -> tuple[float, ...]:
    """Shutter angles, in degrees up to 360, open for a whole number of half periods of the mains.

    ``angle = 360 fps k / (2 mains_hz)`` for k = 1, 2, ... Raises ValueError unless both are positive.

    >>> safe_angles(25.0, 50.0)
    (90.0, 180.0, 270.0, 360.0)
    >>> [round(angle, 2) for angle in safe_angles(23.976, 60.0)]
    [71.93, 143.86, 215.78, 287.71, 359.64]
    """
    _positive(fps, mains_hz)
    one = 360.0 * fps / (2.0 * mains_hz)
    return tuple(one * count for count in range(1, floor(360.0 / one + 1e-9) + 1))


def alias_hz(fps: float, mains_hz: float) -> float:
    """The beat in Hz that pictures show of light at twice the mains frequency, 0 to ``fps / 2``.

    >>> alias_hz(24.0, 50.0), alias_hz(25.0, 60.0), alias_hz(30.0, 50.0), alias_hz(25.0, 50.0)
    (4.0, 5.0, 10.0, 0.0)
    """
    _positive(fps, mains_hz)
    light = 2.0 * mains_hz
    return abs(light - fps * floor(light / fps + 0.5))


def any_angle_safe(fps: float, mains_hz: float) -> bool:
    """Whether the frame rate itself fits the mains, so that no angle shows a beat.

    >>> any_angle_safe(25.0, 50.0), any_angle_safe(29.97, 60.0)
    (True, False)
    """
    return alias_hz(fps, mains_hz) < SAME_HZ


def ripple(exposure_seconds: float, mains_hz: float, modulation: float = 1.0) -> float:
    """What is left of a light's modulation after an exposure: ``modulation |sinc(2 mains_hz t)|``.

    For light ``1 + modulation cos(2 pi 2 mains_hz t)``; the mean of a cosine over the time t is its sinc.

    >>> round(ripple(1 / 48, 50.0), 4), round(ripple(1 / 50, 60.0), 4), round(ripple(1 / 60, 50.0), 4)
    (0.0395, 0.1261, 0.1654)
    """
    turn = pi * 2.0 * mains_hz * exposure_seconds
    return modulation * (abs(sin(turn) / turn) if turn else 1.0)


def ripple_stops(fps: float, angle: float, mains_hz: float, modulation: float) -> float:
    """Stops peak to peak that such a light shows at a shutter angle; infinite where it goes out altogether.

    >>> [round(ripple_stops(*shot, modulation=0.3), 3) for shot in ((24, 180, 50), (25, 180, 60), (30, 180, 50))]
    [0.034, 0.109, 0.143]
    """
    left = ripple(angle / (360.0 * fps), mains_hz, modulation)
    return log2((1.0 + left) / (1.0 - left)) if left < 1.0 else inf


def _positive(fps: float, mains_hz: float) -> None:
    if not (fps > 0.0 and mains_hz > 0.0):
        raise ValueError(f"a frame rate and a mains frequency are positive, not {fps} and {mains_hz}")
