"""Where the files that ship with the program lie, in a checkout and in an installed wheel alike."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import analysis


def shipped(kind: str) -> Path:
    """The folder ``configs`` or ``recordings`` that came with this copy of the program."""
    package = Path(analysis.__file__).parent
    installed = package / "data" / kind
    return installed if installed.is_dir() else package.parent / kind


def state_folder(env: Mapping[str, str]) -> Path:
    """Where the program keeps what it knows from one session to the next (XDG base directories).

    >>> state_folder({"XDG_STATE_HOME": "/var/state"}).as_posix()
    '/var/state/stopkeeper'
    """
    base = env.get("XDG_STATE_HOME") or str(Path(env.get("HOME", "~")).expanduser() / ".local" / "state")
    return Path(base) / "stopkeeper"
