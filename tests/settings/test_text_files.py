"""Small files: refused in one line, written whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from analysis.model.errors import SettingsError, StopkeeperError
from analysis.settings import text_files
from analysis.settings.text_files import read_text, write_text


def test_written_text_comes_back_and_folders_are_made(tmp_path: Path) -> None:
    path = tmp_path / "a" / "b" / "porch.toml"
    write_text(path, "varnish\nä\n")
    assert read_text(path) == "varnish\nä\n"
    write_text(path, "oars\n")
    assert read_text(path) == "oars\n"
    assert [each.name for each in path.parent.iterdir()] == ["porch.toml"], "no new file is left lying"


def test_a_crash_before_the_end_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "porch.toml"
    write_text(path, "old")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(text_files.os, "fsync", full)
    with pytest.raises(StopkeeperError, match="cannot be written: No space left on device; check the disk") as caught:
        write_text(path, "new" * 1000)
    assert caught.value.exit_code == 1 and str(path) in caught.value.line()
    assert path.read_text() == "old" and list(tmp_path.iterdir()) == [path]


def test_the_file_is_on_the_disk_before_it_takes_its_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    done: list[str] = []
    fsync, replace = os.fsync, Path.replace
    monkeypatch.setattr(text_files.os, "fsync", lambda handle: (done.append("fsync"), fsync(handle))[1])
    monkeypatch.setattr(Path, "replace", lambda self, to: (done.append("replace"), replace(self, to))[1])
    write_text(tmp_path / "porch.toml", "x")
    assert done == ["fsync", "replace", "fsync"], "the file, its name, then the folder that holds the name"


def test_a_folder_that_is_a_file(tmp_path: Path) -> None:
    (tmp_path / "curves").write_text("not a folder")
    with pytest.raises(StopkeeperError, match="cannot be written"):
        write_text(tmp_path / "curves" / "mine.csv", "x")


@pytest.mark.parametrize(
    "content,says",
    [(b"\xff\xfe\x00", "not UTF-8 text; save it as UTF-8"), (bytes((1 << 20) + 1), "too large for a configuration")],
)
def test_what_is_no_text(content: bytes, says: str, tmp_path: Path) -> None:
    path = tmp_path / "mine.csv"
    path.write_bytes(content)
    with pytest.raises(SettingsError, match=says):
        read_text(path)


def test_what_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="No such file"):
        read_text(tmp_path / "none.csv")
    with pytest.raises(SettingsError, match="Is a directory"):
        read_text(tmp_path)


def test_a_byte_order_mark_is_left_out(tmp_path: Path) -> None:
    path = tmp_path / "mine.csv"
    path.write_bytes(b"\xef\xbb\xbfstops,ire\n")
    assert read_text(path) == "stops,ire\n"
