"""The disk of the power cuts keeps what was flushed and may lose the rest; spoken to as QEMU does (NBD, proto.md)."""

from __future__ import annotations

import random
import socket
import struct
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.device.fickle_drive import SECTOR, FickleDrive

READ, WRITE, LEAVE, FLUSH, TRIM = 0, 1, 2, 3, 4
PLACE = 1 << 20


@pytest.fixture(autouse=True)
def at_rest() -> None:
    """No camera is needed here."""


class Machine:
    """The other end of the socket."""

    def __init__(self, drive: FickleDrive) -> None:
        self._wire = socket.socket(socket.AF_UNIX)
        self._wire.connect(str(drive.socket))
        assert self._take(16) == b"NBDMAGICIHAVEOPT"
        self._take(2)
        self._wire.sendall(struct.pack(">I", 3))
        self.unknown = self._ask(8, b"")  # structured replies: not offered
        self.size = struct.unpack(">HQH", self._ask(7, struct.pack(">IH", 0, 0))[1])[1]
        self._take(20)

    def _ask(self, option: int, data: bytes) -> tuple[int, bytes]:
        self._wire.sendall(struct.pack(">QII", 0x49484156454F5054, option, len(data)) + data)
        magic, _, kind, length = struct.unpack(">QIII", self._take(20))
        assert magic == 0x3E889045565A9
        return kind, self._take(length)

    def _take(self, length: int) -> bytes:
        got = b""
        while len(got) < length:
            part = self._wire.recv(length - len(got))
            assert part, "the drive hung up"
            got += part
        return got

    def command(self, kind: int, offset: int = 0, length: int = 0, data: bytes = b"") -> bytes:
        request = struct.pack(">IHHQQI", 0x25609513, 0, kind, 7, offset, length or len(data))
        self._wire.sendall(request + data)
        magic, error, handle = struct.unpack(">IIQ", self._take(16))
        assert (magic, handle) == (0x67446698, 7)
        if error:
            raise OSError(error, "refused")
        return self._take(length) if kind == READ else b""


@pytest.fixture
def drive(tmp_path: Path) -> Iterator[FickleDrive]:
    made = FickleDrive(tmp_path, 8, random.Random(5))
    yield made
    made.close()


def test_what_is_written_is_read_and_the_size_is_told(drive: FickleDrive) -> None:
    machine = Machine(drive)
    assert machine.size == 8 << 20 and machine.unknown[0] == (1 << 31) + 1
    machine.command(WRITE, PLACE, data=b"a" * SECTOR)
    assert machine.command(READ, PLACE, 2 * SECTOR) == b"a" * SECTOR + bytes(SECTOR)
    with pytest.raises(OSError, match="refused"):
        machine.command(TRIM, PLACE, SECTOR)


def test_what_was_flushed_stays_and_what_was_not_is_lost_in_part_at_random(drive: FickleDrive) -> None:
    lost = partly = 0
    for number in range(1, 61):
        machine = Machine(drive)
        kept, loose = bytes([number]) * SECTOR, bytes([number]) * (4 * SECTOR)
        machine.command(WRITE, PLACE, data=kept)
        machine.command(FLUSH)
        machine.command(WRITE, PLACE + SECTOR, data=loose)
        assert machine.command(READ, PLACE + SECTOR, 4 * SECTOR) == loose, "the machine itself sees what it wrote"
        drive.cut()
        with pytest.raises(AssertionError, match="hung up"):
            Machine(drive)
        drive.power_on()
        after = Machine(drive)
        assert after.command(READ, PLACE, SECTOR) == kept
        found = after.command(READ, PLACE + SECTOR, 4 * SECTOR)
        sectors = {found[at : at + SECTOR] == loose[:SECTOR] for at in range(0, len(found), SECTOR)}
        lost += True not in sectors
        partly += len(sectors) == 2
    assert 5 < lost < 55 and partly > 3


def test_a_flush_that_the_cut_interrupts_keeps_nothing_it_should_not(drive: FickleDrive) -> None:
    machine = Machine(drive)
    drive.flush_seconds = 2.0
    machine.command(WRITE, PLACE, data=b"x" * SECTOR)
    answers: list[str] = []

    def flush() -> None:
        try:
            machine.command(FLUSH)
        except AssertionError as error:
            answers.append(str(error))

    interrupted = threading.Thread(target=flush)
    interrupted.start()
    time.sleep(0.5)  # it is under way
    assert drive.cut()[0] == 1
    drive.power_on()
    after = Machine(drive)
    after.command(WRITE, PLACE, data=b"y" * SECTOR)
    interrupted.join(30)
    assert answers and "hung up" in answers[0]
    assert drive.flushes == 0
    assert drive.cut()[0] == 1, "the later write is still only in the cache"
