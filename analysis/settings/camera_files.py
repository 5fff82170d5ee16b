"""Camera profiles in TOML: one file a camera, in ``cameras`` beside the operator's settings."""

from __future__ import annotations

import math
import os
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import msgspec
import numpy as np

from analysis.model.camera import CameraProfile
from analysis.model.errors import SettingsError
from analysis.settings.load import operator_file
from analysis.settings.nearest import nearest
from analysis.settings.text_files import parse_toml, read_text, write_text
from analysis.signal.curves import Curve
from analysis.signal.curves.table import StopsTable

_REMARKS = {
    "snr": "signal-to-noise ratio, as a factor, down to which light counts as usable",
    "clip_percent": "IRE at which the signal stops rising; left out when the bracket did not reach it",
    "noise_percent": "temporal noise in IRE at the darkest step",
    "curve": "the known curve that lies nearest",
    "curve_within": "largest difference from it, in stops",
    "curve_offset": "stops by which the camera was exposed above it",
    "iso_steps": "ISO values that can be set",
    "nd_steps": "neutral density filters, in stops",
    "nd_range": "least and most of a variable filter, in stops",
}
_FEWEST_POINTS = 3


def camera_folder(env: Mapping[str, str] | None = None) -> Path:
    """Where the operator's camera profiles lie."""
    return operator_file(os.environ if env is None else env).parent / "cameras"


def save_camera(profile: CameraProfile, path: Path) -> None:
    """Write a profile, whole or not at all. Raises StopkeeperError where it cannot be written."""
    write_text(path, to_toml(profile))


def load_camera(path: Path) -> CameraProfile:
    """The profile of one file. Raises SettingsError in one line for anything that is wrong with it."""
    return parse_camera(read_text(path), str(path))


def parse_camera(text: str, where: str) -> CameraProfile:
    """The profile of a TOML text; ``where`` names the file in errors.

    >>> parse_camera("name = 'x'", "x.toml")
    Traceback (most recent call last):
    ...
    analysis.model.errors.SettingsError: x.toml: Object missing required field `snr`; ...
    """
    raw = parse_toml(text, where)
    for key in raw:
        if key not in CameraProfile.__struct_fields__:
            raise SettingsError(f"unknown key {key!r}", where, nearest(key, CameraProfile.__struct_fields__))
    try:
        profile = msgspec.convert(raw, CameraProfile)
    except msgspec.ValidationError as error:
        head, _, path = str(error).partition(" - at `$.")
        said = f"{path.rstrip('`')}: {head}" if path else head
        raise SettingsError(said, where, "measure the camera again, or mend the line") from None
    _check(profile, where)
    return profile


def _check(profile: CameraProfile, where: str) -> None:
    response = profile.response
    lists = {name: getattr(response, name) for name in response.__struct_fields__}
    if len({len(values) for values in lists.values() if values}) > 1:
        raise SettingsError("the lists of [response] differ in length", where, "measure the camera again")
    numbers: list[float] = [value for values in lists.values() for value in values]
    numbers += [*profile.iso_steps, *profile.nd_steps, *(profile.nd_range or ()), profile.snr]
    numbers += [value for name in ("clip_percent", "noise_percent") if (value := getattr(profile, name)) is not None]
    numbers += [value for each in profile.natives for value in (each.iso, each.stops_above, each.stops_below)]
    if not all(math.isfinite(value) and abs(value) <= 1e9 for value in numbers):
        raise SettingsError("it holds a number that cannot be used", where, "measure the camera again")
    for name in ("stops", "percent"):
        if any(b - a < 1e-6 for a, b in zip(lists[name], lists[name][1:], strict=False)):
            raise SettingsError(f"response.{name} does not rise", where, "measure the camera again")
    if profile.snr <= 0.0:
        raise SettingsError("snr must be above zero", where, "use 1 or 2")


def camera_curve(path: Path) -> Curve:
    """The curve that was measured with a camera, under the file's name.

    Raises SettingsError when the profile cannot be used or has too few points for a curve.
    """
    profile = load_camera(path)
    response = profile.response
    if len(response.stops) < _FEWEST_POINTS or len(response.percent) != len(response.stops):
        raise SettingsError("this camera profile has no measured curve", str(path), "run stopkeeper characterise")
    table = StopsTable(np.array(response.stops), np.array(response.percent) / 100.0)
    source = f"measured with the camera {profile.name}" + (f", {profile.measured}" if profile.measured else "")
    return Curve(name=path.stem.casefold(), encode=table.encode, decode=table.decode, source=source)


def to_toml(profile: CameraProfile) -> str:
    """The profile as TOML with a remark beside what needs one; :func:`parse_camera` gives it back.

    >>> text = to_toml(CameraProfile(name="porch", snr=2.0, bits=8, range="narrow", matrix="bt709"))
    >>> parse_camera(text, "porch.toml").name
    'porch'
    """
    raw: dict[str, Any] = msgspec.to_builtins(profile)
    natives, response = raw.pop("natives"), raw.pop("response")
    lines = ["# A camera profile of stopkeeper. Levels are IRE, light is stops from an 18 % card."]
    lines += _pairs(raw, _REMARKS)
    for native in natives:
        lines += ["", "[[natives]]", *_pairs(native, {})]
    lines += ["", "[response]", *_pairs(response, {})]
    return "\n".join(lines) + "\n"


def _pairs(table: Mapping[str, Any], remarks: Mapping[str, str]) -> Iterable[str]:
    for key, value in table.items():
        if value is not None:
            remark = f"  # {remarks[key]}" if key in remarks else ""
            yield f"{key} = {toml_value(value)}{remark}"


def toml_value(value: Any) -> str:
    """A number, truth, text or list as TOML writes it.

    >>> toml_value((1.5, True, "a \\"b\\""))
    '[1.5, true, "a \\\\u0022b\\\\u0022"]'
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        escaped = "".join(
            f"\\u{ord(char):04X}" if ord(char) < 32 or ord(char) == 127 or char in '"\\' else char for char in value
        )
        return f'"{escaped}"'
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(toml_value(item) for item in value) + "]"
    return repr(value)
