"""What is set and what may move, in TOML: one file a camera, entered once.

For example::

    camera = "large-sensor-log"   # a profile, by name or path
    policy = "open-sky"           # left out: the picture suggests one

    [controls]
    nd_stops = 6
    iso = 800
    t_stop = 2.8
    shutter_angle = 180           # or shutter = "1/50", which stays that time at any rate
    rate = 25
    key_percent = 60              # left out: no key
    key_distance = 2.0
    key_share = 0.8               # part of the light on the sitter that is the key's

    [limits]
    nd_steps = [0, 2, 4, 6, 8]    # or nd_range = [2, 8] for a variable filter
    iso_range = [400, 3200]
    locked = ["t_stop", "shutter_angle"]
"""

from __future__ import annotations

import math
import os
import re
from collections.abc import Callable, Mapping
from itertools import pairwise
from pathlib import Path
from typing import Any

import msgspec

from analysis.exposure.arithmetic import shutter_angle
from analysis.measure.spot_edit import printable
from analysis.model.camera import CameraProfile
from analysis.model.controls import CONTROLS, ControlLimits, Controls
from analysis.model.errors import SettingsError, UsageError
from analysis.settings.camera_files import camera_folder, load_camera
from analysis.settings.nearest import nearest
from analysis.settings.places import shipped
from analysis.settings.text_files import parse_toml, read_text

MOST_STEPS = 200
USUAL_RATE = Controls().rate

_BOUNDS: dict[str, tuple[float, float]] = {
    "nd_stops": (0.0, 20.0),
    "iso": (1.0, 1e7),
    "t_stop": (0.5, 64.0),
    "shutter_angle": (0.1, 360.0),
    "rate": (0.1, 1000.0),
    "key_percent": (0.0, 100.0),
    "key_distance": (0.01, 1000.0),
    "key_share": (0.0, 1.0),
    "nd_steps": (0.0, 20.0),
    "nd_range": (0.0, 20.0),
    "nd_step": (0.01, 10.0),
    "iso_steps": (1.0, 1e7),
    "iso_range": (1.0, 1e7),
    "t_steps": (0.5, 64.0),
    "t_range": (0.5, 64.0),
    "shutter_angles": (0.1, 360.0),
    "key_range": (0.0, 100.0),
    "key_step": (0.01, 100.0),
    "key_distances": (0.01, 1000.0),
}
_PAIRS = ("nd_range", "iso_range", "t_range", "key_range")


class ControlFile(msgspec.Struct, frozen=True, kw_only=True):
    """All that such a file says; ``camera`` and ``policy`` are names, None where it does not name one.

    ``shutter_seconds`` is the exposure time where one was told in place of an angle.
    """

    controls: Controls = Controls()
    limits: ControlLimits = ControlLimits()
    camera: str | None = None
    policy: str | None = None
    shutter_seconds: float | None = None

    def at_rate(self, rate: float | None) -> Controls:
        """The controls at the rate of the feed, if the file tells no other than the usual one.

        An angle stays that angle; a time stays that time, up to the length of a frame.

        >>> parse_controls("[controls]\\nshutter = '1/50'", "x.toml").at_rate(50.0).shutter_angle
        360.0
        """
        made = self.controls
        if rate is None or not rate > 0.0 or made.rate != USUAL_RATE:
            return made
        angle = made.shutter_angle
        if self.shutter_seconds is not None:
            angle = min(round(shutter_angle(self.shutter_seconds, rate), 6), 360.0)
        return msgspec.structs.replace(made, rate=rate, shutter_angle=angle)


_KEYS = ("controls", "limits", "camera", "policy")


def load_controls(path: Path) -> ControlFile:
    """What a file says of the controls. Raises SettingsError in one line for anything wrong."""
    return parse_controls(read_text(path), str(path))


def parse_controls(text: str, where: str) -> ControlFile:
    """What a TOML text says of the controls; ``where`` names the file in errors.

    >>> parse_controls("[controls]\\nnd_stops = 6\\nshutter = '1/50'", "bench.toml").controls.shutter_angle
    180.0
    >>> parse_controls("[controls]\\nnd_stop = 6", "bench.toml")
    Traceback (most recent call last):
    ...
    analysis.model.errors.SettingsError: bench.toml: unknown key controls.nd_stop; did you mean "nd_stops"?
    """
    raw = parse_toml(text, where)
    for key in raw:
        if key not in _KEYS:
            raise SettingsError(f"unknown key {printable(key)}", where, nearest(key, _KEYS))
    controls = _table(raw, "controls", where)
    seconds = _shutter(controls, where) if "shutter" in controls else None
    made = ControlFile(
        controls=_made(controls, Controls, "controls", where),
        limits=_made(_table(raw, "limits", where), ControlLimits, "limits", where),
        camera=_name(raw, "camera", where),
        policy=_name(raw, "policy", where),
        shutter_seconds=seconds,
    )
    check_limits(made.limits, where)
    return made


def _table(raw: Mapping[str, Any], name: str, where: str) -> dict[str, Any]:
    table = raw.get(name, {})
    if not isinstance(table, dict):
        raise SettingsError(f"{name} must be a table", where, f"write [{name}]")
    return dict(table)


def _name(raw: Mapping[str, Any], key: str, where: str) -> str | None:
    value = raw.get(key)
    if value is not None and not (isinstance(value, str) and value.strip()):
        raise SettingsError(f"{key} must be a name", where, f'write {key} = "..."')
    return value


def _shutter(table: dict[str, Any], where: str) -> float:
    """``shutter = "1/50"`` to an angle at the rate of the file; the time in seconds."""
    if "shutter_angle" in table:
        raise SettingsError("controls has both shutter and shutter_angle", where, "keep one of them")
    said, rate = table.pop("shutter"), table.get("rate", Controls().rate)
    found = re.fullmatch(r"1/(\d+(?:\.\d+)?)", said.strip()) if isinstance(said, str) else None
    if found is None or float(found[1]) <= 0.0 or not isinstance(rate, (int, float)):
        raise SettingsError("controls.shutter is not a time", where, 'write it like "1/50"')
    seconds = 1.0 / float(found[1])
    angle = round(shutter_angle(seconds, rate), 6)
    if angle > 360.0:
        hint = f"use 1/{rate:g} or shorter, or the rate of that camera"
        raise SettingsError(f"controls.shutter is longer than a frame at {rate:g}", where, hint)
    table["shutter_angle"] = angle
    return seconds


def _made(table: Mapping[str, Any], kind: Callable[..., Any], name: str, where: str) -> Any:
    known = kind.__struct_fields__  # type: ignore[attr-defined]
    for key in table:
        if key not in known:
            others = (*known, "shutter") if name == "controls" else known
            raise SettingsError(f"unknown key {name}.{printable(key)}", where, nearest(key, others))
    try:
        made = msgspec.convert(table, kind)
    except msgspec.ValidationError as error:
        head, _, path = str(error).partition(" - at `$.")
        at = re.sub(r"\[.*", "", path.rstrip("`"))
        hint = f"use {', '.join(CONTROLS)}" if at == "locked" else "write a number, or a list of numbers for steps"
        raise SettingsError(f"{name}.{at}: {printable(head)}" if at else f"{name}: {head}", where, hint) from None
    for key in table:
        _check(f"{name}.{key}", key, getattr(made, key), where)
    return made


def _check(name: str, key: str, value: Any, where: str) -> None:
    if key == "locked" or value is None:
        return
    if key == "dimmer":
        _check_dimmer(name, value, where)
        return
    numbers = [value] if isinstance(value, (int, float)) else list(value)
    if len(numbers) > MOST_STEPS:
        raise SettingsError(f"{name} has {len(numbers)} steps", where, f"{MOST_STEPS} are the most")
    low, high = _BOUNDS[key]
    for number in numbers:
        if not (math.isfinite(number) and low <= number <= high):
            raise SettingsError(f"{name} is {number:g}", where, f"use {low:g} to {high:g}")
    if key in _PAIRS and numbers[0] > numbers[1]:
        raise SettingsError(f"{name} runs backwards", where, "write the least first")


def _check_dimmer(name: str, points: tuple[tuple[float, float], ...], where: str) -> None:
    rising = all(a[0] < b[0] and a[1] < b[1] for a, b in pairwise(points))
    inside = all(0.0 <= value <= 100.0 for point in points for value in point)
    if len(points) == 1 or not rising or not inside:
        raise SettingsError(f"{name} is not a rising curve", where, "write [[0, 0], [50, 20], [100, 100]], in percent")


def camera_named(name: str, env: Mapping[str, str] | None = None, where: str = "--camera") -> CameraProfile:
    """The camera profile of that name, the operator's own before those that ship, or of that path.

    ``where`` is what named it, for errors.

    Raises UsageError naming the nearest one, SettingsError for one that is wrong.

    >>> camera_named("large-sensor-log", {}).natives[0].iso
    800.0
    """
    path = Path(name)
    if path.suffix == ".toml":
        return load_camera(path)
    folders = camera_folder(os.environ if env is None else env), shipped("configs") / "cameras"
    found = {each.stem: each for folder in reversed(folders) for each in folder.glob("*.toml")}
    if name not in found:
        raise UsageError(f"no camera {printable(name)}", where, nearest(name, found))
    return load_camera(found[name])


def check_limits(limits: ControlLimits, where: str) -> None:
    """Refuse limits that say two things of one control. Raises SettingsError."""
    if len(set(limits.locked)) < len(limits.locked):
        raise SettingsError("limits.locked names a control twice", where, "name it once")
    if limits.nd_range is not None and limits.nd_range[1] - limits.nd_range[0] > limits.nd_step * MOST_STEPS:
        raise SettingsError("limits.nd_step makes too many steps", where, "use 0.3333 or more")
