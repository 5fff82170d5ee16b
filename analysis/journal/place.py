"""Where the journal lies: its folder, the file system under it, and the lock that keeps it to one writer."""

from __future__ import annotations

import contextlib
import errno
import os
import sys
from collections.abc import Mapping
from pathlib import Path

from analysis.model.errors import JournalError
from analysis.settings.places import state_folder

_NETWORK = {
    "nfs", "nfs4", "cifs", "smb3", "smbfs", "9p", "afs", "ceph", "glusterfs", "lustre", "ncpfs", "davfs",
    "gpfs", "beegfs", "ocfs2", "gfs2", "drvfs",
}  # fmt: skip
_LOCAL_FUSE = {"fuseblk", "fuse.fuse-overlayfs"}
_MOUNTS = Path("/proc/self/mountinfo")


def default_path(env: Mapping[str, str]) -> Path:
    """Where the journal lies when nobody says otherwise (XDG base directories).

    >>> default_path({"XDG_STATE_HOME": "/var/state"}).as_posix()
    '/var/state/stopkeeper/journal.db'
    """
    return state_folder(env) / "journal.db"


def file_system(path: Path, mountinfo: str) -> str | None:
    """The kind of file system a path lies on, by the text of ``/proc/self/mountinfo``; None when it does not say.

    >>> text = "22 1 8:1 / / rw - ext4 /dev/sda1 rw\\n40 22 0:30 / /mnt/my\\\\040share rw shared:1 - nfs4 nas:/x rw"
    >>> file_system(Path("/mnt/my share/journal.db"), text), file_system(Path("/home"), text)
    ('nfs4', 'ext4')
    """
    best, found = -1, None
    for line in mountinfo.splitlines():
        fields, _, source = line.partition(" - ")
        parts, kinds = fields.split(), source.split()
        if len(parts) < 5 or not kinds:
            continue
        point = Path(_unescaped(parts[4]))
        # Of two mounts on one point the later covers the earlier.
        if path.is_relative_to(point) and len(point.parts) >= best:
            best, found = len(point.parts), kinds[0]
    return found


def is_network(kind: str | None) -> bool:
    """Whether a kind of file system is a network share, where several machines could write.

    Foreign file systems run by a program (FUSE) count, because most of them are shares, except
    those known to be local.

    >>> is_network("nfs4"), is_network("fuse.sshfs"), is_network("fuseblk"), is_network("ext4"), is_network(None)
    (True, True, False, False, False)
    """
    if kind is None or kind in _LOCAL_FUSE:
        return False
    return kind in _NETWORK or kind.startswith("fuse")


def refuse_network(path: Path, mountinfo: str | None = None) -> None:
    """Raises JournalError when the path lies on a network share."""
    if mountinfo is None:
        with contextlib.suppress(OSError):
            mountinfo = _MOUNTS.read_text(encoding="utf-8", errors="replace")
    kind = file_system(Path(os.path.realpath(path)), mountinfo or "")
    if is_network(kind):
        raise JournalError(
            f"this is a network share ({kind}), where a journal is lost sooner or later",
            str(path),
            "keep it on a disk of this machine",
        )


def make_folder(folder: Path) -> None:
    """Make a folder and those above it, so that a power cut right after leaves them there. OSError when refused."""
    missing = [each for each in (folder, *folder.parents) if not each.exists()]
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    if sys.platform != "win32":
        for each in missing:
            # A name in a folder is on the disk when the folder is. One that may not be read cannot be asked for it.
            with contextlib.suppress(PermissionError):
                above = os.open(each.parent, os.O_RDONLY | os.O_CLOEXEC)
                try:
                    os.fsync(above)
                finally:
                    os.close(above)


class WriterLock:
    """Keeps a journal to one writer; the system lets it go when the process ends, however it ends."""

    def __init__(self, path: Path) -> None:
        """Take the lock beside ``path``. Raises JournalError when somebody else has it, OSError when it cannot be made.

        The file stays after the end: removing it would let two writers lock two files of one name.
        """
        self._file = os.open(path.with_name(path.name + ".lock"), os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
        try:
            _lock(self._file)
        except OSError as error:
            os.close(self._file)
            if error.errno in (errno.EACCES, errno.EAGAIN, errno.EDEADLK):
                raise JournalError(
                    "another stopkeeper writes this journal", str(path), "end that one, or name another file"
                ) from None
            raise

    def release(self) -> None:
        """Let another writer have it."""
        if self._file >= 0:
            os.close(self._file)
            self._file = -1


def _unescaped(text: str) -> str:
    for code, plain in (("\\040", " "), ("\\011", "\t"), ("\\012", "\n"), ("\\134", "\\")):
        text = text.replace(code, plain)
    return text


if sys.platform == "win32":
    import msvcrt

    def _lock(file: int) -> None:
        msvcrt.locking(file, msvcrt.LK_NBLCK, 1)

else:
    import fcntl

    def _lock(file: int) -> None:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
