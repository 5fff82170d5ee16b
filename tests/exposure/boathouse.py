"""The boathouse with a camera of known controls, read as the program reads it, and what is true of it."""

from __future__ import annotations

from functools import cache
from typing import Any

import msgspec
import numpy as np

from analysis.feed.scene.controls import SceneControls
from analysis.feed.scene.lights import LUMINANCE, levels
from analysis.feed.scene.renderer import Renderer
from analysis.feed.scene.stage import Stage
from analysis.measure.depths import DepthsMeter
from analysis.measure.examiner import Examiner, ExaminerSettings, known_curve
from analysis.measure.extras import ExtrasSettings
from analysis.measure.meter import Meter
from analysis.measure.meter_settings import MeterSettings
from analysis.measure.peaks import PeaksMeter
from analysis.model.camera import CameraProfile, NativeIso
from analysis.model.controls import Controls
from analysis.model.frame import Frame
from analysis.model.instant import Instant
from analysis.model.reading import Reading
from analysis.model.sitter import SitterReading, Spot

SIZE = {"width": 640, "height": 360}
FRAMES = 3


@cache
def _stage(complexion: str, lamp_at: Any, doors: Any) -> Stage:
    return Stage(SIZE["width"], SIZE["height"], complexion, lamp_at=lamp_at, doors=doors)


def renderer(**controls: Any) -> Renderer:
    """A renderer of a still boathouse."""
    made = SceneControls(**{**SIZE, "clouds": False, "sway": False, "sun": "on", **controls})
    return Renderer(made, stage=_stage(made.complexion, made.lamp_at, made.doors))


def read(scene: Renderer, frames: int = FRAMES, clip: float | None = None) -> Reading:
    """The reading of the last of some frames, with its peaks, and the cheek that faces the key as the sitter."""
    examiner = Examiner(
        ExaminerSettings(
            meter=MeterSettings(view=False, active_picture=False, clip_percent=clip),
            extras=ExtrasSettings(flicker=None, tolerance="off", spread_every=0.0, noise_every=0.0),
            ends_every=0.0,
        )
    )
    left, top, right, bottom = scene.truth(0.0).skin.box
    wide, high = scene.controls.width, scene.controls.height
    cheek = Spot(
        name="cheek",
        kind="watch",
        x=left / wide,
        y=top / high,
        width=(right - left) / wide,
        height=(bottom - top) / high,
    )
    examiner.place_spots((cheek,))
    measured = None
    frame = None
    for number in range(frames):
        picture = scene.picture(number / 25.0, number)
        now = Instant(number / 25.0, number / 25.0)
        frame = Frame(planes=tuple(picture.planes), format=scene.format, instant=now, generation=1, sequence=number)
        measured = examiner.measure(frame, None, Instant(0.0, 0.0))
    assert measured is not None and frame is not None
    reading = measured.reading
    how = known_curve(scene.format.encoding.curve)
    assert how is not None
    peaks = PeaksMeter(scene.format, how).look_closely(frame, reading.picture.active)
    depths = DepthsMeter(scene.format, how).look_closely(frame, reading.picture.active)
    found = (reading.spots or {})["cheek"]
    sitter = SitterReading(
        name="sitter 1",
        main=True,
        state="seen",
        box=(left, top, right - left, bottom - top),
        confidence=0.9,
        level=found.level,
        low=found.level - 3.0,
        high=found.level + 2.0,
        stops=found.stops,
        clipped=found.clipped,
    )
    return msgspec.structs.replace(reading, peaks=peaks, depths=depths, sitters=(sitter,))


def controls_of(scene: Renderer) -> Controls:
    """What is set on the rendered camera, and on the lamp where it stands as a key."""
    made = scene.controls
    now = Controls(nd_stops=made.nd, iso=made.iso, t_stop=made.t_stop, shutter_angle=made.shutter, rate=made.rate)
    if made.lamp_at != "key":
        return now
    return msgspec.structs.replace(
        now, key_percent=100.0 * made.lamp_power, key_distance=made.lamp_distance, key_share=key_share(scene)
    )


def key_share(scene: Renderer) -> float:
    """The part of the light on the lit cheek that is the key's, as an operator finds it: with the key on and off."""
    light = levels(scene.controls, 0.0)
    off = msgspec.structs.replace(light, lamp=0.0)
    lit, dark = (float(np.dot(LUMINANCE, scene.truth(0.0, each).skin.scene)) for each in (light, off))
    return 1.0 - dark / lit


def profile(scene: Renderer) -> CameraProfile:
    """The rendered camera as a bracket of it would tell: a sensor that is full so many stops above grey."""
    sensor = scene.controls.sensor
    return CameraProfile(
        name="boathouse",
        snr=2.0,
        natives=(NativeIso(iso=sensor.native_iso, stops_above=sensor.headroom, stops_below=7.0),),
        bits=scene.format.encoding.bits,
        range="narrow",
        matrix="bt709",
    )


def counted_clipped(scene: Renderer, level: float, number: int = FRAMES - 1) -> float:
    """Percent of the rendered picture, noise and rounding and all, that the meter counts from this level (IRE) on.

    This is what an operator sees after a move, and what a prediction has to meet; :func:`true_clipped` is the light
    before noise and codes.
    """
    picture = scene.picture(number / 25.0, number)
    now = Instant(number / 25.0, number / 25.0)
    frame = Frame(planes=tuple(picture.planes), format=scene.format, instant=now, generation=1, sequence=number)
    meter = Meter(MeterSettings(view=False, active_picture=False, clip_percent=level))
    found = meter.measure(frame, None, Instant(0.0, 0.0)).reading.clipped
    assert found is not None
    return found.any


def true_clipped(scene: Renderer, level: float) -> float:
    """Percent of the picture that reaches this level (IRE) or fills the sensor, in any channel."""
    truth = scene.truth(0.0, clip=level)
    return max(truth.clipped.any, truth.saturated)
