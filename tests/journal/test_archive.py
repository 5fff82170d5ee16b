"""Holds and controls outlive the session: what was kept is read back as it was."""

from __future__ import annotations

from pathlib import Path

import msgspec

from analysis.feed.scene.query import parse
from analysis.feed.scene.renderer import Renderer
from analysis.feed.source import FeedOptions
from analysis.journal.archive import FileArchive
from analysis.journal.keeper import Keeper
from analysis.measure.examiner import Examiner
from analysis.model.controls import Controls
from analysis.model.errors import StopkeeperError
from analysis.model.frame import Frame
from analysis.model.hold import Hold
from analysis.model.instant import Instant
from analysis.settings.control_files import ControlFile, load_controls
from analysis.settings.hold_files import load_holds


def held(name: str) -> Hold:
    picture = Renderer(parse("boathouse", {"size": "320x180"}, FeedOptions())).picture(0.0, 0)
    frame = Frame(planes=picture.planes, format=picture.format, instant=Instant(0.0, 0.0), generation=1, sequence=0)
    reading = Examiner().measure(frame, None, Instant(0.0, 0.0)).reading
    return Hold(name=name, at=Instant(0.0, 1790000000.0), feed="scene:boathouse", reading=reading)


def test_a_hold_is_there_in_the_next_session_and_gone_when_dropped(tmp_path: Path) -> None:
    hold = held("bench by the doors")
    archive = FileArchive(tmp_path / "holds", tmp_path / "controls.toml")
    archive.hold_kept(hold)
    assert archive.close(10.0) and archive.trouble() is None
    found = load_holds(tmp_path / "holds")
    assert found.troubles == () and [each.name for each in found.holds] == ["bench by the doors"]
    assert msgspec.structs.asdict(found.holds[0].reading)["luma"] == hold.reading.luma
    archive = FileArchive(tmp_path / "holds", tmp_path / "controls.toml")
    archive.hold_dropped(hold)
    assert archive.close(10.0)
    assert load_holds(tmp_path / "holds").holds == ()


def test_the_newest_controls_are_the_ones_kept(tmp_path: Path) -> None:
    archive = FileArchive(tmp_path / "holds", tmp_path / "kept" / "controls.toml")
    for stops in (2.0, 4.0, 6.0):
        archive.controls_changed(ControlFile(controls=Controls(nd_stops=stops), policy="open-sky"))
    assert archive.close(10.0)
    found = load_controls(tmp_path / "kept" / "controls.toml")
    assert found.controls.nd_stops == 6.0 and found.policy == "open-sky"


def test_what_cannot_be_written_is_told_not_raised(tmp_path: Path) -> None:
    def refuse(path: Path, text: str) -> None:
        raise StopkeeperError("the disk is full", str(path), "make room")

    keeper = Keeper(write=refuse)
    archive = FileArchive(tmp_path, tmp_path / "controls.toml", keeper)
    archive.controls_changed(ControlFile())
    assert not archive.close(10.0)
    assert "the disk is full" in (archive.trouble() or "")
