"""Curves in files: the shipped ones, the operator's own, and those measured with a camera."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator, Mapping
from pathlib import Path

import msgspec

from analysis.model.errors import SettingsError
from analysis.settings.camera_files import camera_curve, camera_folder
from analysis.settings.load import operator_file
from analysis.settings.places import shipped
from analysis.settings.text_files import read_text
from analysis.signal.curves import Curve, adopt, built_in
from analysis.signal.curves.written import parse_csv, parse_toml

_NAME = re.compile(r"[a-z0-9][a-z0-9._-]{0,63}")
_MOST_FILES = 1000


class CurveFile(msgspec.Struct, frozen=True, kw_only=True):
    """A curve in a file: either the curve, or why the file cannot be used. ``own`` is the operator's."""

    name: str
    path: Path
    own: bool
    curve: Curve | None = None
    fault: SettingsError | None = None


def curve_folder(env: Mapping[str, str] | None = None) -> Path:
    """Where the operator's own curves lie: ``curves`` beside the settings file."""
    return operator_file(os.environ if env is None else env).parent / "curves"


def checked_name(name: str, where: str) -> str:
    """The name in small letters. Raises SettingsError for one that could not be typed after ``--curve``.

    >>> checked_name("Boathouse-Log", "a curve")
    'boathouse-log'
    """
    word = name.strip().casefold()
    if not _NAME.fullmatch(word):
        raise SettingsError("not a usable name", where, "use letters, digits, dot, dash and underscore")
    return word


def curve_files(env: Mapping[str, str] | None = None) -> tuple[CurveFile, ...]:
    """Every curve file there is, in the order of names; one name once.

    The operator's file stands before a shipped one of the same name, a written curve before a camera's.
    A file that cannot be used comes with its fault.
    """
    found: dict[str, CurveFile] = {}
    for file in _all(env):
        found.setdefault(file.name, file)
    return tuple(found[name] for name in sorted(found))


def adopt_curves(env: Mapping[str, str] | None = None) -> tuple[CurveFile, ...]:
    """Make every usable curve file known by its name, and every other one known as faulty; returns them all."""
    files = curve_files(env)
    faults = {file.name: file.fault for file in files if file.fault and file.name not in built_in()}
    adopt([file.curve for file in files if file.curve], faults)
    return files


def _all(env: Mapping[str, str] | None) -> Iterator[CurveFile]:
    cameras = camera_folder(env)
    for folder, own in ((curve_folder(env), True), (cameras, True), (shipped("configs") / "curves", False)):
        for path in _files(folder):
            if folder != cameras or path.suffix.casefold() == ".toml":
                yield _load(path, own, of_camera=folder == cameras)


def _files(folder: Path) -> list[Path]:
    try:
        paths = sorted(folder.iterdir())
    except OSError:
        return []  # a folder that is not there, or not ours to read, holds no curves
    usable = [path for path in paths if path.suffix.casefold() in {".toml", ".csv"} and path.is_file()]
    return [path for path in usable if not path.name.startswith(".")][:_MOST_FILES]


def _load(path: Path, own: bool, of_camera: bool) -> CurveFile:
    name = path.stem.casefold()
    try:
        checked_name(name, str(path))
        if name in built_in():
            raise SettingsError("its name belongs to a built-in curve", str(path), "give the file another name")
        made = camera_curve(path) if of_camera else load_curve(path, name)
    except SettingsError as error:
        return CurveFile(name=name, path=path, own=own, fault=error)
    return CurveFile(name=name, path=path, own=own, curve=made)


def load_curve(path: Path, name: str) -> Curve:
    """The curve of one TOML or CSV file. Raises SettingsError in one line, with the place."""
    text = read_text(path)
    parse = parse_csv if path.suffix.casefold() == ".csv" else parse_toml
    return parse(text, name, str(path))
