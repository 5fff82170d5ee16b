"""How long the room lasts: by what fills the disk steadily, and only when enough is known."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.journal.journal import Journal
from analysis.journal.room import FEWEST_STEPS, MOST_STEPS, Filling
from analysis.model.instant import Instant
from tests.support.fake_clock import FakeClock

GIB = 1 << 30
HOUR = 3600.0


def watched(free: list[int], step: float = 60.0) -> Filling:
    filling = Filling()
    for number, each in enumerate(free):
        filling = filling.seen(each, Instant(step * number, 0.0))
    return filling


@given(rate=st.floats(1e3, 1e9), minutes=st.integers(FEWEST_STEPS, 60), free=st.integers(1, 1 << 45))
def test_a_steady_filling_is_told_to_the_second(rate: float, minutes: int, free: int) -> None:
    """Room over rate, worked out here by itself."""
    began = free + int(rate * 60 * minutes)
    room = watched([began - int(rate * 60 * minute) for minute in range(minutes + 1)]).room(free)
    assert room.free == free
    assert room.lasts == pytest.approx(free / rate, rel=1e-2)


def test_a_day_is_told_apart_from_more() -> None:
    """2 GiB an hour into 47 GiB lasts less than a day, into 49 more."""
    steady = watched([100 * GIB - GIB // 30 * minute for minute in range(10)])
    assert steady.room(47 * GIB).hours == pytest.approx(23.5, rel=1e-6)
    assert steady.room(49 * GIB).hours == pytest.approx(24.5, rel=1e-6)


def test_one_large_file_is_no_filling() -> None:
    free = [100 * GIB] * 4 + [80 * GIB] * 8
    assert watched(free).room(80 * GIB).lasts is None


def test_room_that_grows_or_stays_lasts() -> None:
    assert watched([GIB] * 20).room(GIB).lasts is None
    assert watched([GIB + GIB * minute for minute in range(20)]).room(GIB).lasts is None


def test_nothing_is_said_before_enough_is_known_and_looks_too_close_are_passed_over() -> None:
    falling = [100 * GIB - GIB * number for number in range(200)]
    assert watched(falling[:FEWEST_STEPS]).room(GIB).lasts is None
    assert watched(falling[: FEWEST_STEPS + 1]).room(GIB).lasts is not None
    assert len(watched(falling[:121], step=10.0).points) == 21
    assert watched(falling[:25], step=10.0).room(GIB).lasts is None, "four minutes are too little"


def test_old_minutes_are_forgotten() -> None:
    filling = watched([100 * GIB - GIB * minute for minute in range(40)] + [60 * GIB] * MOST_STEPS)
    assert len(filling.points) == MOST_STEPS + 1
    assert filling.room(60 * GIB).lasts is None


def test_a_running_clock_that_starts_anew_starts_no_wrong_rate() -> None:
    filling = watched([GIB] * 8).seen(GIB // 2, Instant(1.0, 0.0))
    assert filling.room(GIB // 2).lasts is None


def test_the_journal_looks_at_its_own_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []

    class Usage:
        free = 3 * GIB

    def usage(path: Path) -> Usage:
        asked.append(path)
        return Usage()

    monkeypatch.setattr("analysis.journal.journal.shutil.disk_usage", usage)
    journal = Journal(tmp_path / "state" / "journal.db", FakeClock())
    limit = time.monotonic() + 30.0
    while journal.room() is None and time.monotonic() < limit:
        time.sleep(0.01)
    room = journal.room()
    assert room is not None and (room.gibibytes, room.hours) == (3.0, None)
    assert asked == [tmp_path / "state"], "once in ten seconds, not at every write"
    assert journal.close()


def test_a_disk_that_does_not_say_is_not_guessed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def gone(_: Path) -> None:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr("analysis.journal.journal.shutil.disk_usage", gone)
    journal = Journal(tmp_path / "journal.db", FakeClock())
    assert journal.settled(30.0)
    assert journal.room() is None
    assert journal.close()
