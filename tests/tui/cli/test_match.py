"""``stopkeeper match`` and ``holds`` as a user calls them: scenes, files, saved readings and holds; their errors."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import pytest

from analysis.settings.hold_files import to_json
from tests.exposure.outdoors import OUTDOORS, reading
from tests.settings.test_hold_files import HOLD
from tests.tui.cli.here import program
from tests.tui.cli.program import Said, one_line

Run = Callable[..., Said]
SCENE = "scene:boathouse?size=480x270&clouds=off&sway=off&sun=off"
SKIN = ("--skin", "0.65,0.42,0.016,0.03", "--frames", "2")
WALL = ("--background", "0.05,0.35,0.1,0.2")
SHIPPED = "recordings/boathouse-709-8bit.mp4"


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    return program(tmp_path, monkeypatch, capsys)


@pytest.fixture
def saved(tmp_path: Path) -> Callable[[str, float], str]:
    """Writes a saved reading of that skin and gives its path."""

    def write(name: str, skin: float) -> str:
        path = tmp_path / name
        parts = ((share, low + skin, high + skin) for share, low, high in OUTDOORS)
        path.write_bytes(msgspec.json.encode(reading(skin, *parts, background=skin - 1.0)) + b"\n")
        return str(path)

    return write


@pytest.fixture
def controls(tmp_path: Path) -> str:
    path = tmp_path / "lakecam.toml"
    path.write_text("[controls]\nnd_stops = 3\niso = 800\nt_stop = 2.8\n[limits]\nnd_range = [0, 8]\n")
    return str(path)


def answer(said: Said) -> dict[str, Any]:
    assert said.code == 0 and said.err == "", said
    assert said.out.count("\n") == 1
    return json.loads(said.out)


def test_the_documented_object(run: Run, controls: str) -> None:
    """One stop of ND apart, through two curves and two depths (ND in stops: ISO 5800 and common practice)."""
    one, other = f"{SCENE}&nd=2", f"{SCENE}&nd=3&curve=acescct&bits=10"
    found = answer(run("match", one, other, *SKIN, *WALL, "--controls", controls, "--json"))
    assert set(found) == {"a", "b", "difference", "moves", "plans", "missing", "trouble", "cautions"}
    assert set(found["a"]) == {"name", "bits", "range", "curve", "sitter_level", "sitter_stops"}
    assert (found["a"]["curve"], found["a"]["bits"]) == ("bt709", 8)
    assert (found["b"]["curve"], found["b"]["bits"]) == ("acescct", 10)
    apart = found["difference"]
    for name in ("sitter", "background", "highlights", "middle"):
        assert set(apart[name]) == {"stops", "at_least", "live", "hold"}
        assert apart[name]["stops"] == pytest.approx(-1.0, abs=0.06), name
        assert apart[name]["stops"] == pytest.approx(apart[name]["live"] - apart[name]["hold"], abs=2e-4)
    assert apart["ratio"]["stops"] == pytest.approx(0.0, abs=0.06)
    assert apart["background_by"] == "spot" and apart["notes"] == []
    assert found["moves"] == ["open 1 stop on everything: that brings the background to the hold"]
    first = found["plans"][0]
    assert set(first) == {"controls", "moves", "predicted", "reason"}
    assert first["controls"]["nd_stops"] == pytest.approx(2.0) and found["missing"] is None
    assert first["predicted"]["sitter_stops"] == pytest.approx(found["a"]["sitter_stops"], abs=0.1)
    again = answer(run("match", one, f"{SCENE}&curve=acescct&bits=10&nd=2", *SKIN, *WALL, "--json"))
    assert abs(again["difference"]["sitter"]["stops"]) < 0.05, "the plan, carried out, closes the difference"


def test_words_for_a_person(run: Run, saved: Callable[[str, float], str], controls: str) -> None:
    said = run("match", saved("a.json", 0.5), saved("b.json", 1.2), "--controls", controls)
    assert said.code == 0 and said.err == ""
    lines = said.out.splitlines()
    assert lines[0].startswith("A, to be matched: ") and lines[0].endswith("(10 bit, narrow range, acescct)")
    assert lines[1].startswith("B, to be moved: ")
    assert "skin                             +0.50   +1.20   +0.70  2/3 stop over" in lines
    assert "ratio, skin over background      +1.00   +1.00    0.00  alike" in lines
    after = said.out.partition("To match B to A:")[2]
    assert "brings the background to A" in after and "the hold" not in after
    assert "sides, left over right               -       -       -  not told" in lines
    assert "The background is read from the spots of kind background." in lines
    assert "  close 2/3 stop on everything: that brings the background to A" in lines
    assert "With the controls as they are set:" in lines and any("1. " in line for line in lines)
    assert said.out.isascii()


def test_without_controls_what_to_move_is_told_in_stops(run: Run, saved: Callable[[str, float], str]) -> None:
    found = answer(run("match", saved("a.jsonl", 0.5), saved("b.json", 1.2), "--json"))
    assert found["plans"] is None and found["trouble"] is None
    assert found["moves"][0].startswith("close 2/3 stop")


def test_a_picture_matches_itself(run: Run) -> None:
    said = run("match", SHIPPED, SHIPPED, "--frames", "2", "--skin", "0.65,0.42,0.016,0.03")
    assert said.code == 0, said.err
    assert "nothing to move: it matches to within a sixth of a stop" in said.out


def test_two_files_of_one_scene_in_other_codes_agree(run: Run) -> None:
    """The shipped clips: 8-bit BT.709 in one file, 10-bit ACEScct in the other, a face that is found in both."""
    log = "recordings/boathouse-log-10bit.mov"
    found = answer(run("match", SHIPPED, log, "--curve-b", "acescct", "--frames", "3", "--json"))
    assert (found["a"]["bits"], found["b"]["bits"]) == (8, 10)
    assert (found["a"]["curve"], found["b"]["curve"]) == ("bt709", "acescct")
    for name in ("sitter", "background", "highlights", "middle", "ratio"):
        assert found["difference"][name]["stops"] == pytest.approx(0.0, abs=0.1), name
    assert found["difference"]["background_by"] == "surroundings"
    assert "name it with --curve-b" in one_line(run("match", SHIPPED, log, "--frames", "1"), 2)


def test_each_side_may_have_its_own_encoding(run: Run, tmp_path: Path) -> None:
    level = reading(0.5, *OUTDOORS)
    bare = msgspec.structs.replace(level, encoding=msgspec.structs.replace(level.encoding, curve=None))
    path = tmp_path / "bare.json"
    path.write_bytes(msgspec.json.encode(bare))
    other = tmp_path / "told.json"
    other.write_bytes(msgspec.json.encode(level))
    line = one_line(run("match", str(other), str(path)), 2)
    assert line.endswith("bare.json: stops need the curve of this picture; name it with --curve-b")
    line = one_line(run("match", str(path), str(other)), 2)
    assert line.endswith("name it with --curve-a")
    found = answer(run("match", str(other), str(path), "--curve-b", "acescct", "--json"))
    assert found["difference"]["sitter"]["stops"] == pytest.approx(0.0, abs=0.01)
    wrong = answer(run("match", str(other), str(path), "--curve-b", "hlg", "--json"))
    assert wrong["b"]["curve"] == "hlg" and abs(wrong["difference"]["highlights"]["stops"]) > 0.2


def test_options_of_one_side_reach_only_that_feed(run: Run) -> None:
    found = answer(
        run("match", f"{SCENE}&curve=hlg", f"{SCENE}&curve=bt709", *SKIN, "--curve-a", "hlg", "--range-b", "narrow",
            "--skin-b", "0.651,0.42,0.016,0.03", "--json")
    )  # fmt: skip
    assert (found["a"]["curve"], found["b"]["curve"]) == ("hlg", "bt709")
    assert abs(found["difference"]["sitter"]["stops"]) < 0.3


def test_what_the_clip_hides_is_at_least_so_much(run: Run) -> None:
    found = answer(run("match", f"{SCENE}&nd=2", f"{SCENE}&nd=0", *SKIN, "--json"))
    assert found["difference"]["highlights"]["at_least"] is True
    assert found["difference"]["clipped"] > 1.0


def test_holds_are_kept_listed_matched_and_forgotten(run: Run, controls: str) -> None:
    assert "no holds yet" in run("holds").out
    assert run("holds", "--json").out == ""
    kept = run("holds", "keep", "bench", f"{SCENE}&nd=2", "--controls", controls, *SKIN)
    assert kept.code == 0 and kept.out.startswith("kept: bench (") and kept.err == ""
    listed = run("holds").out
    assert "bench" in listed and "scene:boathouse" in listed and "stops" in listed
    one = answer(run("holds", "--json"))
    assert set(one) == {"name", "at", "feed", "curve", "bits", "sitter_stops", "controls"}
    assert one["controls"]["nd_stops"] == 3.0 and one["curve"] == "bt709"
    found = answer(run("match", "hold:bench", f"{SCENE}&nd=1", *SKIN, "--json"))
    assert found["a"]["name"] == "hold:bench"
    assert found["difference"]["sitter"]["stops"] == pytest.approx(1.0, abs=0.06)
    assert found["difference"]["background_by"] == "surroundings", "the hold brought its small picture"
    said = run("match", "hold:bench", "hold:bench")
    assert "set to ND 3, ISO 800, T2.8" in said.out
    again = ("holds", "keep", "bench", f"{SCENE}&nd=1", *SKIN)
    refused = run(*again)
    assert refused.code == 2 and "there is a hold bench already; choose another name, or add --replace" in refused.err
    assert run(*again, "--replace").code == 0, "kept again: the newer stands"
    assert answer(run("holds", "--json"))["controls"] is None
    assert run("holds", "drop", "bench").out == "forgotten: bench\n"
    assert "no holds yet" in run("holds").out


def test_the_file_of_a_hold_is_a_side_too(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "bench.json"
    path.write_text(to_json(HOLD))
    found = answer(run("match", str(path), str(path), "--json"))
    assert found["a"]["name"] == "hold:bench by the doors" and found["difference"]["sitter"]["stops"] == 0.0


def test_a_hold_that_cannot_be_read_is_told_and_forgotten_all_the_same(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "state" / "stopkeeper" / "holds"
    folder.mkdir(parents=True)
    (folder / "torn.json").write_text("{")
    said = run("holds")
    assert said.code == 0 and "torn.json: not JSON" in said.err and len(said.err.splitlines()) == 1
    assert run("holds", "drop", "torn").out == "forgotten: torn\n"


def test_a_plan_that_cannot_be_made_is_a_line_beside_the_rest(run: Run, tmp_path: Path, controls: str) -> None:
    usual = reading(0.5, *OUTDOORS)
    blank = msgspec.structs.replace(usual, sitters=(), luma=None, spread=None, peaks=None)
    path = tmp_path / "blank.json"
    path.write_bytes(msgspec.json.encode(blank))
    said = run("match", str(path), str(path), "--controls", controls)
    assert said.code == 0 and "No plan: neither skin nor picture can be compared" in said.out
    assert "nothing to tell" in said.out


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("match", SCENE), "Missing argument 'B'"),
        (("match", "hold:nowhere", SCENE), "no hold nowhere; there are none yet"),
        (("match", "hold:a/b", SCENE), "is not a usable name"),
        (("match", "nowhere.json", SCENE), "nowhere.json: No such file"),
        (("match", SCENE, SCENE, "--skin", "1,2"), "1,2 is not a place"),
        (("match", SCENE, SCENE, "--curve-a", "acescc7"), "acescc7"),
        (("match", SCENE, SCENE, "--lock", "nd"), "nobody said what is set; give --controls FILE too"),
        (("match", SCENE, SCENE, "--controls", "nowhere.toml"), "nowhere.toml"),
        (("holds", "drop", "bench"), "no hold bench; there are none yet"),
        (("holds", "keep", "a/b", SCENE), "is not a usable name"),
        (("holds", "kepe"), "kepe"),
    ],
)
def test_bad_use_is_one_line(run: Run, words: tuple[str, ...], told: str) -> None:
    line = one_line(run(*words), 2)
    assert told in line


def test_a_saved_reading_has_no_picture_to_point_into(run: Run, saved: Callable[[str, float], str]) -> None:
    path = saved("a.json", 0.5)
    assert "a saved reading has no picture" in one_line(run("match", path, path, "--skin", "0,0,1,1"), 2)


def test_a_feed_that_is_not_there_fails_in_one_line(run: Run) -> None:
    assert "nowhere.mp4" in one_line(run("match", "nowhere.mp4", SCENE), 1)


def test_help_names_both(run: Run) -> None:
    for command in ("match", "holds"):
        said = run(command, "--help")
        assert said.code == 0 and "Example: stopkeeper" in said.out
