"""Controls, limits and camera names in TOML: what is read, and one line for everything that is wrong."""

from __future__ import annotations

from pathlib import Path

import pytest

from analysis.model.controls import ControlLimits, Controls
from analysis.model.errors import SettingsError, StopkeeperError, UsageError
from analysis.settings.camera_files import load_camera
from analysis.settings.control_files import ControlFile, camera_named, load_controls, parse_controls
from analysis.settings.places import shipped

WHOLE = """
camera = "large-sensor-log"
policy = "open-sky"
[controls]
nd_stops = 6
iso = 800
t_stop = 2.8
shutter = "1/48"
rate = 24
key_percent = 60
key_distance = 2.0
key_share = 0.8
[limits]
nd_steps = [0, 2, 4, 6, 8]
iso_range = [400, 3200]
shutter_angles = [90, 180]
key_range = [5, 100]
key_distances = [1.5, 2, 3]
dimmer = [[0, 0], [50, 20], [100, 100]]
locked = ["t_stop"]
"""


def test_a_whole_file() -> None:
    found = parse_controls(WHOLE, "lake.toml")
    assert (found.camera, found.policy) == ("large-sensor-log", "open-sky")
    assert found.controls == Controls(
        nd_stops=6, iso=800, t_stop=2.8, shutter_angle=180.0, rate=24, key_percent=60, key_distance=2, key_share=0.8
    )
    assert found.limits.nd_steps == (0, 2, 4, 6, 8) and found.limits.iso_range == (400, 3200)
    assert found.limits.dimmer == ((0, 0), (50, 20), (100, 100))
    assert found.limits.free("shutter_angle") and not found.limits.free("t_stop")


def test_a_time_stays_that_time_at_the_rate_of_the_feed() -> None:
    """1/50 s is 180 degrees at 25 and 360 at 50 (angle = 360 x rate x time); an angle stays an angle."""
    time = parse_controls("[controls]\nshutter = '1/50'", "x.toml")
    assert [time.at_rate(rate).shutter_angle for rate in (None, 24.0, 25.0, 50.0)] == [180.0, 172.8, 180.0, 360.0]
    assert time.at_rate(100.0).shutter_angle == 360.0  # no shutter is open for longer than a frame
    assert time.at_rate(24.0).seconds == pytest.approx(0.02)
    assert parse_controls("[controls]\nshutter_angle = 180", "x.toml").at_rate(50.0).seconds == pytest.approx(0.01)
    own = parse_controls("[controls]\nshutter = '1/50'\nrate = 24", "x.toml")
    assert own.at_rate(50.0) == own.controls  # a rate that is told is the camera's, whatever the feed's


def test_an_empty_file_is_the_defaults() -> None:
    assert parse_controls("", "x.toml") == ControlFile(controls=Controls(), limits=ControlLimits())
    assert ControlLimits().locked == ("t_stop", "shutter_angle")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[controls]\niso = 'high'", "controls.iso"),
        ("[controls]\niso = 0", "controls.iso is 0; use 1 to"),
        ("[controls]\niso = nan", "controls.iso is nan"),
        ("[controls]\nnd_stops = -1", "use 0 to 20"),
        ("[controls]\nshutter_angle = 361", "use 0.1 to 360"),
        ("[controls]\nshutter = '1/4'", "controls.shutter is longer than a frame at 25; use 1/25 or shorter"),
        ("[controls]\nshuter = '1/50'", 'did you mean "shutter"?'),
        ("shutter_seconds = 1", "unknown key shutter_seconds"),
        ("[controls]\nshutter = 50", 'write it like "1/50"'),
        ("[controls]\nshutter = '1/0'", "is not a time"),
        ("[controls]\nshutter = '1/50'\nshutter_angle = 180", "keep one of them"),
        ("[controls]\nkey_share = 1.2", "use 0 to 1"),
        ("[limits]\nlocked = ['iris']", "use nd, iso, t_stop, shutter_angle, key"),
        ("[limits]\nlocked = ['nd', 'nd']", "names a control twice"),
        ("[limits]\nnd_range = [8, 2]", "runs backwards"),
        ("[limits]\nnd_range = [0, 20]\nnd_step = 0.05", "too many steps"),
        ("[limits]\nnd_range = [8]", "limits.nd_range"),
        ("[limits]\niso_stepps = [100]", 'did you mean "iso_steps"?'),
        ("[limits]\niso_steps = [100, 'x']", "limits.iso_steps"),
        ("[limits]\ndimmer = [[0, 0], [50, 80], [40, 100]]", "not a rising curve"),
        ("[limits]\ndimmer = [[0, 0]]", "not a rising curve"),
        ("limits = 3", "limits must be a table"),
        ("[limit]\nx = 1", 'did you mean "limits"?'),
        ("policy = 3", "policy must be a name"),
        ("[controls", "not valid TOML"),
        ("[limits]\nnd_steps = [" + ", ".join("1" for _ in range(300)) + "]", "200 are the most"),
    ],
)
def test_everything_wrong_is_one_line(text: str, words: str) -> None:
    with pytest.raises(SettingsError) as raised:
        parse_controls(text, "lake.toml")
    line = raised.value.line()
    assert line.startswith("lake.toml: ") and words in line and "\n" not in line


def test_files_are_read_and_missing_ones_told(tmp_path: Path) -> None:
    path = tmp_path / "lake.toml"
    path.write_text(WHOLE)
    assert load_controls(path).controls.nd_stops == 6
    with pytest.raises(SettingsError, match="check the path"):
        load_controls(tmp_path / "none.toml")


@pytest.mark.parametrize("name", ["large-sensor-log", "webcam"])
def test_the_cameras_that_ship_can_be_used(name: str) -> None:
    profile = camera_named(name, {})
    assert profile == load_camera(shipped("configs") / "cameras" / f"{name}.toml")
    assert profile.name == name and profile.natives and profile.iso_steps


def test_the_operators_own_camera_stands_before_one_that_ships(tmp_path: Path) -> None:
    env = {"XDG_CONFIG_HOME": str(tmp_path)}
    folder = tmp_path / "stopkeeper" / "cameras"
    folder.mkdir(parents=True)
    text = (shipped("configs") / "cameras" / "webcam.toml").read_text()
    (folder / "webcam.toml").write_text(text.replace("bits = 8", "bits = 10"))
    assert camera_named("webcam", env).bits == 10
    assert camera_named(str(folder / "webcam.toml"), {}).bits == 10
    with pytest.raises(UsageError, match='did you mean "webcam"'):
        camera_named("webcm", env)
    with pytest.raises(StopkeeperError):
        camera_named(str(tmp_path / "none.toml"), env)
