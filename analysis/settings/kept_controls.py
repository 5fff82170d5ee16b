"""Controls that were changed in the watch, kept for each feed from one session to the next.

They lie in the state folder, one file for a feed and the controls file it was started with, in the words of a
controls file. The newer of the two counts: a file the operator edited after the last change in the watch is taken as
it is, and the note says which it was.
"""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import msgspec

from analysis.exposure.policy import Policy
from analysis.model.camera import CameraProfile
from analysis.model.controls import ControlLimits, Controls
from analysis.model.errors import SettingsError, StopkeeperError
from analysis.settings.camera_files import toml_value
from analysis.settings.control_files import ControlFile, camera_named, load_controls
from analysis.settings.places import state_folder
from analysis.settings.policy_files import load_policy, policy_names

_HEAD = """\
# What was set in the watch when it was last changed there. It is taken up again with the same feed, unless the file
# it began with was edited later.
"""


class TakenControls(msgspec.Struct, frozen=True, kw_only=True):
    """What a watch begins with.

    ``file`` is None where nobody told what is set. ``camera`` is the profile it names and ``policies`` are all there
    are, loaded. ``note`` says in one line which of two was taken, or what could not be. ``kept`` is where changes are
    to be written.
    """

    file: ControlFile | None
    camera: CameraProfile | None
    policies: dict[str, Policy]
    kept: Path
    note: str | None = None


def take_controls(
    feed: str, named: Path | None = None, camera: str | None = None, env: Mapping[str, str] | None = None
) -> TakenControls:
    """The controls a watch of ``feed`` (its masked address) begins with: the file that was ``named``, or what was kept.

    ``camera`` is the profile of the settings, for where the controls name none. Raises SettingsError or
    UsageError in one line where what the operator named cannot be used; what was kept by itself is left out then, and
    the note says so.
    """
    env = os.environ if env is None else env
    own = load_controls(named) if named is not None else None
    place = kept_path(feed, named, env)
    found, notes = _newest(feed, named, place, env)
    kept: ControlFile | None = None
    if found is not None and named is not None and _changed(named) > _changed(found):
        notes.append(f"controls as {named.name} says, which is newer than what was kept")
    elif found is not None:
        try:
            kept = load_controls(found)
            _named_things(kept, camera, env)
        except StopkeeperError as error:
            kept = None
            notes.append(f"kept controls left out: {error.line()}")
        else:
            notes.append("controls as last changed in the watch" + (f", not as {named.name} says" if named else ""))
    file = kept or own
    profile, policies = _named_things(file or ControlFile(), camera, env, str(named) if named else "--controls")
    return TakenControls(file=file, camera=profile, policies=policies, kept=place, note="; ".join(notes) or None)


def kept_folder(env: Mapping[str, str]) -> Path:
    """Where kept controls lie (XDG base directories).

    >>> kept_folder({"XDG_STATE_HOME": "/var/state"}).as_posix()
    '/var/state/stopkeeper/controls'
    """
    return state_folder(env) / "controls"


def kept_path(feed: str, named: Path | None, env: Mapping[str, str]) -> Path:
    """The file in which changes are kept for a feed that was started with a controls file, or with none.

    >>> kept_path("/dev/video0", None, {"XDG_STATE_HOME": "/var/state"}).name
    'dev-video0-03e82b3b-own.toml'
    """
    begun = "own" if named is None else _mark(str(named.expanduser().resolve()))
    return kept_folder(env) / f"{_stem(feed)}-{begun}.toml"


def to_toml(file: ControlFile) -> str:
    """A controls file as TOML, only what differs from what is assumed anyway; it reads back the same.

    >>> print(to_toml(ControlFile(controls=Controls(nd_stops=6.0), policy="open-sky")).partition("later.\\n")[2])
    policy = "open-sky"
    <BLANKLINE>
    [controls]
    nd_stops = 6.0
    iso = 800.0
    shutter_angle = 180.0
    rate = 25.0
    <BLANKLINE>
    """
    lines = [_HEAD.rstrip("\n")]
    lines += [f"{key} = {toml_value(value)}" for key in ("camera", "policy") if (value := getattr(file, key))]
    known = _pairs(file.controls, {"key_share": Controls().key_share})
    if file.shutter_seconds is not None:
        time = f'shutter = "1/{1.0 / file.shutter_seconds:.10g}"'
        known = [time if line.startswith("shutter_angle") else line for line in known]
    lines += ["", "[controls]", *known]
    limits = _pairs(file.limits, msgspec.structs.asdict(ControlLimits()))
    if limits:
        lines += ["", "[limits]", *limits]
    return "\n".join(lines) + "\n"


def _pairs(struct: msgspec.Struct, left_out: Mapping[str, Any]) -> list[str]:
    """Keys and values, but for those that are what they are without being said."""
    found = []
    for key, value in msgspec.structs.asdict(struct).items():
        if value is None or (key in left_out and left_out[key] == value):
            continue
        found.append(f"{key} = {toml_value(value)}")
    return found


def _named_things(
    file: ControlFile, camera: str | None, env: Mapping[str, str], where: str = "--controls"
) -> tuple[CameraProfile | None, dict[str, Policy]]:
    """The camera profile and all policies; one that the file names by its path goes by that path."""
    name = file.camera or camera
    policies = {}
    for each in policy_names(env):
        try:
            policies[each] = load_policy(each, env)
        except SettingsError:
            # One that is broken stops only who asks for it by name.
            if each == file.policy:
                raise
    if file.policy is not None and file.policy not in policies:
        policies[file.policy] = load_policy(file.policy, env, where)
    return camera_named(name, env, where if file.camera else "meter.camera") if name else None, policies


def _newest(feed: str, named: Path | None, place: Path, env: Mapping[str, str]) -> tuple[Path | None, list[str]]:
    """What was kept for this feed: with the same controls file, or the newest where none is named now."""
    try:
        if named is not None:
            return (place if place.is_file() else None), []
        stem = re.escape(_stem(feed))
        files = [path for path in place.parent.iterdir() if re.fullmatch(rf"{stem}-[0-9a-z]+\.toml", path.name)]
        return max(files, key=_changed, default=None), []
    except FileNotFoundError:
        return None, []
    except OSError as error:
        return None, [f"kept controls left out: {place.parent}: {error.strerror or error}"]


def _changed(path: Path) -> float:
    try:
        return path.stat().st_mtime
    except OSError:
        return 0.0


def _stem(feed: str) -> str:
    words = re.sub(r"[^0-9a-z]+", "-", feed.casefold()).strip("-")[:40].rstrip("-")
    return f"{words or 'feed'}-{_mark(feed)}"


def _mark(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogateescape")).hexdigest()[:8]
