"""Light in numbers: exposure values, how much light a setting needs, shutter, distance, ratio, gain.

Lengths are in any one unit, light in lux unless a name says footcandle, time in seconds, angles in degrees.
"""

from __future__ import annotations

from math import log2, pi, sin, sqrt

LUX_IN_A_FOOTCANDLE = 10.764
"""1 / 0.3048 squared: a foot is 0.3048 m."""
METER_K, METER_C = 12.5, 250.0
"""Constants of reflected and incident meters, ISO 2720:1974 (within its ranges 10.6 to 13.4 and 240 to 400)."""
SET_LIGHT = 25.0
"""The constant of fc = 25 T^2 / (ISO t); as C of an incident meter it is 25 x 10.764 = 269."""


def aperture_value(number: float) -> float:
    """Av = log2 N^2 (APEX, ASA PH2.5-1960).

    >>> aperture_value(16.0)
    8.0
    """
    return 2.0 * log2(number)


def time_value(seconds: float) -> float:
    """Tv = -log2 t (APEX, ASA PH2.5-1960).

    >>> time_value(1 / 128)
    7.0
    """
    return -log2(seconds)


def speed_value(iso: float) -> float:
    """Sv = log2(ISO / 3.125) (APEX): 5 at ISO 100.

    >>> speed_value(100.0), speed_value(3.125)
    (5.0, 0.0)
    """
    return log2(iso / 3.125)


def exposure_value(number: float, seconds: float) -> float:
    """Ev = Av + Tv (APEX).

    >>> round(exposure_value(2.8, 1 / 50), 3)
    8.615
    """
    return aperture_value(number) + time_value(seconds)


def luminance(ev: float, iso: float = 100.0, k: float = METER_K) -> float:
    """cd/m2 that a reflected-light meter answers with this exposure value: N^2/t = L S / K (ISO 2720).

    >>> luminance(0.0)
    0.125
    """
    return float(k * 2.0**ev / iso)


def illuminance(ev: float, iso: float = 100.0, c: float = METER_C) -> float:
    """Lux that an incident-light meter answers with this exposure value: N^2/t = E S / C (ISO 2720).

    >>> illuminance(0.0)
    2.5
    """
    return float(c * 2.0**ev / iso)


def meter_reflectance(k: float = METER_K, c: float = METER_C) -> float:
    """The reflectance, in percent, at which both kinds of meter agree: pi K / C.

    >>> round(meter_reflectance(), 2)
    15.71
    """
    return 100.0 * pi * k / c


def footcandles(t_stop: float, iso: float, seconds: float, nd_stops: float = 0.0) -> float:
    """Light on the subject that a setting needs, in footcandles: 25 T^2 / (ISO t), times the filter's factor.

    >>> round(footcandles(2.8, 100.0, 1 / 50))
    98
    """
    return float(SET_LIGHT * t_stop**2 / (iso * seconds) * 2.0**nd_stops)


def lux(t_stop: float, iso: float, seconds: float, nd_stops: float = 0.0) -> float:
    """The same in lux.

    >>> round(lux(2.8, 800.0, 1 / 50))
    132
    """
    return footcandles(t_stop, iso, seconds, nd_stops) * LUX_IN_A_FOOTCANDLE


def sunny_luminance() -> float:
    """cd/m2 of what the rule "f/16 at one over the ISO in full sun" assumes; the same at every ISO.

    >>> round(sunny_luminance(), 6)
    3200.0
    """
    return luminance(exposure_value(16.0, 1.0 / 100.0), 100.0)


def sunny_nd(t_stop: float, iso: float, seconds: float) -> float:
    """Stops of ND that a setting needs in full sun, from the rule "f/16 at one over the ISO".

    >>> round(sunny_nd(2.8, 800.0, 1 / 50), 2)
    9.03
    """
    return exposure_value(16.0, 1.0 / iso) - exposure_value(t_stop, seconds)


def shutter_seconds(angle: float, rate: float) -> float:
    """Time the shutter is open: angle / (360 x rate).

    >>> 1 / shutter_seconds(180.0, 24.0)
    48.0
    """
    return angle / (360.0 * rate)


def shutter_angle(seconds: float, rate: float) -> float:
    """The angle of a shutter time; above 360 no camera can do it at that rate.

    >>> round(shutter_angle(1 / 50, 24.0), 1)
    172.8
    """
    return 360.0 * rate * seconds


def steady_angles(rate: float, mains: float) -> tuple[float, ...]:
    """Shutter angles at which lamps on mains of ``mains`` Hz do not flicker: open for whole half-cycles.

    >>> steady_angles(25.0, 60.0)
    (75.0, 150.0, 225.0, 300.0)
    """
    first = 360.0 * rate / (2.0 * mains)
    return tuple(first * count for count in range(1, int(360.0 / first + 1e-9) + 1))


def ripple_left(seconds: float, mains: float) -> float:
    """The part of a lamp's ripple (at twice the mains) that is left in a shutter time: |sin(pi f t) / (pi f t)|.

    >>> round(ripple_left(1 / 48, 50.0), 4), round(ripple_left(1 / 50, 50.0), 4)
    (0.0395, 0.0)
    """
    turn = pi * 2.0 * mains * seconds
    return abs(sin(turn) / turn) if turn else 1.0


def t_stop(f_number: float, transmission: float) -> float:
    """T = N / sqrt(transmission of the glass, 0 to 1).

    >>> round(t_stop(2.0, 0.75), 2)
    2.31
    """
    return f_number / sqrt(transmission)


def distance_stops(before: float, after: float) -> float:
    """Stops of light gained by moving a small lamp from one distance to another: 2 log2(before / after).

    A large soft source falls off slower than this near it.

    >>> distance_stops(2.0, 1.0), round(distance_stops(2.0, 3.0), 2)
    (2.0, -1.17)
    """
    return 2.0 * log2(before / after)


def distance_for(before: float, stops: float) -> float:
    """Where a small lamp must stand for so many stops more: before x 2^(-stops / 2).

    >>> distance_for(2.0, 2.0)
    1.0
    """
    return float(before * 2.0 ** (-stops / 2.0))


def ratio_stops(ratio: float) -> float:
    """Stops of a lighting ratio, of whole light on the bright side to whole light on the other.

    >>> ratio_stops(8.0)
    3.0
    """
    return log2(ratio)


def lit_ratio(key_to_fill: float) -> float:
    """(key + fill) : fill, where only key : fill is known; fill reaches both sides.

    >>> lit_ratio(3.0)
    4.0
    """
    return key_to_fill + 1.0


def gain_stops(decibels: float) -> float:
    """Stops of a gain in dB: 20 log10(2) = 6.02 dB to the stop.

    >>> round(gain_stops(18.0), 2)
    2.99
    """
    return decibels / 6.020599913279624
