"""A disk that refuses SQLite's writes from a chosen call on, as a full one does.

SQLite lets a program replace the system calls of its Unix layer: sqlite3_vfs.xSetSystemCall (sqlite.org, c3ref/vfs).
The library that Python's own module has loaded is asked, so nothing of the program under test is replaced.
"""

from __future__ import annotations

import _sqlite3
import ctypes
import errno
from collections.abc import Callable
from pathlib import Path
from types import TracebackType

_NAMES = (b"write", b"pwrite", b"pwrite64")
_WRITE = ctypes.CFUNCTYPE(ctypes.c_ssize_t, ctypes.c_int, ctypes.c_void_p, ctypes.c_size_t, use_errno=True)
_PWRITE = ctypes.CFUNCTYPE(
    ctypes.c_ssize_t, ctypes.c_int, ctypes.c_void_p, ctypes.c_size_t, ctypes.c_int64, use_errno=True
)
_SET = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_void_p, ctypes.c_char_p, ctypes.c_void_p)


class _Vfs(ctypes.Structure):
    """struct sqlite3_vfs (sqlite3.h), as far as the calls that are replaced."""

    _fields_ = (
        ("version", ctypes.c_int), ("file_size", ctypes.c_int), ("longest_path", ctypes.c_int),
        ("next", ctypes.c_void_p), ("name", ctypes.c_char_p), ("data", ctypes.c_void_p),
        ("methods", ctypes.c_void_p * 12), ("time64", ctypes.c_void_p), ("set_system_call", _SET),
    )  # fmt: skip


def _library() -> ctypes.CDLL | None:
    maps = Path("/proc/self/maps")
    if not maps.exists():
        return None
    paths = {line.split()[-1] for line in maps.read_text().splitlines() if "libsqlite3.so" in line}
    for path in [*sorted(paths), str(_sqlite3.__file__)]:
        library = ctypes.CDLL(path)
        if hasattr(library, "sqlite3_vfs_find"):
            return library
    return None


class FailingDisk:
    """Between ``with`` and its end SQLite's writes are counted; from :meth:`full_from` on they find no room.

    RuntimeError where SQLite cannot be reached.
    """

    def __init__(self) -> None:
        library = _library()
        if library is None:
            raise RuntimeError("this Python's SQLite is built in without its functions showing")
        find = library.sqlite3_vfs_find
        find.restype = ctypes.POINTER(_Vfs)
        self._vfs = find(None)
        self._libc = ctypes.CDLL(None, use_errno=True)
        self._libc.write.restype = self._libc.pwrite.restype = ctypes.c_ssize_t
        self._libc.write.argtypes = [ctypes.c_int, ctypes.c_void_p, ctypes.c_size_t]
        self._libc.pwrite.argtypes = [ctypes.c_int, ctypes.c_void_p, ctypes.c_size_t, ctypes.c_int64]
        self._calls: list[object] = [_WRITE(self._write), _PWRITE(self._pwrite), _PWRITE(self._pwrite)]
        self.writes, self.refused, self._from, self._code = 0, 0, 0, errno.ENOSPC

    def full_from(self, number: int, code: int = errno.ENOSPC) -> None:
        """The ``number``-th write from now on, and all after it, find no room, or fail with another ``code``."""
        self.writes = self.refused = 0
        self._from, self._code = number, code

    def room(self) -> None:
        """There is room again."""
        self._from = 0

    def __enter__(self) -> FailingDisk:
        for name, call in zip(_NAMES, self._calls, strict=True):
            self._set(name, ctypes.cast(call, ctypes.c_void_p))  # type: ignore[arg-type]
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, where: TracebackType | None
    ) -> None:
        for name in _NAMES:
            self._set(name, None)

    def _set(self, name: bytes, call: ctypes.c_void_p | None) -> None:
        self._vfs.contents.set_system_call(ctypes.cast(self._vfs, ctypes.c_void_p), name, call)

    def _write(self, file: int, data: int, length: int) -> int:
        return self._done(lambda: self._libc.write(file, data, length))

    def _pwrite(self, file: int, data: int, length: int, offset: int) -> int:
        return self._done(lambda: self._libc.pwrite(file, data, length, offset))

    def _done(self, write: Callable[[], int]) -> int:
        self.writes += 1
        if self._from and self.writes >= self._from:
            self.refused += 1
            ctypes.set_errno(self._code)
            return -1
        return write()
