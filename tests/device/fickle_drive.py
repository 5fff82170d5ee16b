"""A disk with a volatile write cache: what was not flushed may be lost, in part and out of order, when power goes.

Served to a QEMU guest over the NBD protocol (github.com/NetworkBlockDevice/nbd, doc/proto.md, "fixed newstyle
negotiation"; only reading, writing and flushing are offered). This is harder on a program than a reset guest alone,
where every write that left the guest would survive.
"""

from __future__ import annotations

import random
import socket
import struct
import subprocess
import threading
import time
from pathlib import Path

SECTOR = 4096
"""What arrives whole or not at all: the physical sector of the disks of today."""
_GREETING = b"NBDMAGIC" + b"IHAVEOPT"
_REPLY_MAGIC, _REQUEST_MAGIC, _SIMPLE_MAGIC = 0x3E889045565A9, 0x25609513, 0x67446698
_FIXED, _NO_ZEROES = 1, 2
_HAS_FLAGS, _CAN_FLUSH = 1, 4
_OPTION_EXPORT, _OPTION_ABORT, _OPTION_GO = 1, 2, 7
_ACK, _INFO, _UNSUPPORTED = 1, 3, (1 << 31) + 1
_READ, _WRITE, _LEAVE, _FLUSH = 0, 1, 2, 3
_INVALID = 22


class FickleDrive:
    """``socket`` is where QEMU finds it; :meth:`cut` is the power cut.

    ``flush_seconds`` is how long every flush takes. ``flushes`` and ``writes`` count what the guest asked for. ``how``
    says which of the unflushed writes arrived at the last cut.
    """

    def __init__(self, folder: Path, megabytes: int, dice: random.Random) -> None:
        self.socket, self.flush_seconds = folder / "drive", 0.0
        self.flushes, self.writes, self.how = 0, 0, "never cut"
        self._dice = dice
        image = folder / "image"
        with image.open("wb") as file:
            file.truncate(megabytes << 20)
        subprocess.run(["mke2fs", "-q", "-t", "ext4", str(image)], check=True, timeout=60)
        self._durable = bytearray(image.read_bytes())
        image.unlink()
        self._seen = bytearray(self._durable)
        self._pending: list[tuple[int, bytes]] = []
        self._lock, self._cuts, self._powered = threading.Lock(), 0, True
        self.socket.unlink(missing_ok=True)
        self._listener = socket.socket(socket.AF_UNIX)
        self._listener.bind(str(self.socket))
        self._listener.listen(2)
        threading.Thread(target=self._accept, daemon=True).start()

    def power_on(self) -> None:
        """Let the next machine use it; one whose power was cut would come back otherwise, while it is being killed."""
        with self._lock:
            self._powered = True

    def cut(self, patience: float = 0.0) -> tuple[int, int]:
        """Power goes: of the unflushed writes some arrive, some in part, some not; how many there were and arrived.

        With ``patience`` the moment is chosen: when something is unflushed, if that happens within so many seconds.
        """
        end = time.monotonic() + patience
        while not self._pending and time.monotonic() < end:
            time.sleep(0.0005)
        with self._lock:
            how = self.how = self._dice.choice(("none", "first", "some", "sectors"))
            until = self._dice.randint(0, len(self._pending))
            arrived = 0
            for number, (offset, data) in enumerate(self._pending):
                match how:
                    case "none":
                        kept = []
                    case "first":
                        kept = [(0, data)] if number < until else []
                    case "some":
                        kept = [(0, data)] if self._dice.random() < 0.5 else []
                    case _:
                        parts = [(at, data[at : at + SECTOR]) for at in range(0, len(data), SECTOR)]
                        kept = [part for part in parts if self._dice.random() < 0.5]
                arrived += bool(kept)
                for at, part in kept:
                    self._durable[offset + at : offset + at + len(part)] = part
            waiting = len(self._pending)
            self._pending.clear()
            self._seen[:] = self._durable
            self._cuts += 1
            self._powered = False
            return waiting, arrived

    def save(self, path: Path) -> None:
        """Write what is on the disk into a file."""
        with self._lock:
            path.write_bytes(self._durable)

    def close(self) -> None:
        """Stop serving."""
        self._listener.close()

    def _accept(self) -> None:
        while True:
            try:
                guest, _ = self._listener.accept()
            except OSError:
                return
            threading.Thread(target=self._serve, args=(guest,), daemon=True).start()

    def _serve(self, guest: socket.socket) -> None:
        with guest:
            try:
                with self._lock:
                    cuts, powered = self._cuts, self._powered
                if not powered:
                    return
                self._negotiate(guest)
                while self._obey(guest, cuts):
                    pass
            except OSError:
                return  # the guest is gone: its power was cut

    def _negotiate(self, guest: socket.socket) -> None:
        guest.sendall(_GREETING + struct.pack(">H", _FIXED | _NO_ZEROES))
        _exactly(guest, 4)
        export = struct.pack(">QH", len(self._seen), _HAS_FLAGS | _CAN_FLUSH)
        while True:
            _, option, length = struct.unpack(">QII", _exactly(guest, 16))
            _exactly(guest, length)
            if option == _OPTION_EXPORT:
                guest.sendall(export)
                return
            if option == _OPTION_GO:
                _answer(guest, option, _INFO, struct.pack(">H", 0) + export)
                _answer(guest, option, _ACK)
                return
            if option == _OPTION_ABORT:
                raise OSError("the guest does not want it")
            _answer(guest, option, _UNSUPPORTED)

    def _obey(self, guest: socket.socket, cuts: int) -> bool:
        magic, _, kind, handle, offset, length = struct.unpack(">IHHQQI", _exactly(guest, 28))
        if magic != _REQUEST_MAGIC:
            raise OSError("not a request")
        if cuts != self._cuts:
            raise OSError("it has no power any more")
        data, error = b"", 0
        if kind == _WRITE:
            given = _exactly(guest, length)
            with self._lock:
                if cuts != self._cuts:
                    raise OSError("the power was cut in the middle of it")
                self._seen[offset : offset + length] = given
                self._pending.append((offset, given))
                self.writes += 1
        elif kind == _READ:
            with self._lock:
                data = bytes(self._seen[offset : offset + length])
        elif kind == _FLUSH:
            with self._lock:
                flushed = len(self._pending)
            time.sleep(self.flush_seconds)
            with self._lock:
                if cuts != self._cuts:
                    raise OSError("the power was cut in the middle of it")
                for at, part in self._pending[:flushed]:
                    self._durable[at : at + len(part)] = part
                del self._pending[:flushed]
                self.flushes += 1
        elif kind == _LEAVE:
            return False
        else:
            error = _INVALID
        guest.sendall(struct.pack(">IIQ", _SIMPLE_MAGIC, error, handle) + data)
        return True


def _answer(guest: socket.socket, option: int, kind: int, data: bytes = b"") -> None:
    guest.sendall(struct.pack(">QIII", _REPLY_MAGIC, option, kind, len(data)) + data)


def _exactly(guest: socket.socket, length: int) -> bytes:
    got = bytearray()
    while len(got) < length:
        part = guest.recv(length - len(got))
        if not part:
            raise OSError("the guest is gone")
        got += part
    return bytes(got)
