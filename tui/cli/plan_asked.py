"""What the options of ``stopkeeper plan`` say of the controls, the aims and the skin."""

from __future__ import annotations

import math
import re
from typing import Any, get_args

import msgspec

from analysis.exposure.aims import ANY_SITTER, stops_of
from analysis.exposure.arithmetic import shutter_angle
from analysis.exposure.skin import skin_aim
from analysis.model.controls import Control, ControlLimits, Controls
from analysis.model.errors import UsageError
from analysis.model.reading import Reading
from analysis.model.sitter import Aim, Complexion, SitterReading
from analysis.settings.aim_settings import TOLERANCE, Aims, aims_of
from analysis.settings.control_files import ControlFile
from analysis.settings.nearest import nearest
from analysis.signal.curves import Curve
from tui.cli.reckon_asked import exposure_time

_OPTIONS = {
    "nd": ("nd_stops", 0.0, 20.0),
    "iso": ("iso", 1.0, 1e7),
    "t_stop": ("t_stop", 0.5, 64.0),
    "key": ("key_percent", 0.0, 100.0),
    "key_distance": ("key_distance", 0.01, 1000.0),
    "key_share": ("key_share", 0.0, 1.0),
}
_STOPS = re.compile(r"([+-]?\d+(?:\.\d+)?)\s*(?:st|stops?)", re.IGNORECASE)
BACKGROUND = "background"
"""The name of the spot that ``--background`` places."""


def controls_asked(file: ControlFile, given: dict[str, Any], rate: float | None) -> tuple[Controls, ControlLimits]:
    """Controls and limits: the options first, then the file; the rate is the feed's where it tells one.

    >>> controls_asked(ControlFile(), {"nd": 6.0, "lock": ("iso",)}, 24.0)[0].nd_stops
    6.0
    """
    said: dict[str, float] = {}
    for option, (field, low, high) in _OPTIONS.items():
        value = given.get(option)
        if value is None:
            continue
        if not (math.isfinite(value) and low <= value <= high):
            raise UsageError(f"{value:g} cannot be set", f"--{option.replace('_', '-')}", f"use {low:g} to {high:g}")
        said[field] = value
    controls = msgspec.structs.replace(file.at_rate(rate), **said)
    if given.get("angle") is not None:
        seconds = exposure_time(given["angle"], controls.rate, "--angle")
        angle = round(shutter_angle(seconds, controls.rate), 6)
        if angle > 360.0:
            todo = f"use 1/{controls.rate:g} or shorter"
            raise UsageError(f"{given['angle']} is longer than a frame at {controls.rate:g}", "--angle", todo)
        controls = msgspec.structs.replace(controls, shutter_angle=angle)
    free = {_control(name, "--free") for name in given.get("free") or ()}
    lock = {_control(name, "--lock") for name in given.get("lock") or ()}
    for name in sorted(free & lock):
        raise UsageError(f"--lock and --free both name {name}", todo="keep one of them")
    locked = (set(file.limits.locked) - free) | lock
    return controls, msgspec.structs.replace(file.limits, locked=tuple(sorted(locked)))


def told_of(given: dict[str, Any]) -> bool:
    """Whether the options say anything of what is set.

    >>> told_of({"nd": 6.0}), told_of({"nd": None, "angle": None})
    (True, False)
    """
    return any(given.get(option) is not None for option in (*_OPTIONS, "angle"))


def _control(name: str, option: str) -> Control:
    for known in get_args(Control):
        if name == known:
            return known  # type: ignore[no-any-return]
    raise UsageError(f"no control {name}", option, nearest(name, get_args(Control)))


def aims_asked(
    settings: Aims,
    aim: str | None,
    complexion: Complexion | None,
    background: str | None,
    curve: Curve,
    behind: str = BACKGROUND,
) -> tuple[Aim, ...]:
    """The aims to plan for: those of the options stand before those of the settings.

    ``behind`` is the name of the background spot.
    """
    if aim is not None and complexion is not None:
        raise UsageError("--aim and --complexion both say where the skin should lie", todo="keep one of them")
    aims = {each.target: each for each in aims_of(settings, curve)}
    if aim is not None:
        aims = {name: each for name, each in aims.items() if not name.startswith(ANY_SITTER)}
        aims[ANY_SITTER] = _aim(ANY_SITTER, aim, "--aim")
    elif complexion is not None:
        aims[ANY_SITTER] = skin_aim(complexion, curve)
    if background is not None:
        aims[behind] = _aim(behind, background, "--background-aim")
    return tuple(aims.values())


def _aim(target: str, text: str, option: str) -> Aim:
    """``50`` is IRE, ``0.8st`` or ``0.8 stops`` is stops from middle grey.

    >>> _aim("sitter", "+0.8st", "--aim").unit, _aim("sitter", "50", "--aim").value
    ('stops', 50.0)
    """
    in_stops = _STOPS.fullmatch(text.strip())
    if in_stops is not None:
        value, unit, low, high = float(in_stops[1]), "stops", -12.0, 12.0
    else:
        try:
            value, unit, low, high = float(text), "ire", -10.0, 110.0
        except ValueError:
            raise UsageError(f"{text} is not a level", option, "write 50 for IRE, or 0.8st for stops") from None
    if not low <= value <= high:
        raise UsageError(f"{text} is no level that can be", option, f"use {low:g} to {high:g}")
    tolerance = TOLERANCE["stops" if unit == "stops" else "ire"]
    return Aim(target=target, value=value, tolerance=tolerance, unit="stops" if unit == "stops" else "ire")


def skin_given(reading: Reading, level: float, curve: Curve) -> Reading:
    """The reading with a sitter of that level: skin nobody found, but the operator knows."""
    stops = stops_of(level, curve)
    if stops is None or not -10.0 <= level <= 110.0:
        raise UsageError(f"{level:g} IRE is no level of skin", "--skin-level", "use a level such as 50")
    clipped = 100.0 if reading.clipped is not None and level >= reading.clipped.level else 0.0
    sitter = SitterReading(
        name=ANY_SITTER, main=True, state="seen", box=(0, 0, 0, 0), confidence=1.0,
        level=level, low=level, high=level, stops=stops, clipped=clipped,
    )  # fmt: skip
    return msgspec.structs.replace(reading, sitters=(sitter,))
