"""Where the files that ship with the program lie, in a checkout and in an installed wheel alike."""

from __future__ import annotations

from pathlib import Path

import analysis


def shipped(kind: str) -> Path:
    """The folder ``configs`` or ``recordings`` that came with this copy of the program."""
    package = Path(analysis.__file__).parent
    installed = package / "data" / kind
    return installed if installed.is_dir() else package.parent / kind
