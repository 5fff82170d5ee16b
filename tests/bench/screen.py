"""The screen on real pseudo-terminals: bytes a second, and how old the figures are on a slow link."""

from __future__ import annotations

import statistics
import time
from pathlib import Path

from tests.bench.row import Row
from tests.tui.pty_run import Session
from tests.tui.screen_age import command, watch_ages

SLOW = 12_500.0
"""Bytes a second of a 100 kbit/s link."""
_SETTLE, _SECONDS = 3.0, 8.0


def run() -> list[Row]:
    """Every row of this section; about a minute of real time."""
    rows: list[Row] = []
    for mode, size, keys, most in (
        ("moving", (120, 40), "", 15.0),
        ("pan", (120, 40), "", 30.0),
        ("pan", (80, 24), "", None),
        ("pan", (200, 60), "", None),
        ("moving, large zone map", (120, 40), "vve", 30.0),
        ("pan, large zone map", (120, 40), "vve", 30.0),
        ("still", (120, 40), "", 3.0),
    ):
        rate, cores = _flow(mode.partition(",")[0], size, keys)
        name = f"to the terminal, {mode}, {size[0]}x{size[1]}"
        rows.append(Row(section="screen", name=name, value=rate / 1000, unit="kB/s", most=most))
        rows.append(Row(section="screen", name=f"one core used, {mode}, {size[0]}x{size[1]}", value=cores, unit="%"))
    for mode in ("moving", "pan"):
        with Session(command(mode), (120, 40), rate=SLOW) as session:
            _settle(session)
            ages = sorted(watch_ages(session, _SECONDS))
            _leave(session)
        name = f"age of the figures at 100 kbit/s, {mode}, 120x40"
        rows.append(Row(section="screen", name=f"{name}, median", value=statistics.median(ages), unit="s", most=0.6))
        rows.append(Row(section="screen", name=f"{name}, longest", value=ages[-1], unit="s", most=1.5))
    return rows


def _flow(mode: str, size: tuple[int, int], keys: str) -> tuple[float, float]:
    """Bytes a second and percent of one core after these keys, while nobody touches it."""
    with Session(command(mode), size, env={"COLOURS": "full"}) as session:
        _settle(session)
        for key in keys:
            session.press(key)
            session.run(0.5)
        begin, used = time.monotonic(), _cpu(session.pid)
        session.run(_SECONDS)
        end, used = time.monotonic(), _cpu(session.pid) - used
        rate = session.rate_between(begin, end)
        _leave(session)
    return rate, 100 * used / (end - begin)


def _settle(session: Session) -> None:
    if not session.run(30, lambda s: "CLIPPED" in s.text()):
        raise RuntimeError(f"the screen did not come up: {bytes(session.received[-400:])!r}")
    session.run(_SETTLE)


def _leave(session: Session) -> None:
    session.press("q")
    session.run(5)


def _cpu(pid: int) -> float:
    """Seconds of processor time a process has used, proc(5): fields 14 and 15 of stat, in ticks of 1/100 s."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / 100
