"""Stands in for a sound card: takes samples at the real rate and keeps them in a file.

Arguments: file, bytes a second, and optionally after how many bytes to stop taking any,
as a stuck sound server does. Runs as the pipe of ALSA's file plugin.
"""

import contextlib
import fcntl
import os
import sys
import time
from pathlib import Path

F_SETPIPE_SZ = 1031  # <fcntl.h>, Linux
BEHIND = 0.2


def main() -> None:
    path, rate = sys.argv[1], int(sys.argv[2])
    stall_after = int(sys.argv[3]) if len(sys.argv) > 3 else None
    player = os.getppid()
    with contextlib.suppress(OSError):
        fcntl.fcntl(0, F_SETPIPE_SZ, 4096)  # a small pipe, so that little waits unheard
    began, taken = time.monotonic(), 0
    with Path(path).open("wb", buffering=0) as kept:
        while chunk := os.read(0, 960):
            kept.write(chunk)
            taken += len(chunk)
            while stall_after is not None and taken >= stall_after:
                time.sleep(0.05)
                if os.getppid() != player:  # never outlive the player that was killed
                    return
            ahead = taken / rate - (time.monotonic() - began)
            if ahead > 0:
                time.sleep(ahead)
            elif ahead < -BEHIND:
                began = time.monotonic() - taken / rate  # after an idle time, do not catch up


if __name__ == "__main__":
    main()
