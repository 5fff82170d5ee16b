"""Set-ups: what was saved comes back, a crash leaves the old one, every mistake is one line."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.measure.spot_edit import KINDS, MOST_SPOTS, move, place
from analysis.model.errors import SettingsError, StopkeeperError
from analysis.model.sitter import Spot
from analysis.settings import text_files
from analysis.settings.aim_settings import AimChoice
from analysis.settings.setup_files import (
    SetUp,
    load_set_up,
    parse_set_up,
    save_set_up,
    set_up_folder,
    set_up_path,
    set_ups,
    to_toml,
)

BENCH = SetUp(
    name="bench by the doors",
    spots=(
        Spot(name="doors", kind="let go", x=0.7, y=0.1, width=0.25, height=0.5),
        Spot(name="hull", kind="background", x=0.0, y=0.333333, width=0.4, height=0.666667),
        Spot(name="white card", kind="watch", x=0.5, y=0.5, width=0.01, height=0.01),
    ),
    aims={
        "sitter": AimChoice(complexion="medium", mood="high key"),
        "sitter 2": AimChoice(value=42.0, tolerance=4.0, bias_stops=-0.25),
        "white card": AimChoice(value=2.25, unit="stops", tolerance=0.5),
    },
)


def refused(text: str) -> str:
    with pytest.raises(SettingsError) as caught:
        parse_set_up(text, "bench.toml")
    line = caught.value.line()
    assert "\n" not in line and line.startswith("bench.toml: ") and caught.value.exit_code == 2
    return line


def test_what_was_saved_comes_back(tmp_path: Path) -> None:
    path = tmp_path / "deep" / "bench.toml"
    save_set_up(BENCH, path)
    assert load_set_up(path) == BENCH
    save_set_up(SetUp(name="empty"), path)
    assert load_set_up(path) == SetUp(name="empty")
    assert [each.name for each in path.parent.iterdir()] == ["bench.toml"]


def test_the_text_is_toml_for_anyone() -> None:
    """Read by Python's own TOML 1.0 parser."""
    raw = tomllib.loads(to_toml(BENCH))
    assert raw["name"] == "bench by the doors" and [spot["kind"] for spot in raw["spots"]] == [
        "let go",
        "background",
        "watch",
    ]
    assert raw["aims"]["sitter"] == {"complexion": "medium", "mood": "high key"}


fraction = st.floats(min_value=0, max_value=1)
name = st.text(alphabet="abc äß'. -", min_size=1, max_size=12).map(lambda text: f"x{text}y")


@given(st.lists(st.tuples(name, st.sampled_from(KINDS), fraction, fraction, fraction, fraction), max_size=8))
def test_any_spots_come_back_to_a_millionth_of_the_picture(wanted: list) -> None:
    spots: tuple[Spot, ...] = ()
    for number, (word, kind, x, y, width, height) in enumerate(wanted):
        spots = place(spots, f"{number} {word}", kind, x, y, width, height)
    found = parse_set_up(to_toml(SetUp(name="any", spots=spots)), "x").spots
    assert len(found) == len(spots)
    for was, is_now in zip(spots, found, strict=True):
        assert (was.name, was.kind) == (is_now.name, is_now.kind)
        for key in ("x", "y", "width", "height"):
            assert getattr(is_now, key) == pytest.approx(getattr(was, key), abs=1e-6)
        move(found, is_now.name, 0.1, 0.1)


def test_a_crash_leaves_the_old_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "bench.toml"
    save_set_up(SetUp(name="old"), path)

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(text_files.os, "fsync", full)
    with pytest.raises(StopkeeperError, match="cannot be written: No space left on device"):
        save_set_up(BENCH, path)
    assert load_set_up(path).name == "old" and list(tmp_path.iterdir()) == [path]


SPOT = "[[spots]]\nname = 'doors'\nkind = 'watch'\nx = 0.1\ny = 0.1\nwidth = 0.2\nheight = 0.2\n"
NAMED = "name = 'bench'\n"


@pytest.mark.parametrize(
    "text,says",
    [
        ("name = ", "not valid TOML"),
        ("[" * 5000, "not valid TOML"),
        ("", 'name is missing; write name = "..."'),
        ("name = 3", "name must be text"),
        ("name = ''", '"" is not a usable name'),
        ("name = 'a/b'", '"a/b" is not a usable name; use 1 to 64 letters'),
        (NAMED + "spot = 3", 'unknown key spot; did you mean "spots"?'),
        (NAMED + "spots = 3", "spots must be a list of tables"),
        (NAMED + "spots = [3]", "spots[0] must be a table"),
        (NAMED + SPOT.replace("width", "wide"), 'unknown key spots[0].wide; did you mean "width"?'),
        (
            NAMED + SPOT.replace("'watch'", "'look'"),
            "spots[0].kind: Invalid enum value 'look'; use watch, let go",
        ),
        (NAMED + SPOT.replace("x = 0.1\n", ""), "Object missing required field `x`; give name, kind, x, y, width"),
        (NAMED + SPOT.replace("x = 0.1", "x = 'a'"), "spots[0].x: Expected `float`, got `str`"),
        (NAMED + SPOT.replace("x = 0.1", "x = nan"), "spots[0].x is nan; use 0 to 1"),
        (NAMED + SPOT.replace("x = 0.1", "x = -0.1"), "spots[0].x is -0.1; use 0 to 1"),
        (NAMED + SPOT.replace("x = 0.1", "x = 0.9"), "spots[0]: x + width is above 1; keep the spot inside"),
        (NAMED + SPOT.replace("height = 0.2", "height = 0.001"), "spots[0].height is 0.001; use 0.01 to 1"),
        (NAMED + SPOT.replace("'doors'", "'sitter 2'"), "spots[0].name: this name belongs to a sitter"),
        (NAMED + SPOT.replace("'doors'", '"\\u0007"'), "spots[0].name: not a usable name"),
        (NAMED + SPOT + SPOT.replace("doors", "Doors"), "spots[1].name: Doors is there twice; rename one of them"),
        (NAMED + "[aims.sitter]\nvaleu = 3", 'unknown key aims.sitter.valeu; did you mean "value"?'),
        (NAMED + "aims = 3", "aims must be a table"),
        (NAMED + "[aims.sitter]\ntolerance = 3", "aims.sitter has no value"),
    ],
)
def test_mistakes_are_one_line(text: str, says: str) -> None:
    assert says in refused(text)


def test_there_are_only_so_many_spots() -> None:
    text = NAMED + "".join(SPOT.replace("doors", f"doors {n}") for n in range(MOST_SPOTS + 1))
    assert f"{MOST_SPOTS} are the most" in refused(text)


@given(st.text(max_size=200))
def test_no_text_at_all_raises_anything_else(text: str) -> None:
    try:
        parse_set_up(text, "x.toml")
    except SettingsError as error:
        assert "\n" not in error.line()


@pytest.mark.parametrize(
    "text",
    [
        '"\\u001B[2J" = 3',
        'name = "\\u001B[2J"',
        NAMED + SPOT.replace("'watch'", '"\\u001B[2J"'),
        NAMED + SPOT.replace("'doors'", '"\\u001B[2J"'),
        NAMED + SPOT + '"\\u001B[2J" = 1',
    ],
)
def test_nothing_in_a_file_reaches_the_terminal_as_a_command(text: str) -> None:
    assert refused(text).isprintable()


@pytest.mark.parametrize("broken", [b"\xff\xfe\x00", b"name = 'x'\n" + b"#" * (1 << 20)])
def test_files_that_are_no_text(tmp_path: Path, broken: bytes) -> None:
    path = tmp_path / "x.toml"
    path.write_bytes(broken)
    with pytest.raises(SettingsError) as caught:
        load_set_up(path)
    assert str(path) in caught.value.line()


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="No such file"):
        load_set_up(tmp_path / "gone.toml")


def test_names_lie_in_the_operators_folder_and_paths_are_paths(tmp_path: Path) -> None:
    env = {"XDG_CONFIG_HOME": str(tmp_path)}
    folder = tmp_path / "stopkeeper" / "set-ups"
    assert set_up_folder(env) == folder
    assert set_up_path(" bench  by the doors ", env) == folder / "bench by the doors.toml"
    for path in ("./bench.toml", "/tmp/bench", "bench.TOML"):
        assert set_up_path(path, env) == Path(path)
    for bad in ("", "..", ".", "\x1b", "x" * 65):
        with pytest.raises(SettingsError, match="not a usable name"):
            set_up_path(bad, env)


def test_the_set_ups_there_are(tmp_path: Path) -> None:
    env = {"XDG_CONFIG_HOME": str(tmp_path)}
    assert set_ups(env) == ()
    for each in ("porch", "bench"):
        save_set_up(SetUp(name=each), set_up_path(each, env))
    (set_up_folder(env) / "notes.txt").write_text("no set-up")
    (set_up_folder(env) / ".hidden.toml").write_text("")
    assert set_ups(env) == ("bench", "porch")
