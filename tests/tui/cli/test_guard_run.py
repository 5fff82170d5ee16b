"""What the guard makes of a watch that fails, stands still or goes on for hours; with a watch made of paper."""

from __future__ import annotations

import threading
import time
from pathlib import Path
from typing import Any

import msgspec
import pytest

from analysis.model.errors import SettingsError
from analysis.model.feed import FeedStatus
from analysis.model.instant import Instant
from analysis.model.snapshot import OutletStatus, Snapshot
from analysis.output.speaker import STARTING
from analysis.settings.guard_settings import GuardSettings, check_guard, post_token
from tui.cli.guard import REPORT_SECONDS, STILL_SECONDS, Guard, summary, together

HOUR = 3600.0


class Stand:
    """A guard whose watch, lines and service manager only write down; ``now`` is the test's."""

    def __init__(self, watchdog: float | None = 30.0) -> None:
        self.notes: list[str] = []
        self.complaints: list[str] = []
        self.told: list[str] = []
        self.now = 1000.0
        self.lost = 0
        status = FeedStatus(
            address="cam", kind="camera", state="live", evidence="", since=Instant(0.0, 0.0), generation=1, fps=25.0
        )
        self.seen = Snapshot(
            at=Instant(self.now, 0.0), feed=status, reading=None, view=None, alarms=(), timeline=(),
            outlet=OutletStatus(outlet="off", reason="sound is turned off"),
        )  # fmt: skip
        self.measured, self.failure = 7, None
        self.watchdog_seconds, self.present = watchdog, watchdog is not None
        self.gone = threading.Event()
        stand: Any = self
        self.guard = Guard(stand, stand, stand, stand, lines_matter=True)
        self.guard._reported = self.now

    def set(self, **values: object) -> None:
        self.seen = msgspec.structs.replace(self.seen, **values)

    def look(self, after: float = 0.25, *, turning: bool = True) -> None:
        self.now += after
        if turning:
            self.set(at=Instant(self.now, 0.0))
        self.guard._look(self.seen, self.now)

    note = property(lambda self: self.notes.append)
    complain = property(lambda self: self.complaints.append)

    def ready(self, text: str) -> None:
        self.told.append(f"ready {text}")

    def alive(self, text: str) -> None:
        self.told.append(f"alive {text}")


def test_a_watch_that_stands_still_is_told_and_no_longer_reported_as_alive() -> None:
    stand = Stand()
    stand.look()
    assert [told.split()[0] for told in stand.told] == ["ready", "alive"]
    for _ in range(200):
        stand.look(turning=False)
    assert stand.complaints == ["the watch stands still"]
    # 5 s is within the first pause of a third of 30 s, so nothing more went out.
    assert len(stand.told) == 2 and STILL_SECONDS < 10
    stand.look()
    assert stand.complaints[-1] == "the watch goes on" and len(stand.told) == 3


def test_the_watchdog_is_patted_three_times_in_its_time() -> None:
    stand = Stand(watchdog=30.0)
    for _ in range(4 * 600):
        stand.look()
    alive = sum(told.startswith("alive") for told in stand.told)
    assert 55 <= alive <= 61 and sum(told.startswith("ready") for told in stand.told) == 1


def test_without_a_watchdog_the_status_still_moves_and_without_a_manager_nothing() -> None:
    stand = Stand(watchdog=None)
    stand.present = True
    for _ in range(240):
        stand.look()
    assert 3 <= sum(told.startswith("alive") for told in stand.told) <= 4
    lonely = Stand(watchdog=None)
    for _ in range(240):
        lonely.look()
    assert all(told.startswith("ready") for told in lonely.told)


def test_a_line_an_hour() -> None:
    stand = Stand()
    for _ in range(round(3.5 * HOUR / 10)):
        stand.look(10.0)
    told = [note for note in stand.notes if note.startswith("watching")]
    assert told == ["watching cam: live at 25.0 fps, 7 frames measured, no alarm"] * 3
    assert REPORT_SECONDS == HOUR


def test_a_fault_at_every_frame_is_not_a_line_at_every_frame() -> None:
    stand = Stand()
    for number in range(1000):
        stand.set(fault=f"ValueError: {number}")
        stand.look()
    # 250 s
    assert 4 <= len(stand.complaints) <= 6 and stand.complaints[0] == "FAULT ValueError: 0"
    stand.set(fault=None)
    stand.look()
    assert stand.guard._fault is None


def test_of_sound_that_starts_only_the_outcome_is_told() -> None:
    stand = Stand()
    stand.guard._began = stand.now
    stand.set(outlet=OutletStatus(outlet="bell", reason=f"terminal bell: {STARTING}"))
    stand.look()
    stand.set(outlet=OutletStatus(outlet="bell", reason="terminal bell: no sound device"))
    stand.look()
    assert [note for note in stand.notes if note.startswith("SOUND")] == ["SOUND terminal bell: no sound device"]


def test_sound_that_never_gets_beyond_its_start_is_told() -> None:
    stand = Stand()
    stand.guard._began = stand.now
    stand.set(outlet=OutletStatus(outlet="bell", reason=f"terminal bell: {STARTING}"))
    for _ in range(40):
        stand.look()
    assert [note for note in stand.notes if note.startswith("SOUND")] == [f"SOUND terminal bell: {STARTING}"]


def test_the_outlet_is_told_when_it_moves_and_its_running_numbers_once_a_minute() -> None:
    stand = Stand()
    stand.look()
    for tenths in range(480):
        stand.set(outlet=OutletStatus(outlet="bell", reason=f"terminal bell: no sound for {tenths / 10} s"))
        stand.look()
    stand.set(outlet=OutletStatus(outlet="speakers", reason="speakers of this machine"))
    stand.look()
    told = [note for note in stand.notes if note.startswith("SOUND")]
    assert told[:2] == ["SOUND sound is turned off", "SOUND terminal bell: no sound for 0.0 s"]
    assert told[-1] == "SOUND speakers of this machine" and 4 <= len(told) <= 5  # 480 looks are 120 s


def test_lost_lines_are_told() -> None:
    stand = Stand()
    stand.look()
    stand.lost = 5
    stand.look()
    stand.look()
    assert stand.complaints == ["5 lines so far could not be written to standard output"]


def test_lines_lost_one_after_the_other_are_a_line_a_minute() -> None:
    stand = Stand()
    for number in range(1, 480):  # two minutes
        stand.lost = number
        stand.look()
    assert 2 <= len(stand.complaints) <= 3 and stand.complaints[0].startswith("1 lines so far")


def test_the_summary_names_alarms() -> None:
    from analysis.model.alarm import AlarmStatus

    stand = Stand()
    alarms = tuple(
        AlarmStatus(
            alarm=name, kind="feed", direction="none", state=state, priority=1, occurrence=1, since=Instant(0.0, 0.0),
            reason="", words="", advice="",
        )
        for name, state in (("feed", "normal"), ("dark", "active-acknowledged"), ("disk", "latched-acknowledged"))
    )  # type: ignore[misc]  # fmt: skip
    stand.set(alarms=alarms, feed=msgspec.structs.replace(stand.seen.feed, fps=None, state="lost"))
    assert summary(stand.seen, 12) == "watching cam: lost, 12 frames measured, alarms: dark, disk"


def test_closing_side_by_side_and_no_longer_than_allowed() -> None:
    hang, done = threading.Event(), []
    began = time.monotonic()
    together([lambda: hang.wait(60), lambda: done.append(1), lambda: done.append(2)], 0.3)  # type: ignore[list-item]
    assert sorted(done) == [1, 2] and time.monotonic() - began < 10.0
    hang.set()


@pytest.mark.parametrize("settings", [
    {"hook_seconds": 0}, {"hook_seconds": -1}, {"hook_seconds": 601}, {"hook_seconds": float("nan")}, {"hook": (" ",)},
])  # fmt: skip
def test_settings_that_make_no_sense(settings: dict[str, Any]) -> None:
    with pytest.raises(SettingsError) as told:
        check_guard(GuardSettings(**settings), "settings.toml")
    assert told.value.line().startswith("settings.toml: guard.hook")


def test_settings_as_they_stand_in_toml() -> None:
    raw = {"hook": ["page", "--loud"], "post": "https://boathouse.example", "speak": True}
    guard = msgspec.convert(raw, GuardSettings)
    check_guard(guard, "settings.toml")
    assert guard.hook == ("page", "--loud") and guard.hook_seconds == 10.0 and guard.speak


def test_where_the_token_comes_from(tmp_path: Path) -> None:
    path = tmp_path / "token"
    path.write_text("hornbeam-41\n")
    path.chmod(0o640)
    named = GuardSettings(post_token_file=str(path))
    assert post_token(named, {"STOPKEEPER_POST_TOKEN": "other"}) == "hornbeam-41"
    assert post_token(GuardSettings(), {"STOPKEEPER_POST_TOKEN": "other"}) == "other"
    assert post_token(GuardSettings(), {"STOPKEEPER_POST_TOKEN": ""}) is None
    path.chmod(0o644)
    with pytest.raises(SettingsError, match="may read the token"):
        post_token(named, {})
    path.chmod(0o600)
    path.write_text("\n")
    with pytest.raises(SettingsError, match="empty"):
        post_token(named, {})
    with pytest.raises(SettingsError, match="No such file"):
        post_token(GuardSettings(post_token_file=str(tmp_path / "none")), {})
