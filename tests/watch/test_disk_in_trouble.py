"""A disk that is full or does not answer changes nothing of what is measured and heard; the journal tells it after."""

from __future__ import annotations

import threading
import time
from pathlib import Path

import pytest

from analysis.feed.faulty import Fault
from analysis.journal.entry import Gap
from analysis.journal.journal import Journal
from analysis.journal.read import history
from analysis.journal.store import Store
from analysis.model.alarm import AlarmChange
from tests.journal.failing_disk import FailingDisk
from tests.watch.rig import WatchRig


def story() -> WatchRig:
    """A camera that vanishes every four seconds."""
    return WatchRig(Fault(name="vanish", at=100, count=1))


def keep(rig: WatchRig, path: Path) -> Journal:
    """Have all that the watch tells kept in a journal too."""
    journal = Journal(path, rig.clock, address="cam")
    noted = rig.notes.alarm_changed

    def both(change: AlarmChange) -> None:
        noted(change)
        journal.alarm_changed(change)

    rig.notes.alarm_changed = both  # type: ignore[method-assign]
    rig.notes.feed_changed = journal.feed_changed  # type: ignore[method-assign]
    return journal


def kept(path: Path) -> list[AlarmChange]:
    return [entry.what for entry in history(path, 1000, kind="alarm")]  # type: ignore[misc]


def undisturbed() -> tuple[WatchRig, int]:
    rig = story()
    rig.play(20)
    assert len(rig.heard.told) >= 3
    return rig, rig.watch.measured


def test_a_full_disk_is_not_heard_or_seen_and_all_is_kept_in_the_end(tmp_path: Path) -> None:
    plain, measured = undisturbed()
    try:
        disk = FailingDisk()
    except RuntimeError as error:
        pytest.skip(str(error))
    rig = story()
    with disk:
        journal = keep(rig, tmp_path / "journal.db")
        assert journal.settled(30.0)
        disk.full_from(1)
        rig.play(20)
        limit = time.monotonic() + 30.0
        while journal.status().fault is None and time.monotonic() < limit:
            time.sleep(0.01)
        assert journal.status().fault == "no space left on the disk"
        assert rig.heard.told == plain.heard.told and rig.watch.measured == measured
        assert rig.watch.snapshot().fault is None
        disk.room()
        assert journal.settled(30.0)
    assert kept(tmp_path / "journal.db") == rig.notes.alarms == plain.notes.alarms
    (gap,) = [entry.what for entry in history(tmp_path / "journal.db", 1000, kind="gap")]
    assert isinstance(gap, Gap) and gap.kept >= len(rig.notes.alarms) and gap.lost == 0
    assert journal.close()


def test_a_disk_that_does_not_answer_holds_up_no_frame_and_no_alarm(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain, measured = undisturbed()
    rig = story()
    journal = keep(rig, tmp_path / "journal.db")
    assert journal.settled(30.0)
    answers, whole = threading.Event(), Store.write

    def stuck(store: Store, *given: object) -> None:
        assert answers.wait(120.0)
        whole(store, *given)  # type: ignore[arg-type]

    monkeypatch.setattr(Store, "write", stuck)
    # All of it happens while the writer waits for the disk, or it would never end.
    rig.play(20)
    assert rig.heard.told == plain.heard.told and rig.watch.measured == measured
    assert journal.status().waiting > 0
    answers.set()
    assert journal.close(60.0)
    assert kept(tmp_path / "journal.db") == rig.notes.alarms == plain.notes.alarms
