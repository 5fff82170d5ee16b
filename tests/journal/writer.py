"""A process of its own that writes until it is killed: prints the number of each entry once it is confirmed."""

from __future__ import annotations

import sys
from pathlib import Path

from analysis.journal.journal import Journal
from tests.journal.story import change
from tests.support.fake_clock import FakeClock


def main() -> None:
    sys.stdin.readline()  # imported and ready; the test says when to begin
    journal = Journal(Path(sys.argv[1]), FakeClock())
    number = int(sys.argv[2])
    while True:
        number += 1
        journal.alarm_changed(change(number))
        if journal.settled(60.0):
            print(number, flush=True)


if __name__ == "__main__":
    main()
