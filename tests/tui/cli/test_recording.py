"""The journal of a watch: what a restart is told, and what is said where there can be none."""

from __future__ import annotations

import shutil
import time
from pathlib import Path

import pytest

from analysis.alarm.book import opened
from analysis.alarm.restore import STALE_SECONDS, restore
from analysis.settings.schema import JournalSettings, Settings
from tests.alarm.timeline import level_rule
from tests.journal.story import change
from tests.support.fake_clock import FakeClock
from tui.cli.recording import open_recording


def settings(path: Path) -> Settings:
    return Settings(journal=JournalSettings(path=str(path)))


@pytest.mark.parametrize(("away", "state"), [
    (STALE_SECONDS - 10.0, "active-acknowledged"), (STALE_SECONDS + 10.0, "active-unacknowledged"),
])  # fmt: skip
def test_an_acknowledged_alarm_is_heard_again_only_after_a_long_absence(
    tmp_path: Path, away: float, state: str
) -> None:
    path, clock = tmp_path / "journal.db", FakeClock()
    first = open_recording(settings(path), "scene:boathouse", clock)
    assert first.journal is not None and first.saved is None
    first.journal.alarm_changed(change(1, after="active-acknowledged", at=clock.now()))
    first.close()
    clock.advance(away)
    second = open_recording(settings(path), "scene:boathouse", clock)
    assert second.saved is not None
    book, changes = restore(opened([level_rule("highlights")], clock.now()), second.saved, clock.now())
    assert book.entry("highlights").state == state
    assert len(changes) == (state == "active-unacknowledged")
    second.close()


def test_a_damaged_journal_is_set_aside_and_nothing_of_it_is_believed(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    path.write_bytes(b"this is no database at all " * 200)
    recording = open_recording(settings(path), "scene:boathouse", FakeClock())
    assert recording.journal is not None and recording.saved is None and recording.note is None
    recording.close()
    assert list(tmp_path.glob("journal.db.damaged-*"))


def test_a_second_watch_of_the_same_journal_goes_on_without_one_and_says_why(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    first = open_recording(settings(path), "scene:boathouse", FakeClock())
    second = open_recording(settings(path), "scene:boathouse", FakeClock())
    assert second.journal is None and second.room() is None
    assert second.note is not None and "another stopkeeper writes this journal" in second.note
    first.close()


def test_asked_to_keep_nothing_it_keeps_nothing(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    recording = open_recording(Settings(journal=JournalSettings(keep=False, path=str(path))), "scene:x", FakeClock())
    assert recording.journal is None and recording.note is None
    recording.close()
    assert not path.exists()


def test_the_room_left_is_what_the_disk_says(tmp_path: Path) -> None:
    recording = open_recording(settings(tmp_path / "journal.db"), "scene:boathouse", FakeClock())
    limit = time.monotonic() + 30.0
    while recording.room() is None and time.monotonic() < limit:
        time.sleep(0.01)
    room = recording.room()
    assert room is not None
    assert room.gibibytes * 2**30 == pytest.approx(shutil.disk_usage(tmp_path).free, rel=0.05)
    recording.close()
