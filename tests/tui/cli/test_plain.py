"""The watch without a screen, as a log or a screen reader gets it."""

from __future__ import annotations

import signal
import subprocess
import time
from pathlib import Path

from tests.tui.cli.program import PROGRAM, ROOT, environment, one_line, stopkeeper


def test_a_line_a_second(tmp_path: Path) -> None:
    said = stopkeeper("watch", "scene:boathouse", "--plain", "--seconds", "3", "--sound", "off", home=tmp_path)
    assert said.code == 0 and said.err == ""
    told = [line for line in said.out.splitlines() if "middle" in line or "no picture: opening" in line]
    assert len(told) == 3 and "middle" in told[-1], said.out
    assert any("FEED live" in line for line in said.out.splitlines())
    assert all(line[:4].isdigit() and line[10] == "T" for line in told)


def test_an_alarm_is_told_when_it_happens(tmp_path: Path) -> None:
    config = tmp_path / "touchy.toml"
    config.write_text("[alarms.shadows]\nlimit = 0.0001\nclear = 0\non_delay = 0\n[meter]\ncrush_percent = 30\n")
    said = stopkeeper(
        "watch", "scene:boathouse", "--plain", "--seconds", "2", "--config", str(config), "--sound", "bell",
        home=tmp_path,
    )  # fmt: skip
    told = [line for line in said.out.splitlines() if "ALARM" in line]
    assert len(told) == 1 and "ALARM shadows: active-unacknowledged; crushed" in told[0], said.out
    assert "\a" not in said.out + said.err, "a bell goes to a terminal, never into a file"


def test_a_feed_that_is_lost_is_told_and_the_watch_goes_on(tmp_path: Path) -> None:
    said = stopkeeper(
        "watch", "faulty:boathouse?fault=vanish&at=25", "--plain", "--seconds", "4", "--sound", "off", home=tmp_path
    )
    assert said.code == 0
    told = said.out.splitlines()
    assert any("ALARM feed: active-unacknowledged" in line for line in told), said.out
    assert sum("ALARM feed: active-unacknowledged" in line for line in told) == 1


def test_a_file_that_can_never_be_read_ends_it_with_one_line(tmp_path: Path) -> None:
    path = tmp_path / "notes.mp4"
    path.write_text("varnish " * 100)
    said = stopkeeper("watch", str(path), "--plain", "--sound", "off", home=tmp_path)
    assert str(path) in one_line(said._replace(out=""), 1)


def test_without_a_device_the_scene_is_opened_and_said_to_be_one(tmp_path: Path) -> None:
    if any(Path("/dev").glob("video*")):
        return
    said = stopkeeper("watch", "--plain", "--seconds", "1", "--sound", "off", home=tmp_path)
    assert said.out.startswith("No capture device found: this is the rendered boathouse, not a camera.")


def test_sigterm_ends_it_cleanly(tmp_path: Path) -> None:
    watch = subprocess.Popen(
        [*PROGRAM, "watch", "scene:boathouse", "--plain"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=ROOT, env=environment(tmp_path),
    )  # fmt: skip
    assert watch.stdout is not None and watch.stderr is not None
    watch.stdout.readline()
    began = time.monotonic()
    watch.send_signal(signal.SIGTERM)
    assert watch.wait(10) == 143
    assert time.monotonic() - began < 6, "three seconds are promised; a busy machine gets twice that"
    assert "Traceback" not in watch.stderr.read()
    watch.stdout.close()
    watch.stderr.close()


def test_plain_lines_hold_the_sitter_to_the_aim_of_the_settings(tmp_path: Path) -> None:
    settings = tmp_path / "settings.toml"
    settings.write_text("[aims.sitter]\nvalue = 50\ntolerance = 3\n")
    said = stopkeeper(
        "watch", "scene:boathouse?nd=6&size=640x360&noise=off", "--plain", "--sound", "off", "--seconds", "12",
        "--config", str(settings), home=tmp_path,
    )  # fmt: skip
    assert "ALARM skin-low: active-unacknowledged" in said.out, said


def test_plain_lines_refuse_a_hold_that_there_is_not(tmp_path: Path) -> None:
    assert "no hold bench" in one_line(stopkeeper("watch", "--plain", "--match", "bench", home=tmp_path), 2)
