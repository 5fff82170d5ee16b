"""Places where a journal must not lie, forms it must not take for its own, and older forms that it brings up."""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path

import pytest

from analysis.journal import place, schema
from analysis.journal.journal import Journal
from analysis.journal.place import default_path, file_system, is_network, refuse_network
from analysis.journal.read import history
from analysis.journal.schema import APPLICATION_ID, NEWEST, migrate
from analysis.model.errors import JournalError
from tests.journal.story import change, reading
from tests.support.fake_clock import FakeClock

# The format of proc_pid_mountinfo(5): id, parent, device, root, point, options, fields, -, kind, source, options.
MOUNTS = """\
22 1 8:1 / / rw,relatime shared:1 - ext4 /dev/sda1 rw
30 22 0:40 / /home rw shared:2 - nfs4 store:/home rw,vers=4.2
31 30 0:41 / /home/me/local rw - tmpfs tmpfs rw
32 22 0:42 / /mnt/my\\040share rw shared:3 master:1 - cifs //box/share rw
33 22 0:43 / /media/stick rw - fuseblk /dev/sdb1 rw
34 22 0:44 / /media/far rw - fuse.sshfs me@far:/ rw
35 22 0:45 / /twice rw - nfs old:/ rw
36 22 0:46 / /twice rw - ext4 /dev/sdc1 rw
a torn line
"""


@pytest.mark.parametrize(
    ("where", "kind", "network"),
    [
        ("/var/lib/journal.db", "ext4", False),
        ("/home/me/journal.db", "nfs4", True),
        ("/home/me/local/journal.db", "tmpfs", False),
        ("/homestead/journal.db", "ext4", False),
        ("/mnt/my share/journal.db", "cifs", True),
        ("/media/stick/journal.db", "fuseblk", False),
        ("/media/far/journal.db", "fuse.sshfs", True),
        ("/twice/journal.db", "ext4", False),
    ],
)
def test_the_file_system_is_found_by_the_deepest_and_latest_mount(where: str, kind: str, network: bool) -> None:
    assert file_system(Path(where), MOUNTS) == kind
    assert is_network(kind) is network


def test_a_network_share_is_refused_in_words() -> None:
    with pytest.raises(JournalError) as refused:
        refuse_network(Path("/home/me/journal.db"), MOUNTS)
    assert refused.value.line() == (
        "/home/me/journal.db: this is a network share (nfs4), where a journal is lost sooner or later; "
        "keep it on a disk of this machine"
    )


def test_a_journal_on_a_network_share_is_not_begun(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    mounts = tmp_path / "mountinfo"
    mounts.write_text(f"22 1 8:1 / / rw - ext4 /dev/sda1 rw\n30 22 0:40 / {tmp_path} rw - nfs4 store:/ rw\n")
    monkeypatch.setattr(place, "_MOUNTS", mounts)
    with pytest.raises(JournalError, match="network share"):
        Journal(tmp_path / "state" / "journal.db", FakeClock())
    assert not (tmp_path / "state").exists()


def test_where_nothing_is_known_of_mounts_the_place_is_taken(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(place, "_MOUNTS", tmp_path / "none")
    assert Journal(tmp_path / "journal.db", FakeClock()).close()


def test_the_place_follows_the_base_directories() -> None:
    assert default_path({"HOME": "/home/me"}) == Path("/home/me/.local/state/stopkeeper/journal.db")
    assert default_path({"HOME": "/home/me", "XDG_STATE_HOME": "/s"}) == Path("/s/stopkeeper/journal.db")


def test_two_writers_in_one_process_are_two_writers(tmp_path: Path) -> None:
    journal = Journal(tmp_path / "journal.db", FakeClock())
    with pytest.raises(JournalError, match="another stopkeeper writes this journal"):
        Journal(tmp_path / "journal.db", FakeClock())
    assert journal.close()


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_that_may_not_be_written_is_told(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(JournalError, match="ermission denied; check the folder, or name another file"):
            Journal(tmp_path / "journal.db", FakeClock())
    finally:
        tmp_path.chmod(0o700)


def test_a_file_where_the_folder_should_be_is_told(tmp_path: Path) -> None:
    (tmp_path / "state").write_text("not a folder")
    with pytest.raises(JournalError, match="check the folder, or name another file"):
        Journal(tmp_path / "state" / "journal.db", FakeClock())


def test_a_database_of_somebody_else_is_left_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "theirs.db"
    with sqlite3.connect(path) as other:
        other.execute("CREATE TABLE recipes (name TEXT)")
    other.close()
    before = path.read_bytes()
    with pytest.raises(JournalError, match="this database is not a journal of stopkeeper; name another file"):
        Journal(path, FakeClock())
    with pytest.raises(JournalError, match="not a journal of stopkeeper"):
        history(path)
    assert path.read_bytes() == before


def test_a_journal_of_a_newer_program_is_left_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    Journal(path, FakeClock()).close()
    with sqlite3.connect(path) as other:
        other.execute(f"PRAGMA user_version = {NEWEST + 1}")
    other.close()
    for attempt in (lambda: Journal(path, FakeClock()), lambda: history(path)):
        with pytest.raises(JournalError, match=f"newer stopkeeper .form {NEWEST + 1}, known up to {NEWEST}."):
            attempt()


def plain(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(path, isolation_level=None)


@pytest.mark.parametrize("version", range(1, NEWEST))
def test_every_older_form_is_brought_up_and_keeps_its_entries(tmp_path: Path, version: int) -> None:
    path = tmp_path / "journal.db"
    old = plain(path)
    migrate(old, str(path), schema._STEPS[:version])
    assert old.execute("PRAGMA user_version").fetchone() == (version,)
    old.execute("INSERT INTO session VALUES (1, 'cam', 1.0, 2.0, 3.0)")
    body = '{"words":"from the old days"}'
    old.execute("INSERT INTO entry VALUES (7, 1, 1.0, 1.0, 'note', '', ?)", (body,))
    old.close()
    journal = Journal(path, FakeClock())
    journal.alarm_changed(change())
    journal.reading_taken(reading(), change().at)
    assert journal.close()
    assert [entry.sequence for entry in history(path)] == [7, 8]


def test_an_interrupted_step_is_done_again(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    broken = (*schema._STEPS[:1], ("CREATE TABLE half (a)", "CREATE TABLE half (a)"))
    connection = plain(path)
    with pytest.raises(sqlite3.OperationalError, match="already exists"):
        migrate(connection, str(path), broken)
    assert connection.execute("PRAGMA user_version").fetchone() == (1,)
    assert connection.execute("SELECT name FROM sqlite_master WHERE name = 'half'").fetchone() is None
    migrate(connection, str(path))
    assert connection.execute("PRAGMA user_version").fetchone() == (NEWEST,)
    assert connection.execute("PRAGMA application_id").fetchone() == (APPLICATION_ID,)
    migrate(connection, str(path))
    connection.close()


def test_new_folders_are_on_the_disk_when_they_are_made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """fsync(2): the entry of a file in its folder needs an fsync of the folder itself."""
    synced: list[Path] = []
    whole = os.fsync

    def seen(file: int) -> None:
        synced.append(Path(f"/proc/self/fd/{file}").readlink())
        whole(file)

    monkeypatch.setattr(os, "fsync", seen)
    place.make_folder(tmp_path / "a" / "b" / "c")
    assert sorted(synced) == [tmp_path, tmp_path / "a", tmp_path / "a" / "b"]
    assert (tmp_path / "a" / "b" / "c").stat().st_mode & 0o077 == 0
    synced.clear()
    place.make_folder(tmp_path / "a" / "b" / "c")
    assert synced == []
