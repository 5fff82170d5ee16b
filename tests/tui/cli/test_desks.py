"""What a watch begins with: controls from a file or as last changed, holds from the folder, refusals in one line."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from analysis.model.controls import Controls
from analysis.model.errors import StopkeeperError
from analysis.model.sitter import Aim, Spot
from analysis.settings.aim_settings import AimChoice
from analysis.settings.hold_files import hold_path, save_hold
from analysis.settings.kept_controls import kept_path
from analysis.settings.schema import PlanSettings, Settings
from analysis.settings.setup_files import SetUp, save_set_up, set_up_path
from tests.tui.holding import holds
from tui.cli.desks import controls_named, guard_desks, open_desks

FEED = "scene:boathouse"


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for name in ("HOME", "XDG_STATE_HOME", "XDG_CONFIG_HOME"):
        monkeypatch.setenv(name, str(tmp_path))
    return tmp_path


def test_nothing_kept_and_nothing_named_is_a_watch_that_knows_nothing() -> None:
    opened = open_desks(Settings(), FEED, None)
    assert opened.note is None
    assert not opened.desks.plans.planning.said and opened.desks.holds.matching.names == ()
    assert set(opened.desks.plans.planning.policies) >= {"open-sky", "even-light", "built-light"}


def test_controls_come_from_the_file_then_from_what_was_changed(tmp_path: Path) -> None:
    file = tmp_path / "lakecam.toml"
    file.write_text("[controls]\nnd_stops = 6\niso = 800\n")
    opened = open_desks(Settings(), FEED, file)
    assert opened.desks.plans.planning.controls.nd_stops == 6.0
    opened.desks.plans.set_controls(Controls(nd_stops=4.0, iso=640.0))
    opened.desks.keep_controls()
    assert opened.archive.close(10.0)
    again = open_desks(Settings(), FEED, file)
    assert again.desks.plans.planning.controls.nd_stops == 4.0
    assert "as last changed in the watch" in (again.note or "")
    # Another feed is another camera.
    assert open_desks(Settings(), "clip.mov", file).desks.plans.planning.controls.nd_stops == 6.0


def test_the_settings_may_name_the_file() -> None:
    named = msgspec.structs.replace(Settings(), plan=PlanSettings(controls="~/lakecam.toml"))
    assert controls_named(None, named) == Path("~/lakecam.toml").expanduser()
    assert controls_named(Path("other.toml"), named) == Path("other.toml")
    assert controls_named(None, Settings()) is None


def test_the_file_that_ships_can_be_taken_as_it_is() -> None:
    opened = open_desks(Settings(), FEED, Path("configs/controls.toml"))
    planning = opened.desks.plans.planning
    assert planning.said and planning.camera == "large-sensor-log" and planning.controls.nd_stops == 6.0


def test_a_hold_is_matched_from_the_start_and_one_that_is_not_there_is_told_with_the_nearest() -> None:
    bench = holds()[0]
    save_hold(bench, hold_path("bench"))
    assert open_desks(Settings(), FEED, None, "bench").desks.holds.matching.hold is not None
    with pytest.raises(StopkeeperError) as refused:
        open_desks(Settings(), FEED, None, "bensh")
    assert refused.value.line() == 'hold: no hold bensh; did you mean "bench"?'


def test_a_hold_that_cannot_be_read_is_a_note() -> None:
    path = hold_path("broken")
    path.parent.mkdir(parents=True)
    path.write_text("{")
    note = open_desks(Settings(), FEED, None).note or ""
    assert str(path) in note and "\n" not in note


def test_a_guard_takes_one_hold_and_reads_no_other(monkeypatch: pytest.MonkeyPatch) -> None:
    bench = holds()[0]
    save_hold(bench, hold_path("bench"))
    hold_path("broken").write_text("{")
    monkeypatch.setattr("analysis.settings.hold_files.load_holds", lambda _: pytest.fail("all holds were read"))
    desks, spots, note = guard_desks(Settings(), FEED, "bench")
    assert desks.holds.matching.hold is not None and desks.holds.matching.names == ("bench",)
    assert (spots, note) == ((), None)
    assert guard_desks(Settings(), FEED).desks.holds.matching.names == ()
    with pytest.raises(StopkeeperError) as refused:
        guard_desks(Settings(), FEED, "bensh")
    assert refused.value.line() == 'hold: no hold bensh; did you mean "bench"?'


def test_a_guard_plans_nothing_and_writes_nothing(home: Path) -> None:
    file = home / "lakecam.toml"
    file.write_text("camera = 'large-sensor-log'\n[controls]\nnd_stops = 6\nkey_percent = 40\n")
    settings = msgspec.structs.replace(Settings(), plan=PlanSettings(controls=str(file)))
    desks = guard_desks(settings, FEED).desks
    # Clipped is counted to the same end as on the screen, where the controls name the camera.
    assert desks.plans.planning.profile is not None and desks.plans.planning.profile.name == "large-sensor-log"
    assert desks.plans.controls is None and desks.archive is None
    desks.keep_controls()
    assert [path.name for path in home.rglob("*") if path.is_file()] == ["lakecam.toml"]


def test_a_guard_takes_up_the_spots_and_aims_of_a_set_up() -> None:
    lamp = Spot(name="lamp", kind="watch", x=0.1, y=0.1, width=0.2, height=0.2)
    aim = Aim(target="lamp", value=50.0, tolerance=2.0)
    chosen = AimChoice(value=50.0, tolerance=2.0)
    save_set_up(SetUp(name="bench", spots=(lamp,), aims={"lamp": chosen}), set_up_path("bench"))
    other = Aim(target="sitter", value=48.0, tolerance=2.0)
    settings = msgspec.structs.replace(Settings(), aims={"sitter": AimChoice(value=48.0, tolerance=2.0)})
    desks, spots, _ = guard_desks(settings, FEED, None, "bench")
    assert spots == (lamp,) and {aim, other} <= set(desks.aims.in_force("bt709"))
    with pytest.raises(StopkeeperError) as refused:
        guard_desks(Settings(), FEED, None, "bensh")
    assert refused.value.line() == '--set-up: no set-up bensh; did you mean "bench"?'


def test_a_guard_says_what_it_left_out(home: Path) -> None:
    kept = home / "stopkeeper" / "controls"
    kept.mkdir(parents=True)
    kept_path(FEED, None, {"XDG_STATE_HOME": str(home)}).write_text("camera = 'gone'\n")
    assert "kept controls left out" in (guard_desks(Settings(), FEED).note or "")
