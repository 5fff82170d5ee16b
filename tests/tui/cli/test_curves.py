"""``stopkeeper curves``: list, show, add; for a person, for a program, and every mistake in one line."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from analysis.signal.curves import built_in
from analysis.signal.curves.written import parse_csv
from tests.support.colour_library import colour_library
from tests.tui.cli.here import program
from tests.tui.cli.program import Said, one_line

Run = Callable[..., Said]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    return program(tmp_path, monkeypatch, capsys)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "stopkeeper" / "curves"
    made.mkdir(parents=True)
    return made


def test_alone_it_lists(run: Run) -> None:
    assert run("curves").out == run("curves", "list").out
    lines = run("curves").out.splitlines()
    assert [line.split()[0] for line in lines[: len(built_in())]] == list(built_in())


def test_the_list_shows_the_operators_own_and_what_is_wrong_with_them(run: Run, folder: Path) -> None:
    (folder / "wedge.csv").write_text("# source: our wedge\nstops,ire\n-1,30\n0,40\n1,50\n")
    (folder / "torn.csv").write_text("stops,ire\n-1,30\n0\n")
    said = run("curves", "list")
    assert said.code == 0 and said.err == ""
    assert f"our wedge  ({folder / 'wedge.csv'})" in said.out
    torn = next(line for line in said.out.splitlines() if line.startswith("torn"))
    assert f'cannot be used: {folder / "torn.csv"}: line 3: "0" is not two numbers' in torn
    rows = {row["name"]: row for row in map(json.loads, run("curves", "list", "--json").out.splitlines())}
    assert rows["bt709"] == {"name": "bt709", "from": "built in", "source": "ITU-R BT.709-6, item 1.2", "fault": None}
    assert rows["wedge"]["source"] == "our wedge" and rows["torn"]["fault"].endswith("write light, a comma, and signal")


def test_show_gives_the_published_levels(run: Run) -> None:
    """BT.709-6 items 1.2 and 3.4: 18 % at 40.90 IRE, codes 106 and 422; one stop up 146 and 585 (computed)."""
    shown = json.loads(run("curves", "show", "bt709", "--json").out)
    steps = {row["stops"]: row for row in shown["steps"]}
    assert sorted(steps) == list(range(-8, 9)) and shown["source"] == "ITU-R BT.709-6, item 1.2"
    assert steps[0]["ire"] == pytest.approx(40.90, abs=0.01)
    assert (steps[0]["code8"], steps[0]["code10"]) == (106, 422)
    assert (steps[1]["code8"], steps[1]["code10"]) == (146, 585)
    said = run("curves", "show", "BT709").out.splitlines()
    assert said[0] == "bt709: ITU-R BT.709-6, item 1.2"
    assert [line for line in said if line.split()[0] == "+0"] == ["   +0    40.90     106     422"]


@pytest.mark.parametrize(
    "arguments,says",
    [
        (["curves", "show", "bt790"], "bt790: no such curve; did you mean bt709?"),
        (["curves", "show"], "Missing argument 'NAME'"),
        (["curves", "lits"], "No such command 'lits'"),
        (["curves", "add", "cinon"], 'cinon: the library has no log curve of this name; did you mean "Cineon"'),
        (["curves", "add", "Cineon"], "cineon: this curve is built in already; use it as it is, or give another name"),
        (["curves", "add", "Cineon", "--as", "two words"], "two words: not a usable name; use letters, digits"),
        (["curves", "add", "Cineon", "--as", "../up"], "../up: not a usable name"),
        (["curves", "add", "Cineon", "--signal", "volts"], "--signal"),
    ],
)
def test_wrong_use_is_one_line(arguments: list[str], says: str, run: Run) -> None:
    if "add" in arguments:
        colour_library()
    assert says in one_line(run(*arguments), 2)


def test_show_of_a_torn_file_is_its_one_line(run: Run, folder: Path) -> None:
    (folder / "torn.toml").write_text("[log]\nslope = 1\n")
    line = one_line(run("curves", "show", "torn"), 2)
    assert line == f"stopkeeper: {folder / 'torn.toml'}: log.gain is missing; a log needs slope, gain, shift, lift"


def test_add_bakes_a_table_that_is_then_known(run: Run, folder: Path) -> None:
    colour = colour_library()
    said = run("curves", "add", "ERIMM RGB")
    assert said.code == 0 and len(said.out.splitlines()) == 1
    assert said.out.startswith("erimm-rgb: ") and "IRE of the library from -8.0 to +8.0 stops" in said.out
    path = folder / "erimm-rgb.csv"
    light = 0.18 * 2.0 ** np.linspace(-8, 8, 999)
    made = parse_csv(path.read_text(), "x", "x")
    assert np.abs(made.encode(light) - colour.log_encoding(light, function="ERIMM RGB")).max() < 1e-4
    assert json.loads(run("curves", "show", "erimm-rgb", "--json").out)["source"].startswith("colour-science ")


def test_add_says_the_same_to_a_program(run: Run, folder: Path) -> None:
    colour_library()
    told = json.loads(run("curves", "add", "acescct", "--as", "Mine", "--json").out)
    assert told["name"] == "mine" and told["path"] == str(folder / "mine.csv") and told["library_name"] == "ACEScct"
    assert told["signal"] == "level" and told["error"] < 1e-4 and (told["low"], told["high"]) == (-8.0, 8.0)
    assert told["rows"] == len((folder / "mine.csv").read_text().splitlines()) - 2


def test_add_writes_over_nothing_unless_told(run: Run, folder: Path) -> None:
    colour_library()
    path = folder / "mine.csv"
    path.write_text("stops,ire\n-1,30\n0,40\n1,50\n")
    line = one_line(run("curves", "add", "ACEScct", "--as", "mine"), 2)
    assert line == f"stopkeeper: {path}: you already have a curve mine; add --replace, or give another name with --as"
    assert path.read_text().startswith("stops,ire")
    assert run("curves", "add", "ACEScct", "--as", "mine", "--replace").code == 0
    assert path.read_text().startswith("# source: colour-science")
    path.rename(folder / "mine.toml")
    assert "you already have a curve mine" in one_line(run("curves", "add", "ACEScct", "--as", "mine", "--replace"), 2)


def test_the_librarys_names_can_be_listed(run: Run) -> None:
    names = list(colour_library().LOG_ENCODINGS)
    assert run("curves", "list", "--library").out.splitlines() == names
    rows = run("curves", "list", "--library", "--json").out.splitlines()
    assert [json.loads(row)["name"] for row in rows] == names


@pytest.mark.parametrize("arguments", [["add", "ACEScct"], ["list", "--library"]])
def test_without_the_library_one_line_names_the_command(
    arguments: list[str], run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("colour", "colour.models"):
        monkeypatch.setitem(sys.modules, name, None)
    line = one_line(run("curves", *arguments), 1)
    assert line.endswith("is not installed; install it with pip install 'stopkeeper[curves]'")


def test_a_disk_that_refuses_is_one_line(run: Run, tmp_path: Path) -> None:
    colour_library()
    (tmp_path / "stopkeeper").write_text("a file where a folder should be")
    assert "cannot be written" in one_line(run("curves", "add", "ACEScct", "--as", "mine"), 1)


@pytest.mark.parametrize("arguments", [[], ["list"], ["show"], ["add"]])
def test_help_has_an_example(arguments: list[str], run: Run) -> None:
    said = run("curves", *arguments, "--help")
    assert said.code == 0 and "Example: stopkeeper curves" in said.out
