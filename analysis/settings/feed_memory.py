"""What line-ups have settled about feeds: their range, matrix and curve, kept from one session to the next."""

from __future__ import annotations

import json
import os
import tomllib
from collections.abc import Mapping
from pathlib import Path

import msgspec

from analysis.model.errors import SettingsError
from analysis.model.frame import Encoding, Matrix, Range
from analysis.settings.load import operator_file
from analysis.settings.text_files import read_text, write_text

_HEAD = "# Written by `stopkeeper lineup FEED --keep`: what a true line-up showed of each feed.\n"


class SettledEncoding(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How a feed writes light, as a line-up that was true has shown it; ``curve`` is None where it said nothing."""

    range: Range
    matrix: Matrix
    curve: str | None = None


def memory_file(env: Mapping[str, str] | None = None) -> Path:
    """Where it is kept: ``feeds.toml`` beside the settings file."""
    return operator_file(os.environ if env is None else env).parent / "feeds.toml"


def settled(feed: str, env: Mapping[str, str] | None = None) -> SettledEncoding | None:
    """What a line-up settled about a feed, None where none was kept. ``feed`` is its masked address.

    Raises SettingsError in one line when the file cannot be used.
    """
    return _all(memory_file(env)).get(feed)


def keep(feed: str, encoding: Encoding, env: Mapping[str, str] | None = None) -> Path:
    """Remember the encoding with which a line-up was true; returns the file. Raises StopkeeperError."""
    path = memory_file(env)
    known = _all(path)
    known[feed] = SettledEncoding(range=encoding.range, matrix=encoding.matrix, curve=encoding.curve)
    lines = [_HEAD]
    for name, found in sorted(known.items()):
        lines.append(f"\n[{json.dumps(name, ensure_ascii=False)}]\n")
        pairs = (("range", found.range), ("matrix", found.matrix), ("curve", found.curve))
        lines += [f"{key} = {json.dumps(value, ensure_ascii=False)}\n" for key, value in pairs if value is not None]
    write_text(path, "".join(lines))
    return path


def _all(path: Path) -> dict[str, SettledEncoding]:
    if not path.is_file():
        return {}
    try:
        return msgspec.convert(tomllib.loads(read_text(path)), dict[str, SettledEncoding])
    except (tomllib.TOMLDecodeError, msgspec.ValidationError) as error:
        raise SettingsError(str(error), str(path), "mend it, or delete it and line up again") from None
