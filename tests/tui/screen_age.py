"""How old the figures on a screen are: the application writes the time, whoever reads it subtracts."""

from __future__ import annotations

import re
import sys
import time

from tests.tui.pty_run import Session

_MEAN = re.compile(r"mean +([0-9]+\.[0-9])")


def command(mode: str) -> list[str]:
    """How the made-up watch is started."""
    return [sys.executable, "-m", "tests.tui.pty_app", mode]


def age_now(session: Session) -> float | None:
    """Seconds between the time on the screen and now, None when there is none to read."""
    match = _MEAN.search(session.text())
    if match is None:
        return None
    shown = float(match[1]) * 10
    return ((time.monotonic() * 100) % 10000 - shown) % 10000 / 100


def watch_ages(session: Session, seconds: float) -> list[float]:
    """The age of the figures, read whenever a frame is complete: its last bytes ask for a report."""
    ages: list[float] = []
    complete = len(session.screen.marks)

    def read(running: Session) -> bool:
        nonlocal complete
        if len(running.screen.marks) == complete:
            return False
        complete = len(running.screen.marks)
        age = age_now(running)
        if age is not None:
            ages.append(age)
        return False

    session.run(seconds, read)
    return ages
