"""Alarms per hour of watching: heard rises over watched time, whatever lay between the sessions."""

from __future__ import annotations

from pathlib import Path

import pytest

from analysis.journal.journal import Journal
from analysis.journal.rate import alarm_rate
from analysis.model.alarm import QuietWay
from tests.journal.story import change
from tests.support.fake_clock import FakeClock


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "journal.db"


def rise(journal: Journal, clock: FakeClock, alarm: str = "highlights", quiet: tuple[QuietWay, ...] = ()) -> None:
    journal.alarm_changed(change(1, alarm=alarm, at=clock.now(), quiet=quiet, quiet_before=quiet))
    clock.advance(1.0)
    journal.alarm_changed(change(1, alarm=alarm, before="active-unacknowledged", after="normal", at=clock.now()))


def watched(path: Path, clock: FakeClock, hours: float, *alarms: str) -> None:
    """A session of so many hours, with these alarms one minute apart at its beginning."""
    journal, began = Journal(path, clock, address="cam"), clock.now()
    for alarm in alarms:
        rise(journal, clock, alarm)
        clock.advance(59.0)
    clock.advance(hours * 3600 - clock.now().since(began))
    assert journal.close()


def test_only_watched_hours_count(path: Path) -> None:
    clock = FakeClock()
    began = clock.now().utc
    watched(path, clock, 2.0, "highlights", "feed", "highlights")
    clock.advance(10 * 3600.0)
    watched(path, clock, 1.0, "shadows", "highlights", "highlights")
    rate = alarm_rate(path, began - 1, clock.now().utc + 1)
    assert rate.hours == pytest.approx(3.0, abs=0.01)
    assert (rate.alarms, rate.busiest) == (6, 3), "ten hours apart is not within ten minutes"
    assert rate.per_hour == pytest.approx(2.0, abs=0.02)
    assert rate.by_alarm == {"highlights": 4, "feed": 1, "shadows": 1}
    assert next(iter(rate.by_alarm)) == "highlights"


def test_a_span_cuts_sessions(path: Path) -> None:
    clock = FakeClock()
    began = clock.now().utc
    watched(path, clock, 2.0, "highlights", "feed", "highlights")
    late = alarm_rate(path, began + 3600, began + 7200)
    assert (late.alarms, late.per_hour) == (0, 0.0)
    assert late.hours == pytest.approx(1.0, abs=0.01)


def test_what_made_no_sound_is_counted_apart(path: Path) -> None:
    clock = FakeClock()
    began = clock.now().utc
    journal = Journal(path, clock)
    rise(journal, clock, quiet=("shelved",))
    rise(journal, clock)
    clock.advance(3600.0)
    assert journal.close()
    rate = alarm_rate(path, began - 1, clock.now().utc)
    assert (rate.alarms, rate.quiet) == (1, 1)


def test_nobody_watched(path: Path) -> None:
    clock = FakeClock()
    watched(path, clock, 1.0, "feed")
    rate = alarm_rate(path, 0.0, 1.0)
    assert (rate.alarms, rate.per_hour, rate.hours) == (0, None, 0.0)
