"""Where a sensor is full below the end of the codes, by the camera's profile and the ISO that the operator told.

A log curve often has codes left above the light at which the sensor is full. Until something clips, the picture does
not show where that is; a profile does.
"""

from __future__ import annotations

from math import log2
from typing import NamedTuple

from analysis.exposure.policy import native_of
from analysis.exposure.shares import light_stops, signal_of
from analysis.model.camera import CameraProfile, NativeIso
from analysis.model.reading import Reading
from analysis.signal.curves import Curve
from analysis.signal.levels import codes_per_range

ROUNDING, ROUNDED_CODES = 0.3, 1.5
"""IRE, and codes, below the end of the signal where rounding and chroma may leave what is clipped."""
DISPROVED = 1.0 / 3.0
"""Stops above a sensor's end: light seen there says that the camera is not set, or not made, as was told."""


class SensorEnd(NamedTuple):
    """The level in IRE from which light counts as clipped, and by how many stops it lies below the one counted from."""

    level: float
    below: float


def full_at(native: NativeIso, iso: float) -> float:
    """Stops in the signal at which a sensor is full: by so much higher as ISO is above its native value.

    >>> full_at(NativeIso(iso=800.0, stops_above=6.0, stops_below=7.0), 1600.0)
    7.0
    """
    return native.stops_above + log2(iso / native.iso)


def counted_from(end: float, curve: Curve, code: float) -> float:
    """The level in IRE from which light counts as clipped where the signal ends at ``end`` stops.

    A code is ``code`` IRE wide.
    """
    return 100.0 * signal_of(end, curve) - ROUNDING - ROUNDED_CODES * code


def sensor_end(reading: Reading, curve: Curve, camera: CameraProfile | None, iso: float) -> SensorEnd | None:
    """The sensor's end in this picture; None where nobody knows, or the picture itself or the settings tell it.

    Neither is anything told where the profile knows only that the sensor holds at least so much, nor where the
    picture shows light well above that end.
    """
    counted, bits, span = reading.clipped, reading.encoding.bits, reading.encoding.range
    if camera is None or counted is None or counted.by not in {"narrow", "full"} or reading.ceiling is not None:
        return None
    by_iso = {each.iso: each for each in camera.natives}
    native = by_iso[native_of(iso, tuple(by_iso))] if by_iso else None
    if native is None or native.above_at_least:
        return None
    full, last = full_at(native, iso), light_stops(counted.level, curve)
    level = counted_from(full, curve, 100.0 / codes_per_range(bits, span))
    below = last - light_stops(level, curve)
    if full >= last or below <= 0.0:
        return None
    seen = reading.headroom_stops
    if seen is not None and below - seen > DISPROVED:
        return None
    return SensorEnd(level=level, below=below)
