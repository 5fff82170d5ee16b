"""Controls kept from one session to the next: the newer of two files counts, and the note says which was taken."""

from __future__ import annotations

import os
import stat
import tomllib
from pathlib import Path

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.model.controls import CONTROLS, ControlLimits, Controls
from analysis.model.errors import SettingsError, UsageError
from analysis.settings.control_files import ControlFile, parse_controls
from analysis.settings.kept_controls import kept_path, take_controls, to_toml

FEED = "/dev/video0"
CHANGED = ControlFile(controls=Controls(nd_stops=8.0, iso=2000.0), policy="open-sky")


@pytest.fixture
def env(tmp_path: Path) -> dict[str, str]:
    return {"XDG_STATE_HOME": str(tmp_path / "state"), "XDG_CONFIG_HOME": str(tmp_path / "config")}


@pytest.fixture
def named(tmp_path: Path) -> Path:
    path = tmp_path / "lakecam.toml"
    path.write_text("camera = 'large-sensor-log'\n[controls]\nnd_stops = 6\nt_stop = 2.8\n")
    return path


def keep(file: ControlFile, path: Path, at: float) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(to_toml(file))
    os.utime(path, (at, at))


def test_nothing_told_is_nothing_taken(env) -> None:
    taken = take_controls(FEED, None, None, env)
    assert taken.file is None
    assert taken.note is None
    assert taken.camera is None
    assert {"open-sky", "even-light", "built-light"} <= set(taken.policies)
    assert taken.kept.parent == Path(env["XDG_STATE_HOME"]) / "stopkeeper" / "controls"


def test_a_named_file_is_taken_with_its_camera(env, named: Path) -> None:
    taken = take_controls(FEED, named, None, env)
    assert taken.file is not None
    assert taken.file.controls.nd_stops == 6.0
    assert taken.camera is not None
    assert taken.camera.name == "large-sensor-log"
    assert taken.note is None


def test_the_camera_of_the_settings_stands_in(env) -> None:
    camera = take_controls(FEED, None, "webcam", env).camera
    assert camera is not None
    assert camera.name == "webcam"


def test_a_later_change_in_the_watch_outranks_the_file(env, named: Path) -> None:
    os.utime(named, (1000.0, 1000.0))
    keep(CHANGED, kept_path(FEED, named, env), 2000.0)
    taken = take_controls(FEED, named, None, env)
    assert taken.file == CHANGED
    assert taken.note == "controls as last changed in the watch, not as lakecam.toml says"


def test_a_file_edited_later_outranks_the_change(env, named: Path) -> None:
    os.utime(named, (3000.0, 3000.0))
    keep(CHANGED, kept_path(FEED, named, env), 2000.0)
    taken = take_controls(FEED, named, None, env)
    assert taken.file is not None
    assert taken.file.controls.nd_stops == 6.0
    assert taken.note == "controls as lakecam.toml says, which is newer than what was kept"


def test_another_file_begins_afresh(env, named: Path, tmp_path: Path) -> None:
    keep(CHANGED, kept_path(FEED, named, env), 2e9)
    other = tmp_path / "porch.toml"
    other.write_text("[controls]\nnd_stops = 2\n")
    taken = take_controls(FEED, other, None, env)
    assert taken.file is not None
    assert taken.file.controls.nd_stops == 2.0
    assert taken.note is None


def test_without_a_file_the_newest_of_the_feed_is_taken_and_no_other_feed_s(env, named: Path) -> None:
    keep(ControlFile(controls=Controls(nd_stops=1.0)), kept_path(FEED, None, env), 1000.0)
    keep(CHANGED, kept_path(FEED, named, env), 2000.0)
    keep(ControlFile(controls=Controls(nd_stops=3.0)), kept_path("/dev/video1", None, env), 3000.0)
    taken = take_controls(FEED, None, None, env)
    assert taken.file == CHANGED
    assert taken.note == "controls as last changed in the watch"
    assert taken.kept == kept_path(FEED, None, env)


def test_feeds_that_look_alike_are_told_apart(env) -> None:
    paths = {kept_path(feed, None, env) for feed in ("rtsp://a/1", "rtsp://a-1", "RTSP://A/1", "", "図")}
    assert len(paths) == 5
    assert all(path.name.isascii() for path in paths)


@pytest.mark.parametrize(
    "broken",
    ["iso = ", "[controls]\nnd = 1", "camera = 'no such camera'", "policy = 'no such policy'", "[controls]\niso = -1"],
)
def test_what_was_kept_and_is_broken_is_left_out_and_said(env, named: Path, broken: str) -> None:
    path = kept_path(FEED, named, env)
    path.parent.mkdir(parents=True)
    path.write_text(broken)
    os.utime(path, (3e9, 3e9))
    taken = take_controls(FEED, named, None, env)
    assert taken.file is not None
    assert taken.file.controls.nd_stops == 6.0
    assert taken.note is not None
    assert taken.note.startswith("kept controls left out: ")
    assert "\n" not in taken.note


def test_what_the_operator_named_and_is_broken_is_refused(env, tmp_path: Path) -> None:
    path = tmp_path / "bench.toml"
    with pytest.raises(SettingsError):
        take_controls(FEED, path, None, env)
    path.write_text("policy = 'open-skye'")
    with pytest.raises(UsageError, match="open-sky"):
        take_controls(FEED, path, None, env)


def test_a_broken_policy_stops_only_who_asks_for_it(env, tmp_path: Path) -> None:
    folder = Path(env["XDG_CONFIG_HOME"]) / "stopkeeper" / "policies"
    folder.mkdir(parents=True)
    (folder / "mine.toml").write_text("name = ")
    assert "mine" not in take_controls(FEED, None, None, env).policies
    path = tmp_path / "bench.toml"
    path.write_text("policy = 'mine'")
    with pytest.raises(SettingsError, match="mine"):
        take_controls(FEED, path, None, env)


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_a_folder_that_cannot_be_read_is_said(env) -> None:
    folder = Path(env["XDG_STATE_HOME"]) / "stopkeeper" / "controls"
    folder.mkdir(parents=True)
    folder.chmod(0)
    try:
        assert "kept controls left out" in (take_controls(FEED, None, None, env).note or "")
    finally:
        folder.chmod(stat.S_IRWXU)


steps = st.lists(st.floats(0.0, 20.0), max_size=4).map(tuple)
limits = st.builds(
    ControlLimits,
    nd_steps=steps,
    iso_range=st.none() | st.tuples(st.floats(1.0, 400.0), st.floats(400.0, 1e7)),
    key_step=st.floats(0.01, 100.0),
    dimmer=st.sampled_from([(), ((0.0, 0.0), (50.0, 20.0), (100.0, 100.0))]),
    locked=st.lists(st.sampled_from(CONTROLS), unique=True, max_size=5).map(tuple),
)
controls = st.builds(
    Controls,
    nd_stops=st.floats(0.0, 20.0),
    iso=st.floats(1.0, 1e7),
    t_stop=st.none() | st.floats(0.5, 64.0),
    shutter_angle=st.floats(0.1, 360.0),
    rate=st.floats(0.1, 1000.0),
    key_percent=st.none() | st.floats(0.0, 100.0),
    key_distance=st.none() | st.floats(0.01, 1000.0),
    key_share=st.floats(0.0, 1.0),
)
words = st.none() | st.text(st.characters(codec="utf-8"), min_size=1).filter(str.strip)


@given(st.builds(ControlFile, controls=controls, limits=limits, camera=words, policy=words))
def test_what_is_written_reads_back_the_same(file: ControlFile) -> None:
    text = to_toml(file)
    tomllib.loads(text)
    assert parse_controls(text, "kept") == file


def test_no_locks_are_kept_as_no_locks() -> None:
    free = ControlFile(limits=msgspec.structs.replace(ControlLimits(), locked=()))
    assert "locked = []" in to_toml(free)
    assert parse_controls(to_toml(free), "kept").limits.locked == ()


def test_a_shutter_time_is_kept_as_a_time() -> None:
    told = parse_controls("[controls]\nshutter = '1/48'\nnd_stops = 2", "x.toml")
    again = parse_controls(to_toml(told), "kept.toml")
    assert again.at_rate(50.0).seconds == pytest.approx(1.0 / 50.0)  # no longer than a frame
    assert again.at_rate(30.0).seconds == pytest.approx(1.0 / 48.0) and again.controls.nd_stops == 2.0
