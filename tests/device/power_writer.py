"""Runs in the guest whose power is cut: first says what the last cut left, then writes until the next.

Prints a line for each confirmed entry and each reading taken; the host reads them on the serial console.
"""

from __future__ import annotations

import argparse
import json
import sqlite3
import subprocess
import threading
import time
from pathlib import Path

from analysis.feed.clock import SystemClock
from analysis.journal import store
from analysis.journal.journal import Journal
from analysis.journal.read import history, readings
from tests.journal.story import change, reading

DISK = Path("/disk")
READINGS_A_SECOND = 20


def left_behind(path: Path) -> dict[str, object]:
    """What this program's own code finds after the cut, and how long it takes to begin."""
    begun = time.monotonic()
    journal = Journal(path, SystemClock(), address="cam")
    started = time.monotonic() - begun
    fault = journal.status().fault
    journal.close(30.0)
    entries = history(path, 10_000_000)
    seconds = readings(path, 0.0, 1e12)
    connection = sqlite3.connect(path)
    (integrity,) = connection.execute("PRAGMA integrity_check").fetchone()
    connection.close()
    return {
        "started": started,
        "fault": fault,
        "integrity": integrity,
        "occurrences": [entry.what.occurrence for entry in entries if entry.kind == "alarm"],  # type: ignore[union-attr]
        "notes": [entry.what.words for entry in entries if entry.kind == "note"],  # type: ignore[union-attr]
        "whole": [entry.sequence for entry in entries] == list(range(1, len(entries) + 1)),
        # Each reading says by its skin level how far into its second it was taken.
        "covered": max((row.second + (row.skin_ire or 0.0) / 100 for row in seconds), default=None),
    }


def pragmas(words: list[str]) -> None:
    """Have every connection begin with these: what the test wants to be different, and nothing else."""
    plain = store._connected

    def connected(path: Path) -> sqlite3.Connection:
        connection = plain(path)
        for pragma in words:
            connection.execute(f"PRAGMA {pragma}")
        return connection

    store._connected = connected


def write(path: Path, first: int, *, never_wait: bool = False) -> None:
    """Write entries one after the other and readings beside them, and say what was confirmed; for ever.

    With ``never_wait`` entries come ten times a second whatever the disk does, and each is said when it was taken in.
    """
    clock = SystemClock()
    journal = Journal(path, clock, address="cam")
    slowest = 0.0

    def measure() -> None:
        nonlocal slowest
        while True:
            now = clock.now()
            begun = time.monotonic()
            journal.reading_taken(reading(skin=100 * (now.utc % 1.0)), now)
            slowest = max(slowest, time.monotonic() - begun)
            print(f"read {now.utc:.3f} {slowest:.3f}", flush=True)
            time.sleep(1 / READINGS_A_SECOND)

    threading.Thread(target=measure, daemon=True).start()
    number = first
    print("writing", flush=True)
    while True:
        number += 1
        begun = time.monotonic()
        journal.alarm_changed(change(number))
        slowest = max(slowest, time.monotonic() - begun)
        if never_wait:
            print(f"kept {number}", flush=True)
            time.sleep(0.1)
            continue
        if journal.settled(120.0):
            print(f"kept {number}", flush=True)
        # Now and then nothing happens for a while, so that only readings are written.
        time.sleep(1.5 if number % 40 == 0 else 0.0)


def main() -> None:
    """``--first`` is the number before the first entry written; ``--check`` what to look at beforehand."""
    asked = argparse.ArgumentParser()
    asked.add_argument("--check", type=Path)
    asked.add_argument("--write", type=Path)
    asked.add_argument("--first", type=int, default=0)
    asked.add_argument("--never-wait", action="store_true")
    asked.add_argument("--pragma", action="append", default=[])
    given = asked.parse_args()
    DISK.mkdir(exist_ok=True)
    subprocess.run(["mount", "-t", "ext4", "/dev/vda", str(DISK)], check=True, timeout=120)
    if given.check:
        # The host's folder is not part of the guest: what is written there is there at once.
        Path("/mnt/found.json").write_text(json.dumps(left_behind(DISK / given.check)), encoding="utf-8")
        print("checked", flush=True)
    if given.write:
        pragmas(given.pragma)
        write(DISK / given.write, given.first, never_wait=given.never_wait)


if __name__ == "__main__":
    main()
