"""What can be set in a rendered scene, as on a real camera and in a real room."""

from __future__ import annotations

import math
from typing import Literal

import msgspec

from analysis.model.errors import UsageError
from analysis.model.frame import Matrix, Range
from analysis.signal.curves import MIDDLE_GREY

REFERENCE_ND = 2.0
REFERENCE_T_STOP = 2.8
REFERENCE_EXPOSURE = 1.0 / 50.0
REFERENCE_DISTANCE = 2.0

LampPlace = Literal["bench", "key"]
Doors = Literal["open", "shut"]


class Sensor(msgspec.Struct, frozen=True, kw_only=True):
    """The sensor behind the lens: what it holds and what it adds.

    ``full_well`` and ``read_noise`` in electrons per picture pixel, ``native_iso`` is the
    sensitivity at which ``headroom`` stops lie between an 18 % card and saturation.
    """

    full_well: float = 60000.0
    read_noise: float = 6.0
    native_iso: float = 800.0
    headroom: float = 6.0

    @property
    def electrons_per_unit(self) -> float:
        """Electrons that linear light 1.0 frees at the reference exposure.

        >>> round(Sensor().electrons_per_unit, 1)
        5208.3
        """
        return self.full_well / self.saturation

    @property
    def saturation(self) -> float:
        """Linear light at which the sensor is full, at the reference exposure."""
        return float(MIDDLE_GREY * 2.0**self.headroom)


class SceneControls(msgspec.Struct, frozen=True, kw_only=True):
    """Everything an operator could set, and what the weather does.

    With everything as it is by default an 18 % card that faces the key lies at 0.18: ND 2
    stops, T2.8, 180 degrees at 25 pictures a second, native ISO (about 530 lux of lake light,
    by E = 250 T^2 / (ISO t) before the filter takes its quarter). ``lamp_power`` 1 is the lamp as it stands;
    ``sun`` lets the clouds decide, or not; ``lake`` is how strong the light from outside is, 1 by day. With the doors
    ``shut`` it comes in by a window beside the camera and none of the lake is seen. The lamp hangs over the
    ``bench``, or stands as a ``key`` beside the camera, ``lamp_distance`` from the sitter: at 2 and full power it gives
    the sitter as much light as the lake does. ``ceiling`` is the level in IRE at which R'G'B'
    stops rising, None for the end of the code range. ``begin`` is the scene time of the
    first frame in seconds. ``turns`` are changes of all light at times of the scene, (seconds, stops), as when a
    filter is put in or taken out; at the times in ``switch`` the lamp goes out or on.
    """

    width: int = 1280
    height: int = 720
    rate: float = 25.0
    layout: str = "yuyv422"
    range: Range = "narrow"
    matrix: Matrix = "bt709"
    curve: str = "bt709"
    ceiling: float | None = None
    nd: float = REFERENCE_ND
    iso: float = 800.0
    t_stop: float = REFERENCE_T_STOP
    shutter: float = 180.0
    sensor: Sensor = Sensor()
    lamp: bool = False
    lamp_power: float = 1.0
    lamp_at: LampPlace = "bench"
    lamp_distance: float = REFERENCE_DISTANCE
    lake: float = 1.0
    doors: Doors = "open"
    complexion: str = "intermediate"
    clouds: bool = True
    sun: Literal["auto", "on", "off"] = "auto"
    sway: bool = True
    noise: bool = True
    seed: int = 1
    begin: float = 0.0
    turns: tuple[tuple[float, float], ...] = ()
    switch: tuple[float, ...] = ()

    @property
    def exposure_seconds(self) -> float:
        """Time the shutter is open: angle / (360 x rate)."""
        return self.shutter / (360.0 * self.rate)

    @property
    def sensor_stops(self) -> float:
        """Stops by which the sensor is exposed above (or below) the reference: ND, T-stop and shutter.

        ISO is not among them: it changes nothing that the sensor catches.

        >>> SceneControls(nd=1.0).sensor_stops, SceneControls(shutter=90.0).sensor_stops
        (1.0, -1.0)
        """
        iris = 2.0 * math.log2(REFERENCE_T_STOP / self.t_stop)
        return REFERENCE_ND - self.nd + iris + math.log2(self.exposure_seconds / REFERENCE_EXPOSURE)

    @property
    def gain(self) -> float:
        """Factor by which ISO multiplies what the sensor caught.

        >>> SceneControls(iso=1600).gain
        2.0
        """
        return self.iso / self.sensor.native_iso

    def checked(self) -> SceneControls:
        """These controls, or UsageError naming the one that cannot be."""
        limits: tuple[tuple[str, float, float, float], ...] = (
            ("width", self.width, 1, 8192),
            ("height", self.height, 1, 8192),
            ("rate", self.rate, 0.1, 1000.0),
            ("nd", self.nd, -10.0, 30.0),
            ("iso", self.iso, 1.0, 1e7),
            ("t", self.t_stop, 0.1, 128.0),
            ("shutter", self.shutter, 0.1, 360.0),
            ("native", self.sensor.native_iso, 1.0, 1e7),
            ("headroom", self.sensor.headroom, 1.0, 12.0),
            ("read_noise", self.sensor.read_noise, 1.0, 1000.0),
            ("full_well", self.sensor.full_well, 1000.0, 62000.0),
            ("power", self.lamp_power, 0.0, 100.0),
            ("distance", self.lamp_distance, 0.1, 100.0),
            ("lake", self.lake, 0.0, 100.0),
            ("ceiling", 100.0 if self.ceiling is None else self.ceiling, 10.0, 109.1),
            ("seed", self.seed, 0, 2**32 - 1),
            ("begin", self.begin, 0.0, 1e9),
        )
        for name, value, low, high in limits:
            if not low <= value <= high:
                raise UsageError(f"{name}={value:g} is out of range", "scene", f"use {low:g} to {high:g}")
        return self
