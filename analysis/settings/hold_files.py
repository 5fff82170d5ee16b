"""Holds as files: one JSON object each, in the state folder beside the journal, taken up again in every session.

For example::

    {"stopkeeper_hold": 1, "name": "bench by the doors", "at": {"monotonic": 0.0, "utc": 1790000000.0},
     "feed": "/dev/video0", "reading": {...}, "picture": {"width": 160, "height": 90, "rgb": "..."},
     "controls": {"nd_stops": 6.0, ...}}

``reading`` is the object of ``stopkeeper read --json``; ``rgb`` is R'G'B', eight bits each, row by row, in base64.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple

import msgspec

from analysis.measure.spot_edit import printable
from analysis.model.controls import Controls
from analysis.model.errors import SettingsError
from analysis.model.hold import Hold, SmallPicture
from analysis.model.instant import Instant
from analysis.model.reading import Reading, StopsSpread
from analysis.settings.nearest import nearest
from analysis.settings.places import state_folder
from analysis.settings.setup_files import usable_file_name
from analysis.settings.text_files import read_text, write_text

VERSION = 1
"""Of the form of a hold's file; a file of another one is refused."""
MOST_HOLDS = 100
"""Holds that are taken up from the folder, the newest first."""
LARGEST_SIDE = 320
"""Pixels across, and down, of a hold's picture at most."""
_MOST_BINS, _MOST_SITTERS, _LONGEST_FEED = 2048, 64, 1024


class _HoldFile(msgspec.Struct, frozen=True, kw_only=True):
    stopkeeper_hold: int
    name: str
    at: Instant
    feed: str
    reading: Reading
    picture: SmallPicture | None = None
    controls: Controls | None = None


class HoldsFound(NamedTuple):
    """The holds of a folder, the newest first, and a line for every file that could not be taken up."""

    holds: tuple[Hold, ...]
    troubles: tuple[str, ...]


def hold_folder(env: Mapping[str, str] | None = None) -> Path:
    """Where holds lie (XDG base directories).

    >>> hold_folder({"XDG_STATE_HOME": "/var/state"}).as_posix()
    '/var/state/stopkeeper/holds'
    """
    return state_folder(os.environ if env is None else env) / "holds"


def hold_path(name: str, env: Mapping[str, str] | None = None) -> Path:
    """The file of a hold. Raises SettingsError for a name that cannot be a file's.

    >>> hold_path("bench by the doors", {"XDG_STATE_HOME": "/var/state"}).as_posix()
    '/var/state/stopkeeper/holds/bench by the doors.json'
    """
    return hold_folder(env) / f"{usable_file_name(name, 'hold')}.json"


def to_json(hold: Hold) -> str:
    """A hold as the text of its file; :func:`parse_hold` gives it back."""
    parts = {name: getattr(hold, name) for name in Hold.__struct_fields__}
    # A number of numpy's that found its way into a reading is a number all the same.
    return msgspec.json.encode(_HoldFile(stopkeeper_hold=VERSION, **parts), enc_hook=float).decode() + "\n"


def save_hold(hold: Hold, path: Path) -> None:
    """Write a hold, whole or not at all. Raises StopkeeperError where it cannot be written."""
    write_text(path, to_json(hold))


def load_hold(path: Path) -> Hold:
    """The hold of one file. Raises SettingsError in one line for anything that is wrong with it."""
    return parse_hold(read_text(path), str(path))


def load_named(name: str, env: Mapping[str, str] | None = None) -> Hold:
    """The hold of that name in the folder. Raises SettingsError, with the nearest name, where there is none."""
    path = hold_path(name, env)
    if not path.is_file():
        known = [each.stem for each in _files(hold_folder(env))]
        todo = nearest(path.stem, known) if known else "there are none yet: keep one with k in the watch"
        raise SettingsError(f"no hold {path.stem}", "hold", todo)
    return _by_file(path)


def load_holds(folder: Path) -> HoldsFound:
    """All holds of a folder that can be used, the newest first; what cannot is told, never in the way of the rest."""
    holds: list[Hold] = []
    troubles: list[str] = []
    for path in _files(folder):
        try:
            hold = _by_file(path)
            if any(hold.name.casefold() == other.name.casefold() for other in holds):
                raise SettingsError(f"there are two holds {hold.name}", str(path), "rename one of them")
        except SettingsError as error:
            troubles.append(error.line())
        else:
            holds.append(hold)
    holds.sort(key=lambda each: each.at.utc, reverse=True)
    if len(holds) > MOST_HOLDS:
        troubles.append(f"{folder}: {len(holds)} holds, of which the newest {MOST_HOLDS} are taken up; forget some")
    return HoldsFound(tuple(holds[:MOST_HOLDS]), tuple(troubles))


def _by_file(path: Path) -> Hold:
    """The hold of a file of the folder, under the file's own name: who copies or renames it there means that one."""
    return msgspec.structs.replace(load_hold(path), name=usable_file_name(path.stem, str(path)))


def _files(folder: Path) -> list[Path]:
    """The files of holds, at most ten times as many as are taken up, the newest first."""
    try:
        paths = [path for path in folder.iterdir() if path.suffix == ".json" and not path.name.startswith(".")]
        return sorted(paths, key=lambda path: path.stat().st_mtime, reverse=True)[: 10 * MOST_HOLDS]
    except OSError:
        return []  # a folder that is not there, or not ours to read, holds none


def parse_hold(text: str, where: str) -> Hold:
    """The hold of a JSON text; ``where`` names the file in errors.

    >>> parse_hold('{"stopkeeper_hold": 7}', "bench.json")
    Traceback (most recent call last):
    ...
    analysis.model.errors.SettingsError: bench.json: a hold of form 7; this program reads form 1
    """
    try:
        raw = msgspec.json.decode(text)
    except (msgspec.MsgspecError, RecursionError) as error:
        raise SettingsError(f"not JSON: {error}", where, "keep the hold again") from None
    form = raw.get("stopkeeper_hold") if isinstance(raw, dict) else None
    if form is None:
        raise SettingsError("not a hold", where, "keep one with k in the watch")
    if form != VERSION:
        raise SettingsError(f"a hold of form {printable(str(form))}", where, f"this program reads form {VERSION}")
    try:
        read = msgspec.convert(raw, _HoldFile)
    except (msgspec.ValidationError, RecursionError) as error:
        head, _, at = str(error).partition(" - at `$.")
        raise SettingsError(f"{printable(at.rstrip('`'))}: {head}" if at else head, where, "keep it again") from None
    unknown = _unknown(raw, msgspec.to_builtins(read))
    if unknown is not None:
        raise SettingsError(f"unknown key {printable(unknown)}", where, "keep the hold again with this program")
    _within(read, where)
    # What the monotonic clock of another session said means nothing here.
    kept = Instant(0.0, read.at.utc)
    name = usable_file_name(read.name, where)
    return Hold(name=name, at=kept, feed=read.feed, reading=read.reading, picture=read.picture, controls=read.controls)


def _unknown(raw: Any, made: Any, path: str = "") -> str | None:
    """The first key of ``raw`` that did not find a place in what was made of it."""
    if isinstance(raw, dict) and isinstance(made, dict):
        for key, value in raw.items():
            if key not in made:
                return f"{path}{key}"
            found = _unknown(value, made[key], f"{path}{key}.")
            if found is not None:
                return found
    elif isinstance(raw, list) and isinstance(made, list | tuple):
        for number, pair in enumerate(zip(raw, made, strict=False)):
            found = _unknown(*pair, f"{path}{number}.")
            if found is not None:
                return found
    return None


def _within(read: _HoldFile, where: str) -> None:
    """Refuses sizes that no hold of this program has: they would make every picture slow, or fall over later."""
    picture, reading, todo = read.picture, read.reading, "keep the hold again"
    if picture is not None:
        size = f"{picture.width}x{picture.height}"
        if not (1 <= picture.width <= LARGEST_SIDE and 1 <= picture.height <= LARGEST_SIDE):
            raise SettingsError(f"picture of {size}", where, f"{LARGEST_SIDE} pixels a side are the most")
        if len(picture.rgb) != picture.width * picture.height * 3:
            raise SettingsError(f"picture.rgb has {len(picture.rgb)} bytes, not those of {size}", where, todo)
    for name in ("spread", "peaks"):
        table = getattr(reading, name)
        if isinstance(table, StopsSpread) and not (
            0.001 <= table.step <= 10.0 and 2 <= len(table.counts) <= _MOST_BINS
        ):
            raise SettingsError(f"reading.{name} is no table of stops", where, todo)
    if max(len(reading.sitters or ()), len(reading.spots or {})) > _MOST_SITTERS:
        raise SettingsError(f"more than {_MOST_SITTERS} sitters or spots", where, todo)
    if min(reading.picture.width, reading.picture.height, *reading.picture.active[2:]) < 1:
        raise SettingsError("reading.picture has no size", where, todo)
    if len(read.feed) > _LONGEST_FEED or not read.feed.isprintable():
        raise SettingsError("feed is no address", where, todo)
