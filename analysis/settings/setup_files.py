"""Set-ups in TOML: the spots and aims of one camera position, to be taken up again.

One file each, in ``set-ups`` beside the operator's settings, or wherever the operator says.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Mapping
from math import isfinite
from pathlib import Path
from typing import Any

import msgspec

from analysis.measure.spot_edit import KINDS, MOST_SPOTS, SMALLEST, printable, usable_name
from analysis.model.errors import SettingsError, UsageError
from analysis.model.sitter import Spot
from analysis.settings.aim_settings import Aims, parse_aims
from analysis.settings.load import operator_file
from analysis.settings.nearest import nearest
from analysis.settings.text_files import parse_toml, read_text, write_text

LONGEST_NAME = 64
_PLAIN = re.compile(r"[^\W_](?:[\w .-]*[^\W_])?")
_KEYS = ("name", "spots", "aims")
_EDGE = 1e-6
"""Fractions are written with six digits: by so much a spot may seem to reach beyond the picture."""


class SetUp(msgspec.Struct, frozen=True, kw_only=True):
    """What is remembered of a camera position: its ``name``, where the spots are, and the aims by target."""

    name: str
    spots: tuple[Spot, ...] = ()
    aims: Aims = {}


def set_up_folder(env: Mapping[str, str] | None = None) -> Path:
    """Where the operator's set-ups lie: ``set-ups`` beside the settings file."""
    return operator_file(os.environ if env is None else env).parent / "set-ups"


def set_up_path(name: str, env: Mapping[str, str] | None = None) -> Path:
    """The file that is meant: a path where it looks like one (``./bench.toml``), else a name in the folder.

    Raises SettingsError for a name that cannot be a file's.

    >>> set_up_path("bench by the doors", {"XDG_CONFIG_HOME": "/home/me/.config"}).as_posix()
    '/home/me/.config/stopkeeper/set-ups/bench by the doors.toml'
    >>> set_up_path("porch/bench.toml").as_posix()
    'porch/bench.toml'
    """
    if "/" in name or os.sep in name or name.casefold().endswith(".toml"):
        if "\0" in name:
            raise SettingsError("not a path", "set-up", "leave out the null character")
        return Path(name).expanduser()
    return set_up_folder(env) / f"{usable_file_name(name, 'set-up')}.toml"


def set_ups(env: Mapping[str, str] | None = None) -> tuple[str, ...]:
    """Names of the set-ups in the operator's folder, in order; none where there is no folder."""
    try:
        paths = [path for path in set_up_folder(env).iterdir() if path.suffix.casefold() == ".toml"]
    except OSError:
        return ()  # a folder that is not there, or not ours to read, holds no set-ups
    return tuple(sorted(path.stem for path in paths if not path.name.startswith(".") and path.is_file()))


def save_set_up(set_up: SetUp, path: Path) -> None:
    """Write a set-up, whole or not at all. Raises StopkeeperError where it cannot be written."""
    write_text(path, to_toml(set_up))


def load_set_up(path: Path) -> SetUp:
    """The set-up of one file. Raises SettingsError in one line for anything that is wrong with it."""
    return parse_set_up(read_text(path), str(path))


def parse_set_up(text: str, where: str) -> SetUp:
    """The set-up of a TOML text; ``where`` names the file in errors.

    >>> parse_set_up("name = 'bench'\\n[aims.sitter]\\nvalue = 48", "bench.toml").aims["sitter"].value
    48.0
    """
    raw = parse_toml(text, where)
    for key in raw:
        if key not in _KEYS:
            raise SettingsError(f"unknown key {printable(key)}", where, nearest(key, _KEYS))
    name = raw.get("name")
    if not isinstance(name, str):
        raise SettingsError("name is missing" if name is None else "name must be text", where, 'write name = "..."')
    spots = raw.get("spots", [])
    if not isinstance(spots, list):
        raise SettingsError("spots must be a list of tables", where, "write [[spots]] before each")
    word = usable_file_name(name, where)
    return SetUp(name=word, spots=_spots(spots, where), aims=parse_aims(raw.get("aims", {}), where))


def usable_file_name(name: str, where: str) -> str:
    """The name without needless spaces. Raises SettingsError for one that cannot be a file's.

    >>> usable_file_name("  bench  by the doors ", "set-up")
    'bench by the doors'
    """
    word = " ".join(name.split())
    if len(word) > LONGEST_NAME or not _PLAIN.fullmatch(word):
        todo = f"use 1 to {LONGEST_NAME} letters, digits, spaces, dots and dashes"
        raise SettingsError(f'"{printable(word)}" is not a usable name', where, todo)
    return word


def _spots(raw: list[Any], where: str) -> tuple[Spot, ...]:
    if len(raw) > MOST_SPOTS:
        raise SettingsError(f"there are {len(raw)} spots", where, f"{MOST_SPOTS} are the most")
    found: tuple[Spot, ...] = ()
    for number, table in enumerate(raw):
        spot = _spot(table, f"spots[{number}]", where)
        if any(other.name.casefold() == spot.name.casefold() for other in found):
            raise SettingsError(f"spots[{number}].name: {spot.name} is there twice", where, "rename one of them")
        found = (*found, spot)
    return found


def _spot(table: object, name: str, where: str) -> Spot:
    if not isinstance(table, dict):
        raise SettingsError(f"{name} must be a table", where, "write [[spots]]")
    for key in table:
        if key not in Spot.__struct_fields__:
            raise SettingsError(f"unknown key {name}.{printable(key)}", where, nearest(key, Spot.__struct_fields__))
    try:
        spot = msgspec.convert(table, Spot)
    except msgspec.ValidationError as error:
        head, _, path = str(error).partition(" - at `$.")
        said = f"{name}.{path.rstrip('`')}: {printable(head)}" if path else f"{name}: {head}"
        todo = f"use {', '.join(KINDS)}" if path.startswith("kind") else "give name, kind, x, y, width and height"
        raise SettingsError(said, where, todo) from None
    return _within(spot, name, where)


def _within(spot: Spot, name: str, where: str) -> Spot:
    """The spot with a usable name and inside the picture; a file that says otherwise is wrong, not bent to fit."""
    try:
        word = usable_name(spot.name)
    except UsageError as error:
        raise SettingsError(f"{name}.name: {error.what}", where, error.todo) from None
    for key in ("x", "y", "width", "height"):
        value, least = getattr(spot, key), SMALLEST if key in {"width", "height"} else 0.0
        if not isfinite(value) or not least - _EDGE <= value <= 1.0 + _EDGE:
            raise SettingsError(f"{name}.{key} is {value:g}", where, f"use {least:g} to 1, parts of the picture")
    for start, size in (("x", "width"), ("y", "height")):
        if getattr(spot, start) + getattr(spot, size) > 1.0 + 2 * _EDGE:
            raise SettingsError(f"{name}: {start} + {size} is above 1", where, "keep the spot inside the picture")
    return msgspec.structs.replace(spot, name=word)


def to_toml(set_up: SetUp) -> str:
    """The set-up as TOML; :func:`parse_set_up` gives it back.

    >>> from analysis.settings.aim_settings import AimChoice
    >>> door = Spot(name="doors", kind="let go", x=0.7, y=0.1, width=0.25, height=0.5)
    >>> print(to_toml(SetUp(name="bench", spots=(door,), aims={"sitter": AimChoice(complexion="dark")})))
    # A set-up of stopkeeper. Places and sizes of spots are parts of the picture, 0 to 1.
    name = "bench"
    <BLANKLINE>
    [[spots]]
    name = "doors"
    kind = "let go"
    x = 0.7
    y = 0.1
    width = 0.25
    height = 0.5
    <BLANKLINE>
    [aims."sitter"]
    complexion = "dark"
    <BLANKLINE>
    """
    lines = [
        "# A set-up of stopkeeper. Places and sizes of spots are parts of the picture, 0 to 1.",
        f"name = {_value(set_up.name)}",
    ]
    for spot in set_up.spots:
        lines += ["", "[[spots]]", *_pairs(msgspec.structs.asdict(spot))]
    for target, choice in set_up.aims.items():
        lines += ["", f"[aims.{_value(target)}]", *_pairs(msgspec.structs.asdict(choice))]
    return "\n".join(lines) + "\n"


def _pairs(table: Mapping[str, Any]) -> Iterable[str]:
    return (f"{key} = {_value(value)}" for key, value in table.items() if value is not None)


def _value(value: str | float) -> str:
    if isinstance(value, str):
        escaped = (f"\\u{ord(c):04X}" if ord(c) < 32 or ord(c) == 127 or c in '"\\' else c for c in value)
        return f'"{"".join(escaped)}"'
    return repr(round(float(value), 6))
