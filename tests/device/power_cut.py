"""Cuts the power of a machine that writes a journal, again and again, and looks at what is left.

``python -m tests.device.power_cut OUTDIR --rounds 50``: the machine is a QEMU guest (``rig.sh``) that is killed at any
moment; its disk forgets at random what was not flushed (``fickle_drive``). Every next start of the guest opens the
journal with this program's own code. At the end one guest writes without waiting for the disk (``synchronous=OFF``):
the same look must find entries missing there, or the test could not have found anything.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import dataclass, field
from pathlib import Path

from tests.device.fickle_drive import FickleDrive
from tests.device.power_writer import left_behind

HERE = Path(__file__).parent
START_SECONDS = 2.0
READINGS_SECONDS = 1.0
ALARM_SECONDS = 0.250
_BOOT_SECONDS = 120.0


@dataclass
class Round:
    """What a guest said before its power went."""

    kept: list[int] = field(default_factory=list)
    read_from: float | None = None
    read_until: float | None = None
    slowest: float = 0.0
    checked: bool = False
    writing: bool = False


class Guest:
    """One start of the guest; what it prints is followed line by line."""

    def __init__(self, out: Path, drive: FickleDrive, arguments: list[str]) -> None:
        drive.power_on()
        self.said, self._pid = Round(), out / "pid"
        self._pid.unlink(missing_ok=True)
        (out / "found.json").unlink(missing_ok=True)
        disk = f"-drive file=nbd+unix:///?socket={drive.socket},format=raw,if=virtio,cache=writeback"
        more = {"RIG_QEMU": f"-pidfile {self._pid} {disk}", "RIG_MODULES": "virtio_blk;ext4", "RIG_MEMORY": "512"}
        command = [sys.executable, "-m", "tests.device.power_writer", *arguments]
        self._rig = subprocess.Popen(
            ["bash", str(HERE / "rig.sh"), str(out), *command],
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, errors="replace", env=os.environ | more,
        )  # fmt: skip
        self._other: list[str] = []
        self._changed = threading.Condition()
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def wait(self, what: str, seconds: float = _BOOT_SECONDS) -> None:
        """Wait until the guest has ``checked`` or is ``writing``."""
        with self._changed:
            ended = self._changed.wait_for(lambda: getattr(self.said, what) or self._rig.poll() is not None, seconds)
            if not ended or not getattr(self.said, what):
                raise AssertionError(f"the guest never was {what}: {' | '.join(self._other[-15:])}")

    def wait_kept(self, count: int, seconds: float = 60.0) -> None:
        """Wait for so many confirmed entries."""
        with self._changed:
            if not self._changed.wait_for(lambda: len(self.said.kept) >= count, seconds):
                raise AssertionError(f"only {len(self.said.kept)} entries in {seconds:.0f} s: {self._other[-15:]}")

    def kill(self) -> Round:
        """Take the power away: the emulator is killed, with all that the guest had in memory."""
        if self._pid.exists() and self._rig.poll() is None:
            os.kill(int(self._pid.read_text()), signal.SIGKILL)
        self._rig.wait(30)
        self._reader.join(30)
        return self.said

    def _read(self) -> None:
        assert self._rig.stdout is not None
        for line in self._rig.stdout:
            words = line.split()
            with self._changed:
                match words:
                    case ["kept", number]:
                        self.said.kept.append(int(number))
                    case ["read", utc, slowest]:
                        self.said.read_until, self.said.slowest = float(utc), float(slowest)
                        self.said.read_from = self.said.read_from or float(utc)
                    case ["checked"]:
                        self.said.checked = True
                    case ["writing"]:
                        self.said.writing = True
                    case _:
                        self._other.append(line.rstrip())
                self._changed.notify_all()
        with self._changed:
            self._changed.notify_all()


def faults(found: dict[str, object], confirmed: set[int]) -> list[str]:
    """What is wrong with what a cut left, in words."""
    occurrences = list(found["occurrences"])  # type: ignore[call-overload]
    wrong = []
    if missing := sorted(confirmed - set(occurrences)):
        wrong.append(f"{len(missing)} of {len(confirmed)} confirmed entries are gone, the first is {missing[0]}")
    if occurrences != sorted(set(occurrences)):
        wrong.append("entries out of order or twice")
    if not found["whole"]:
        wrong.append("the sequence has holes")
    if found["integrity"] != "ok":
        wrong.append(f"the file is damaged: {found['integrity']}")
    if damaged := [note for note in found["notes"] if "damaged" in str(note)]:  # type: ignore[attr-defined]
        wrong.append(str(damaged[0]))
    if found["fault"] is not None:
        wrong.append(f"it does not open: {found['fault']}")
    if float(found["started"]) > START_SECONDS:  # type: ignore[arg-type]
        wrong.append(f"it took {found['started']:.2f} s to open")
    return wrong


class Cuts:
    """A drive and the guests that use it, one after the other."""

    def __init__(self, out: Path, seed: int) -> None:
        self._out, self._dice = out, random.Random(seed)
        # The path of a socket may be a hundred characters long at most.
        self._drive = FickleDrive(Path(tempfile.mkdtemp()), 64, self._dice)
        self.confirmed: set[int] = set()
        self._careless: set[int] = set()
        self._before = Round()
        self._numbers = 0
        self.started: list[float] = []
        self.lost_readings: list[float] = []
        self.unflushed: list[tuple[int, int]] = []

    def round(self) -> list[str]:
        """One start: look at what the last cut left, write, cut."""
        arguments = ["--write", "kept.db", "--first", str(self._numbers)]
        if self._numbers:
            arguments += ["--check", "kept.db"]
        if self._dice.random() < 0.5:
            arguments += ["--pragma", "wal_autocheckpoint=20"]  # so that the log is often being written back
        self._drive.flush_seconds = self._dice.choice((0.0, 0.02, 0.1))
        guest = Guest(self._out, self._drive, arguments)
        wrong = []
        try:
            guest.wait("writing")
            if self._numbers:
                wrong = self._looked()
            time.sleep(self._dice.uniform(0.0, 4.0))
            # Half of the cuts come in the middle of writing, half at any time.
            self.unflushed.append(self._drive.cut(self._dice.choice((0.0, 4.0))))
        finally:
            said = guest.kill()
        self.confirmed.update(said.kept)
        self._before = said
        # Entries that were written and not confirmed have numbers too: never use one again.
        self._numbers = max([self._numbers, *said.kept]) + 100_000
        return wrong

    def last(self) -> list[str]:
        """Look at what the last round left, then write without waiting for the disk, and cut."""
        arguments = ["--check", "kept.db", "--write", "careless.db", "--pragma", "synchronous=OFF"]
        guest = Guest(self._out, self._drive, arguments)
        try:
            guest.wait("writing")
            wrong = self._looked()
            guest.wait_kept(20)
        finally:
            self._careless = set(guest.kill().kept)
            self._drive.cut()
        return wrong

    def control(self) -> tuple[list[str], list[str]]:
        """What the look finds wrong with the journal, and what with the one for which nobody waited for the disk.

        In the second something must be wrong, or the look cannot find anything; in the first nothing, though the
        files are taken out of the disk in the same way.
        """
        image = self._out / "image"
        self._drive.save(image)
        # The file system's own journal is played back, as a mount would.
        subprocess.run(["e2fsck", "-fy", str(image)], check=False, capture_output=True, timeout=120)
        wrong = faults(self._taken(image, "kept.db"), self.confirmed)
        noticed = faults(self._taken(image, "careless.db"), self._careless)
        image.unlink()
        return wrong, noticed

    def _taken(self, image: Path, name: str) -> dict[str, object]:
        for file in (name, f"{name}-wal"):
            taken = self._out / file
            taken.unlink(missing_ok=True)
            subprocess.run(
                ["debugfs", "-R", f"dump {file} {taken}", str(image)], check=False, capture_output=True, timeout=120
            )
            if taken.exists() and not taken.stat().st_size:
                taken.unlink()
        return left_behind(self._out / name)

    def slow(self, flush_seconds: float, seconds: float = 20.0) -> tuple[float, int]:
        """How long taking in an alarm or a reading lasts at most while every flush lasts so long; how many were."""
        guest = Guest(self._out, self._drive, ["--write", "slow.db", "--never-wait"])
        try:
            guest.wait("writing")
            guest.wait_kept(1)
            self._drive.flush_seconds = flush_seconds
            time.sleep(seconds)
        finally:
            said = guest.kill()
            self._drive.flush_seconds = 0.0
            self._drive.cut()
        return said.slowest, len(said.kept)

    def autopsy(self) -> str:
        """What a disk looks like with which no guest gets as far as the journal; its image is kept."""
        image = self._out / "broken"
        self._drive.save(image)
        found = subprocess.run(["e2fsck", "-fn", str(image)], check=False, capture_output=True, text=True, timeout=120)
        return f"arrived at the last cut: {self._drive.how}\n{found.stdout}{found.stderr}"

    def close(self) -> None:
        """Take the drive away."""
        self._drive.close()
        shutil.rmtree(self._drive.socket.parent)

    def _found(self) -> dict[str, object]:
        found = json.loads((self._out / "found.json").read_text(encoding="utf-8"))
        assert isinstance(found, dict)
        return found

    def _looked(self) -> list[str]:
        found = self._found()
        self.started.append(float(found["started"]))  # type: ignore[arg-type]
        wrong = faults(found, self.confirmed)
        if self._before.read_from is not None and self._before.read_until is not None:
            # Cut before anything was written, the file ends with the round before: not more than this one took is lost.
            covered = max(float(found["covered"] or 0.0), self._before.read_from)  # type: ignore[arg-type]
            self.lost_readings.append(self._before.read_until - covered)
            if self.lost_readings[-1] > READINGS_SECONDS:
                wrong.append(f"{self.lost_readings[-1]:.2f} s of readings are gone")
        return wrong


def main() -> int:
    """Run the rounds; 0 when nothing was lost and the control lost something."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("out", type=Path)
    asked.add_argument("--rounds", type=int, default=50)
    asked.add_argument("--slow", action="store_true", help="also measure on a disk whose every flush takes 2 s")
    asked.add_argument("--seed", type=int, default=int(time.time()))
    given = asked.parse_args()
    given.out.mkdir(parents=True, exist_ok=True)
    print(f"power cuts: {given.rounds} rounds, seed {given.seed}", flush=True)
    cuts, bad, begun = Cuts(given.out.resolve(), given.seed), 0, time.monotonic()
    for number in range(1, given.rounds + 2):
        try:
            wrong = cuts.round() if number <= given.rounds else cuts.last()
        except AssertionError as error:
            print(f"after cut {number - 1}: {error}\n{cuts.autopsy()}")
            return 1
        for words in wrong:
            bad += 1
            print(f"after cut {number - 1}: {words}", flush=True)
        if number % 10 == 0:
            print(f"{number} cuts, {len(cuts.confirmed)} entries confirmed", flush=True)
    wrong, noticed = cuts.control()
    for words in wrong:
        bad += 1
        print(f"on the disk after the last cut: {words}", flush=True)
    if given.slow:
        slowest, taken = cuts.slow(2.0)
        print(f"every flush takes 2 s: {taken} entries taken in, each within {1000 * slowest:.0f} ms", flush=True)
        bad += slowest > ALARM_SECONDS
    cuts.close()
    waiting, arrived = (sum(column) for column in zip(*cuts.unflushed, strict=True))
    print(
        f"{len(cuts.confirmed)} entries confirmed, {waiting} writes unflushed at the cuts of which {arrived} arrived; "
        f"opened in {max(cuts.started):.2f} s at most; "
        f"at most {max(cuts.lost_readings, default=0.0):.2f} s of readings lost; {bad} faults; "
        f"{time.monotonic() - begun:.0f} s"
    )
    print(f"control (synchronous=OFF): {'; '.join(noticed) or 'nothing was noticed, so this test proves nothing'}")
    return 0 if not bad and noticed and cuts.confirmed else 1


if __name__ == "__main__":
    sys.exit(main())
