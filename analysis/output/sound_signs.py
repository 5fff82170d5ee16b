"""What changes when a sound device or a sound server comes or goes: cheap to look at, so it can be looked at often."""

from __future__ import annotations

import contextlib
from collections.abc import Mapping
from pathlib import Path
from typing import TypeAlias

DEVICES = Path("/dev/snd")
_SERVERS = ("pipewire-0", "pulse/native")

Signs: TypeAlias = tuple[tuple[str, int, int], ...]


def signs(environment: Mapping[str, str], devices: Path = DEVICES) -> Signs:
    """Linux: the nodes of the sound devices and the sockets of sound servers, each with what marks it as the same one.

    Empty where there is nothing to look at; two looks that differ say that another try is worth while.
    """
    paths: list[Path] = []
    with contextlib.suppress(OSError):
        paths += sorted(devices.iterdir())
    if runtime := environment.get("XDG_RUNTIME_DIR"):
        paths += [Path(runtime, name) for name in _SERVERS]
    found = []
    for path in paths:
        with contextlib.suppress(OSError):
            known = path.stat()
            # A node made anew is another; so is one whose owner or permissions were set after it was made.
            found.append((str(path), known.st_ino, known.st_ctime_ns))
    return tuple(found)
