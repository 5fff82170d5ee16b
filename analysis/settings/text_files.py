"""Small text files of the operator: read with a limit, written so that a crash leaves the old one or the new one."""

from __future__ import annotations

import contextlib
import os
import tempfile
import tomllib
from pathlib import Path
from typing import Any

from analysis.model.errors import SettingsError, StopkeeperError

LARGEST = 1 << 20


def parse_toml(text: str, where: str) -> dict[str, Any]:
    """The tables of a TOML text. Raises SettingsError in one line; ``where`` names the file in it.

    >>> parse_toml("iso = 800", "bench.toml")
    {'iso': 800}
    """
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        said = str(error) if isinstance(error, ValueError) else "nested too deeply"
        raise SettingsError(f"not valid TOML: {said}", where, "mend that line") from None


def read_text(path: Path) -> str:
    """The text of a small file. Raises SettingsError where it cannot be read, is too large, or is not UTF-8."""
    try:
        with path.open("rb") as file:
            raw = file.read(LARGEST + 1)
        if len(raw) > LARGEST:
            raise SettingsError("too large for a configuration file", str(path), "check the path")
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise SettingsError("not UTF-8 text", str(path), "save it as UTF-8") from None
    except OSError as error:
        raise SettingsError(
            error.strerror or "cannot be read", str(path), "check the path and its permissions"
        ) from None


def write_text(path: Path, text: str) -> None:
    """Write a whole file at once: into a new file beside it, to the disk, then in its place.

    Missing folders are made. Raises StopkeeperError (a failed job) where the disk or its owner refuse.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
        try:
            with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
            Path(name).chmod(0o644)
            Path(name).replace(path)
        except BaseException:
            with contextlib.suppress(OSError):
                Path(name).unlink()
            raise
        _settle(path.parent)
    except OSError as error:
        raise StopkeeperError(
            f"cannot be written: {error.strerror or error}", str(path), "check the disk and your permissions"
        ) from None


def _settle(folder: Path) -> None:
    """Make the new name last, where the system lets a folder be synchronised."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
