"""A file that only keeps room: given up when the disk is full, so that what happens last can still be written."""

from __future__ import annotations

import contextlib
import os
import shutil
from pathlib import Path

RESERVE_BYTES = 16 << 20
_TIMES = 4
"""Kept only where so many times its size is free: it must not be what fills the disk."""


class Reserve:
    """The reserve beside one journal. :meth:`keep` now and then, :meth:`give_up` when nothing else can be written."""

    def __init__(self, journal: Path, size: int = RESERVE_BYTES) -> None:
        self.path, self.size = journal.with_name(journal.name + ".reserve"), size

    def keep(self) -> bool:
        """Have the file there if the disk has the room; False when it has not, or will not say."""
        try:
            if self.path.stat().st_size >= self.size:
                return True
        except FileNotFoundError:
            pass
        except OSError:
            return False
        try:
            if shutil.disk_usage(self.path.parent).free < _TIMES * self.size:
                return False
            self._make()
        except OSError:
            self.give_up()
            return False
        return True

    def give_up(self) -> bool:
        """Delete it; whether that made any room."""
        with contextlib.suppress(OSError):
            held = self.path.stat().st_blocks > 0
            self.path.unlink()
            return held
        return False

    def _make(self) -> None:
        file = os.open(self.path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
        try:
            if hasattr(os, "posix_fallocate"):
                os.posix_fallocate(file, 0, self.size)
            else:
                os.write(file, bytes(self.size))
            os.fsync(file)
        finally:
            os.close(file)
