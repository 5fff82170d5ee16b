"""Curve files of the operator: found by name, one bad one disturbs nobody."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from analysis.feed.address import parse_address
from analysis.feed.scene.query import parse as scene
from analysis.feed.source import FeedOptions
from analysis.model.camera import CameraProfile, Response
from analysis.model.errors import SettingsError, UsageError
from analysis.settings.camera_files import save_camera
from analysis.settings.curve_files import adopt_curves, checked_name, curve_files, curve_folder
from analysis.settings.places import shipped
from analysis.signal.curves import adopt, built_in, curve, names

STEPS = "stops,ire\n-2,20\n-1,30\n0,40\n1,50\n"
LOG = "source = 'ours'\n[log]\nslope = 0.25\ngain = 5\nshift = 0.05\nlift = 0.4\n"


@pytest.fixture
def env(tmp_path: Path) -> Iterator[dict[str, str]]:
    yield {"XDG_CONFIG_HOME": str(tmp_path)}
    adopt([])


def put(env: dict[str, str], name: str, text: str) -> Path:
    path = curve_folder(env) / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)
    return path


def test_the_folder_lies_beside_the_settings(env: dict[str, str]) -> None:
    assert curve_folder(env) == Path(env["XDG_CONFIG_HOME"]) / "stopkeeper" / "curves"
    assert curve_folder({"HOME": "/home/lena"}) == Path("/home/lena/.config/stopkeeper/curves")


def test_both_kinds_of_file_are_known_by_their_name(env: dict[str, str]) -> None:
    put(env, "Wedge.csv", STEPS)
    put(env, "lake.toml", LOG)
    adopt_curves(env)
    assert curve("wedge").middle == pytest.approx(0.4)
    assert curve("LAKE").source == "ours"
    assert names()[: len(built_in())] == built_in() and {"wedge", "lake"} <= set(names())


def test_scene_addresses_take_them(env: dict[str, str]) -> None:
    put(env, "wedge.csv", STEPS)
    adopt_curves(env)
    address = parse_address("scene:boathouse?curve=wedge")
    assert scene(address.target, address.query, FeedOptions()).curve == "wedge"
    assert scene("boathouse", {}, FeedOptions(curve="Wedge")).curve == "wedge"


def test_a_bad_file_is_told_when_asked_for_and_hides_nothing(env: dict[str, str]) -> None:
    path = put(env, "bad.csv", "stops,ire\n-2,20\n-1,dark\n")
    put(env, "wedge.csv", STEPS)
    files = {file.name: file for file in adopt_curves(env)}
    assert files["bad"].curve is None and files["wedge"].fault is None
    with pytest.raises(SettingsError) as caught:
        curve("bad")
    assert caught.value.line() == f'{path}: line 3: "dark" is not a number; write it like 0.25'
    assert curve("wedge") and curve("bt709")


@pytest.mark.parametrize("name", ["bt709.csv", "HLG.toml"])
def test_a_built_in_name_stays_built_in(name: str, env: dict[str, str]) -> None:
    put(env, name, STEPS if name.endswith("csv") else LOG)
    files = {file.name: file for file in adopt_curves(env)}
    fault = files[Path(name).stem.casefold()].fault
    assert fault is not None and "its name belongs to a built-in curve; give the file another name" in fault.line()
    assert "ITU-R" in curve(Path(name).stem).source


@pytest.mark.parametrize("name", ["two words.csv", "größe.toml", "-dash.csv"])
def test_names_that_could_not_be_typed(name: str, env: dict[str, str]) -> None:
    put(env, name, STEPS)
    found = [file for file in curve_files(env) if file.path.name == name]
    assert found[0].fault is not None and "not a usable name" in found[0].fault.line()


def test_what_is_no_curve_file_is_passed_over(env: dict[str, str]) -> None:
    for name in ("notes.txt", ".hidden.csv", "wedge.csv~"):
        put(env, name, "oars")
    (curve_folder(env) / "folder.toml").mkdir()
    assert all(not file.own for file in curve_files(env))


def test_the_operators_file_stands_before_the_shipped_one(env: dict[str, str]) -> None:
    put(env, "example-log.csv", STEPS)
    adopt_curves(env)
    assert curve("example-log").middle == pytest.approx(0.4)


def test_shipped_curves_are_good_and_known_without_any_folder(env: dict[str, str]) -> None:
    files = adopt_curves(env)
    assert {file.name for file in files} == {p.stem for p in (shipped("configs") / "curves").iterdir()}
    for file in files:
        assert file.fault is None, file.fault
        assert 0.2 < curve(file.name).middle < 0.6
        light = 0.18 * 2.0 ** np.linspace(-8, 8, 500)
        back = curve(file.name).decode(curve(file.name).encode(light))
        np.testing.assert_allclose(back, light, rtol=1e-9)


def test_a_measured_camera_is_a_curve_too(env: dict[str, str]) -> None:
    profile = CameraProfile(
        name="porch", snr=2.0, bits=8, range="narrow", matrix="bt709", measured="2026-11-24",
        response=Response(stops=(-2.0, -1.0, 0.0, 1.0), percent=(20.0, 30.0, 40.0, 50.0)),
    )  # fmt: skip
    save_camera(profile, Path(env["XDG_CONFIG_HOME"]) / "stopkeeper" / "cameras" / "porch.toml")
    adopt_curves(env)
    assert curve("porch").middle == pytest.approx(0.4)
    assert curve("porch").source == "measured with the camera porch, 2026-11-24"


def test_adopting_again_forgets_what_is_gone(env: dict[str, str]) -> None:
    path = put(env, "wedge.csv", STEPS)
    adopt_curves(env)
    path.unlink()
    adopt_curves(env)
    with pytest.raises(UsageError, match="no such curve"):
        curve("wedge")


@pytest.mark.parametrize("name", ["", "a/b", "../x", "a b", "x" * 65])
def test_names_are_checked(name: str) -> None:
    with pytest.raises(SettingsError, match="not a usable name"):
        checked_name(name, "x")
