"""Colour tables in files: .cube, and the Academy's .clf where OpenColorIO is installed."""

from __future__ import annotations

from pathlib import Path

import msgspec

from analysis.model.errors import SettingsError
from analysis.settings.table_clf import read_clf
from analysis.signal.tables import LookUpTable
from analysis.signal.tables_cube import parse_cube

LARGEST = 64 << 20
"""Bytes: a .cube file of 129 nodes an axis has about 58 million."""
_KINDS = (".cube", ".clf")


def load_table(path: Path) -> LookUpTable:
    """The table of a file, by its ending. Its title is the file's own where it has one, else the file's name.

    Raises SettingsError, one line with the file, where possible the line in it, and what to do.
    """
    kind, where = path.suffix.casefold(), str(path)
    if kind not in _KINDS:
        raise SettingsError("not a kind of table that can be read", where, f"use {' or '.join(_KINDS)}")
    raw = _bytes(path, where)
    if kind == ".clf":
        return read_clf(raw, where)
    # Remarks and titles may be in any old code page; keywords and numbers are plain.
    table = parse_cube(raw.decode("utf-8-sig", "replace"), where)
    return table if table.title else msgspec.structs.replace(table, title=path.name)


def _bytes(path: Path, where: str) -> bytes:
    try:
        if path.is_dir() or (path.exists() and not path.is_file()):
            raise SettingsError("not a file", where, "name a file with a table")
        with path.open("rb") as file:
            raw = file.read(LARGEST + 1)
    except OSError as error:
        raise SettingsError(error.strerror or "cannot be read", where, "check the path and its permissions") from None
    if len(raw) > LARGEST:
        raise SettingsError(f"larger than {LARGEST >> 20} MiB", where, "export a table of 65 nodes an axis or fewer")
    if not raw.strip():
        raise SettingsError("the file is empty", where, "export the table again")
    if b"\0" in raw:
        raise SettingsError("not plain text", where, "save it as text in UTF-8, or check that this is a table")
    return raw
