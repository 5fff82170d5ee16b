"""Spots and aims kept with a set-up, as the watch command reads and keeps them."""

from __future__ import annotations

from pathlib import Path

import pytest

from analysis.model.errors import SettingsError
from analysis.model.sitter import Spot
from analysis.settings.aim_settings import AimChoice
from analysis.settings.schema import Settings
from tui.cli.watch import keep_set_up, read_set_up

WINDOW = Spot(name="window", kind="let go", x=0.05, y=0.2, width=0.3, height=0.6)


@pytest.fixture(autouse=True)
def own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))


def test_a_new_set_up_is_empty_and_kept_when_spots_were_placed() -> None:
    before = read_set_up("bench by the doors", Settings())
    assert before.spots == ()
    keep_set_up("bench by the doors", before, (WINDOW,))
    assert read_set_up("bench by the doors", Settings()).spots == (WINDOW,)


def test_without_a_name_spots_are_kept_as_the_last_ones_and_not_taken_by_themselves() -> None:
    keep_set_up(None, read_set_up(None, Settings()), (WINDOW,))
    assert read_set_up(None, Settings()).spots == ()
    assert read_set_up("last", Settings()).spots == (WINDOW,)


def test_nothing_is_written_when_nothing_changed(tmp_path: Path) -> None:
    keep_set_up(None, read_set_up(None, Settings()), ())
    assert not list(tmp_path.rglob("*.toml"))


def test_aims_of_the_settings_hold_where_the_set_up_has_none_of_its_own() -> None:
    own = Settings(aims={"sitter": AimChoice(complexion="light"), "window": AimChoice(value=90.0, tolerance=5.0)})
    keep_set_up("porch", read_set_up("porch", own), (WINDOW,))
    assert read_set_up("porch", Settings()).aims["window"].value == 90.0, "a set-up is whole by itself"
    other = Settings(aims={"window": AimChoice(value=70.0, tolerance=5.0)})
    assert read_set_up("porch", other).aims["window"].value == 90.0


def test_a_spoilt_set_up_is_one_line(tmp_path: Path) -> None:
    path = tmp_path / "stopkeeper" / "set-ups" / "porch.toml"
    path.parent.mkdir(parents=True)
    path.write_text("[[spots]]\nname = 3\n")
    with pytest.raises(SettingsError) as caught:
        read_set_up("porch", Settings())
    assert str(path) in caught.value.line()
