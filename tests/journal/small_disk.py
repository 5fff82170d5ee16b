"""A disk of a few hundred kilobytes that a test can fill and empty: a mount for root, else nothing."""

from __future__ import annotations

import contextlib
import os
import subprocess
from collections.abc import Iterator
from pathlib import Path


def can_mount(folder: Path) -> bool:
    """Whether this process may mount a small file system, tried once in ``folder``."""
    if os.geteuid() != 0:
        return False
    with contextlib.suppress(OSError, subprocess.SubprocessError), small_disk(folder / "trial", 64):
        return True
    return False


@contextlib.contextmanager
def small_disk(point: Path, kilobytes: int) -> Iterator[Path]:
    """A file system in memory of that size; SubprocessError where it cannot be mounted."""
    point.mkdir()
    size = f"size={kilobytes}k"
    subprocess.run(
        ["mount", "-t", "tmpfs", "-o", size, "tmpfs", str(point)], check=True, capture_output=True, timeout=20
    )
    try:
        yield point
    finally:
        subprocess.run(["umount", "-l", str(point)], check=True, capture_output=True, timeout=20)


def remount(point: Path, how: str) -> None:
    """Mount it anew, ``ro`` or ``rw``."""
    subprocess.run(["mount", "-o", f"remount,{how}", str(point)], check=True, capture_output=True, timeout=20)


def fill(folder: Path, leave: int = 0) -> Path:
    """Fill the file system with a file, leaving ``leave`` bytes."""
    path = folder / "filler"
    with path.open("wb", buffering=0) as file:
        with contextlib.suppress(OSError):
            while True:
                file.write(bytes(4096))
        file.truncate(max(0, file.tell() - leave))
    return path
