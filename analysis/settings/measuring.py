"""What is to be measured, as the operator's settings and camera profile leave it."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

from analysis.measure.examiner import ExaminerSettings
from analysis.measure.extras import ExtrasSettings
from analysis.measure.flicker import FlickerSettings
from analysis.measure.meter_settings import MeterSettings
from analysis.model.camera import CameraProfile
from analysis.model.reading import ClipSource
from analysis.settings.camera_files import camera_folder, load_camera
from analysis.settings.schema import MeterChoices


def examiner_settings(
    choices: MeterChoices,
    *,
    view: bool = True,
    env: Mapping[str, str] | None = None,
    known: CameraProfile | None = None,
) -> ExaminerSettings:
    """Settings for an examiner. A clip level in the settings outranks the camera profile's.

    ``known`` is the profile of the camera where it is loaded already, as the one that a controls file names: it
    counts before that of the settings, for planning and measuring alike.

    Raises SettingsError for a profile that is missing or wrong.

    >>> examiner_settings(MeterChoices(clip_percent=94.0)).meter.clip_percent
    94.0
    """
    profile = known or (camera(choices.camera, env) if choices.camera else None)
    level = choices.clip_percent
    by: ClipSource | None = None
    if level is None and profile is not None and profile.clip_percent is not None:
        level, by = profile.clip_percent, "profile"
    return ExaminerSettings(
        meter=MeterSettings(
            clip_percent=level,
            clip_by=by,
            crush_percent=choices.crush_percent,
            active_picture=choices.active_picture,
            view=view,
        ),
        extras=ExtrasSettings(
            noise_every=0.2 if choices.noise else None,
            flicker=FlickerSettings() if choices.flicker else None,
            tolerance=choices.tolerance,
        ),
        ends_every=0.1 if choices.ends else None,
    )


def camera(name: str, env: Mapping[str, str] | None = None) -> CameraProfile:
    """The camera profile of that name in the operator's folder, or of that path."""
    path = Path(name)
    if path.suffix != ".toml":
        path = camera_folder(os.environ if env is None else env) / f"{name}.toml"
    return load_camera(path)
