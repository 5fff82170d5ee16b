"""What is measured by settings and camera profile: whose clip level counts."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from analysis.engine.planning import PlanDesk
from analysis.feed.source import FeedOptions
from analysis.model.errors import SettingsError
from analysis.output.outlet import open_outlet
from analysis.settings.camera_files import save_camera
from analysis.settings.control_files import camera_named
from analysis.settings.measuring import examiner_settings
from analysis.settings.schema import MeterChoices, Settings
from analysis.watch import Desks, open_watch
from tests.support.fake_clock import FakeClock

LARGE = camera_named("large-sensor-log", {})
ENDS = msgspec.structs.replace(LARGE, clip_percent=92.5)


@pytest.fixture
def mine(tmp_path: Path) -> str:
    """The path of a profile whose signal ends at 80 IRE."""
    path = tmp_path / "mine.toml"
    save_camera(msgspec.structs.replace(LARGE, clip_percent=80.0), path)
    return str(path)


def test_without_a_word_of_the_camera_the_end_of_the_range_counts() -> None:
    found = examiner_settings(MeterChoices()).meter
    assert found.clip_percent is None and found.clip_by is None


def test_the_profile_that_the_settings_name_counts(mine: str) -> None:
    found = examiner_settings(MeterChoices(camera=mine)).meter
    assert (found.clip_percent, found.clip_by) == (80.0, "profile")


def test_a_profile_that_is_known_counts_before_it_and_the_settings_own_level_before_both(mine: str) -> None:
    found = examiner_settings(MeterChoices(camera=mine), known=ENDS).meter
    assert (found.clip_percent, found.clip_by) == (92.5, "profile")
    found = examiner_settings(MeterChoices(camera=mine, clip_percent=70.0), known=ENDS).meter
    assert found.clip_percent == 70.0 and found.clip_by is None


def test_a_profile_that_never_reached_its_end_says_nothing_of_it() -> None:
    assert LARGE.clip_percent is None
    assert examiner_settings(MeterChoices(), known=LARGE).meter.clip_percent is None


def test_a_profile_that_is_not_there_is_one_line() -> None:
    with pytest.raises(SettingsError):
        examiner_settings(MeterChoices(camera="/nowhere/mine.toml"))


def test_a_watch_measures_by_the_camera_of_the_controls() -> None:
    """A profile that only the controls file names: headroom counts to its end, as the plan's does."""
    desks = Desks(plans=PlanDesk(policies={}, camera=ENDS))
    clock = FakeClock()
    options = FeedOptions(realtime=False)
    settings = msgspec.structs.replace(Settings(), sitter=msgspec.structs.replace(Settings().sitter, find=False))
    address = "scene:boathouse?size=320x180&nd=0&curve=acescct"
    watch = open_watch(address, options, settings, open_outlet("off", {}), clock, desks=desks)
    try:
        assert (watch._meter.settings.meter.clip_percent, watch._meter.settings.meter.clip_by) == (92.5, "profile")
    finally:
        watch.close()
