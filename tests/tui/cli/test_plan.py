"""``stopkeeper plan`` as a user calls it: on a scene, a saved reading, with options and files; its errors."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import pytest

from analysis.settings.camera_files import save_camera
from analysis.settings.control_files import camera_named
from tests.exposure.outdoors import INDOORS, OUTDOORS, reading
from tests.tui.cli.here import program
from tests.tui.cli.program import Said
from tui.cli import main

Run = Callable[..., Said]
SCENE = "scene:boathouse?curve=acescct&bits=10&size=640x360&nd=2&iso=800&clouds=off&sway=off"
SET = ("--nd", "2", "--iso", "800", "--t-stop", "2.8")


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    monkeypatch.setitem(main.COMMANDS, "plan", ("tui.cli.plan", "Plan."))
    return program(tmp_path, monkeypatch, capsys)


@pytest.fixture
def saved(tmp_path: Path) -> str:
    """A saved reading outdoors: the sitter half a stop over +0.8."""
    path = tmp_path / "outdoors.json"
    path.write_bytes(msgspec.json.encode(reading(1.3, *OUTDOORS)) + b"\n")
    return str(path)


def answer(said: Said) -> dict[str, Any]:
    assert said.code == 0 and said.err == "", said
    assert said.out.count("\n") == 1
    return json.loads(said.out)


def test_the_documented_object(run: Run, saved: str) -> None:
    found = answer(
        run("plan", saved, "--nd", "6", "--iso", "800", "--camera", "large-sensor-log", "--aim", "0.8st", "--json")
    )
    assert {"now", "policy", "plans"} <= set(found)
    assert set(found["now"]) == {"controls", "sitter_level", "clipped"}
    assert found["policy"] == "open-sky" and "within 2 stops of the clip" in found["why"]
    for way in found["plans"]:
        assert set(way) == {"controls", "moves", "predicted", "costs", "reason"}
        assert set(way["controls"]) == {"nd_stops", "iso", "t_stop", "shutter_angle", "key_percent"}
        assert set(way["predicted"]) == {
            "sitter_level", "sitter_stops", "clipped", "at_least", "crushed", "headroom_stops", "shadow_snr_stops",
        }  # fmt: skip
        assert isinstance(way["predicted"]["at_least"], bool) and way["reason"].endswith(".")
        assert {"noise_stops", "depth_of_field_stops", "motion_stops"} <= set(way["costs"])
    ways = [(way["controls"]["nd_stops"], way["controls"]["iso"]) for way in found["plans"]]
    assert ways[:2] == [(6.0, 640.0), (8.0, 2000.0)]
    assert found["missing"] is None


def test_words_for_a_person(run: Run, saved: str) -> None:
    said = run("plan", saved, "--nd", "6", "--camera", "large-sensor-log", "--aim", "0.8st")
    assert said.code == 0 and said.err == ""
    assert said.out.splitlines()[0] == "now: ND 6 stops, ISO 800, 180 degrees at 25"
    assert "1. ISO from 800 to 640 (1/3 stop down)" in said.out
    assert "2. ND from 6 to 8 stops (density 2.4, 2 stops more)" in said.out
    assert "more noise in the shadows" in said.out


def test_a_scene_with_a_face_that_is_found(run: Run) -> None:
    found = answer(run("plan", SCENE, *SET, "--camera", "large-sensor-log", "--aim", "0st", "--frames", "3", "--json"))
    assert found["now"]["sitter_level"] == pytest.approx(44.0, abs=3.0)
    assert found["plans"][0]["predicted"]["sitter_stops"] == pytest.approx(0.0, abs=0.35)


def test_a_scene_where_the_skin_is_pointed_to(run: Run) -> None:
    found = answer(run("plan", SCENE, *SET, "--skin", "0.45,0.3,0.05,0.05", "--aim", "45", "--frames", "2", "--json"))
    assert found["now"]["sitter_level"] is not None


def test_controls_from_a_file_and_options_before_it(run: Run, saved: str, tmp_path: Path) -> None:
    path = tmp_path / "lake.toml"
    path.write_text(
        'camera = "large-sensor-log"\npolicy = "even-light"\n[controls]\nnd_stops = 4\niso = 1600\n'
        '[limits]\nlocked = ["t_stop", "shutter_angle", "nd"]\n'
    )
    found = answer(run("plan", saved, "--controls", str(path), "--nd", "6", "--aim", "0.3st", "--json"))
    assert found["policy"] == "even-light" and found["why"] == "asked for"
    assert (found["now"]["controls"]["nd_stops"], found["now"]["controls"]["iso"]) == (6.0, 1600.0)
    assert {way["controls"]["nd_stops"] for way in found["plans"]} == {6.0}


def test_an_impossible_aim_says_what_is_missing(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "dark.json"
    path.write_bytes(msgspec.json.encode(reading(-3.0, *INDOORS)))
    found = answer(run("plan", str(path), "--nd", "0", "--aim", "0.8st", "--lock", "iso", "--json"))
    assert found["missing"] == "3 2/3 stops short even at ISO 800: more light"
    assert any("Lamps are hot" in each for each in found["cautions"])
    said = run("plan", str(path), "--nd", "0", "--aim", "0.8st", "--lock", "iso")
    assert "No way reaches the aim: 3 2/3 stops short even at ISO 800: more light." in said.out
    assert "Caution: Lamps are hot" in said.out


def test_opening_toward_the_sky_carries_its_caution(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "dim.json"
    path.write_bytes(msgspec.json.encode(reading(-1.2, (50.0, -6.0, 0.0), (50.0, 1.6, 2.5))))
    said = run("plan", str(path), "--nd", "6", "--camera", "large-sensor-log", "--aim", "0.8st", "--policy", "open-sky")
    assert said.code == 0
    assert "ND from 6 to 4 stops" in said.out and "Never aim at the sun" in said.out


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (("--aim", "bright"), 2, "write 50 for IRE, or 0.8st for stops"),
        (("--aim", "50", "--complexion", "light"), 2, "keep one of them"),
        (("--iso", "0"), 2, "--iso"),
        (("--nd", "nan"), 2, "--nd"),
        (("--lock", "iris"), 2, "no control iris"),
        (("--policy", "open-sy"), 2, 'did you mean "open-sky"?'),
        (("--camera", "webcm"), 2, 'did you mean "webcam"?'),
        (("--skin", "0.1,0.1,0.2,0.2"), 2, "a saved reading has no picture"),
        (("--controls", "/nowhere.toml"), 2, "/nowhere.toml"),
        (("--curve", "no-such"), 2, "no-such"),
    ],
)
def test_mistakes_are_one_line(run: Run, saved: str, words: tuple[str, ...], code: int, says: str) -> None:
    said = run("plan", saved, *words)
    assert said.code == code and said.out == ""
    assert len(said.err.splitlines()) == 1 and says in said.err and "Traceback" not in said.err


@pytest.mark.parametrize("text", [b"", b"{}", b"not json", b"\xff\xfe", b'{"sequence": 1}'])
def test_what_is_no_reading_is_told(run: Run, tmp_path: Path, text: bytes) -> None:
    path = tmp_path / "bad.json"
    path.write_bytes(text)
    said = run("plan", str(path))
    assert said.code == 2 and len(said.err.splitlines()) == 1 and "stopkeeper read" in said.err


def test_nobody_in_the_picture(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "empty.json"
    path.write_bytes(msgspec.json.encode(msgspec.structs.replace(reading(0.0, *INDOORS), sitters=None)))
    said = run("plan", str(path))
    assert said.code == 2 and "no sitter is read in this picture" in said.err and "--skin" in said.err
    found = answer(run("plan", str(path), "--skin-level", "44", "--aim", "0.8st", "--json"))
    assert found["now"]["sitter_level"] == 44.0


def test_help_has_an_example(run: Run) -> None:
    said = run("plan", "--help")
    assert said.code == 0 and "Example: stopkeeper plan" in said.out


def test_where_nobody_told_what_is_set_ways_are_steps(run: Run, saved: str) -> None:
    said = run("plan", saved, "--aim", "0.8st", "--policy", "open-sky")
    assert said.code == 0 and said.out.startswith("now: nobody told what is set")
    assert " ISO down 1/3 stop" in said.out and "from 800" not in said.out
    found = answer(run("plan", saved, "--aim", "0.8st", "--json"))
    assert found["said"] is False
    assert answer(run("plan", saved, "--aim", "0.8st", "--nd", "6", "--json"))["said"] is True


def test_a_shutter_by_its_time(run: Run, saved: str) -> None:
    found = answer(run("plan", saved, "--angle", "1/100", "--aim", "0.8st", "--json"))
    assert found["now"]["controls"]["shutter_angle"] == 90.0
    said = run("plan", saved, "--angle", "1/10", "--aim", "0.8st")
    assert said.code == 2
    assert said.err == "stopkeeper: --angle: 1/10 is longer than a frame at 25; use 1/25 or shorter\n"


def test_a_background_is_told_with_its_prediction(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "bench.json"
    path.write_bytes(msgspec.json.encode(reading(1.8, *INDOORS, background=0.0)))
    words = ("--nd", "0", "--key", "10", "--aim", "0.8st", "--background-aim", "-2st")
    said = run("plan", str(path), *words, "--camera", "large-sensor-log")
    assert said.code == 0 and "background -2.00 stops" in said.out and "first the background" in said.out


def test_things_that_do_not_go_together(run: Run, saved: str, tmp_path: Path) -> None:
    said = run("plan", saved, "--background-aim", "20")
    assert said.code == 2 and "--background-aim, but no background" in said.err
    said = run("plan", saved, "--lock", "nd", "--free", "nd")
    assert said.code == 2 and "--lock and --free both name nd" in said.err
    path = tmp_path / "lake.toml"
    path.write_text('policy = "opensky"\n')
    said = run("plan", saved, "--controls", str(path))
    assert said.code == 2 and said.err.startswith(f"stopkeeper: {path}: no policy opensky")


def test_the_end_that_a_camera_profile_knows_counts_in_the_picture_too(run: Run, tmp_path: Path) -> None:
    profile = tmp_path / "mine.toml"
    save_camera(msgspec.structs.replace(camera_named("large-sensor-log", {}), clip_percent=40.0), profile)
    point = ("--skin", "0.45,0.3,0.05,0.05", "--aim", "45", "--frames", "2", "--json")
    usual, known = (answer(run("plan", SCENE, *SET, *point, *more)) for more in ((), ("--camera", str(profile))))
    assert usual["now"]["clipped"] == 0.0 and known["now"]["clipped"] > 1.0


def test_a_range_is_told_in_words_costs_and_reason_alike_and_its_least_as_clipped(run: Run, tmp_path: Path) -> None:
    """Four stops under in 8 bits: how much opening again will clip is known between two figures."""
    loose = tmp_path / "loose.toml"
    loose.write_text("name = 'loose'\ntitle = 't'\nwhy = 'w'\nmost_clipped = 20.0\n")
    dark = "scene:boathouse?bits=8&size=640x360&nd=6&sun=on&clouds=off&sway=off"
    asked = ("plan", dark, "--nd", "6", "--policy", str(loose), "--skin-level", "7.9", "--aim", "0.5st")
    first = answer(run(*asked, "--json"))["plans"][0]
    least, most = first["predicted"]["clipped"], first["costs"]["clipped_at_most"]
    assert first["predicted"]["at_least"] is True and 0.0 < least < most - 0.05
    words = run(*asked).out
    assert f"clipped {least:.2f} to {most:.2f} % (the dark picture is too coarse to tell)" in words
    assert f"up to {first['costs']['clipped']:.2f} % more clipped" in words
