"""The keeper of small files: never in the way, newest wins, tried again, ends in time whatever the disk does."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from analysis.journal.keeper import FIRST_WAIT, LONGEST_WAIT, MOST, SLOW, Keeper, remove
from analysis.model.errors import StopkeeperError

PATIENCE = 10.0
"""Seconds after which something that should happen counts as never happening: the machine may be busy."""


def until(condition: Callable[[], bool]) -> None:
    end = time.monotonic() + PATIENCE
    while not condition():
        assert time.monotonic() < end, "it never happened"
        time.sleep(0.002)


class Disk:
    """A disk of a test: it hangs while ``open`` is not set, and refuses the paths in ``refused``."""

    def __init__(self) -> None:
        self.open = threading.Event()
        self.open.set()
        self.refused: dict[Path, Exception] = {}
        self.files: dict[Path, str] = {}
        self.tries: list[Path] = []
        self.hanging = threading.Event()

    def write(self, path: Path, text: str) -> None:
        self.tries.append(path)
        self.hanging.set()
        self.open.wait(PATIENCE)
        if path in self.refused:
            raise self.refused[path]
        self.files[path] = text

    def delete(self, path: Path) -> None:
        self.tries.append(path)
        self.files.pop(path, None)


class Clock:
    """Seconds that go on when the test says so."""

    def __init__(self) -> None:
        self.now = 50.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def disk() -> Iterator[Disk]:
    made = Disk()
    yield made
    made.open.set()


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def keeper(disk: Disk, clock: Clock) -> Iterator[Keeper]:
    made = Keeper(disk.write, disk.delete, clock)
    yield made
    disk.open.set()
    made.close(PATIENCE)


ONE, OTHER = Path("/holds/one.json"), Path("/holds/other.json")
FULL = StopkeeperError("cannot be written: No space left on device", str(ONE), "check the disk and your permissions")


def test_files_on_a_true_disk(tmp_path: Path) -> None:
    keeper = Keeper()
    path = tmp_path / "holds" / "bench.json"
    keeper.keep(path, "one\n")
    until(lambda: keeper.waiting == 0)
    assert path.read_text() == "one\n" and keeper.trouble is None
    keeper.keep(path, "two\n")
    keeper.keep(tmp_path / "holds" / "doors.json", "three\n")
    assert keeper.close(PATIENCE)
    assert path.read_text() == "two\n"
    assert sorted(each.name for each in path.parent.iterdir()) == ["bench.json", "doors.json"]


def test_none_deletes_and_what_is_gone_may_be_deleted_again(tmp_path: Path) -> None:
    path = tmp_path / "bench.json"
    path.write_text("one")
    keeper = Keeper()
    keeper.keep(path, None)
    until(lambda: not path.exists())
    keeper.keep(path, None)
    assert keeper.close(PATIENCE) and keeper.trouble is None


def test_a_disk_that_hangs_holds_nobody_up(disk: Disk, keeper: Keeper, clock: Clock) -> None:
    disk.open.clear()
    keeper.keep(ONE, "first")
    assert disk.hanging.wait(PATIENCE)
    for number in range(1000):
        keeper.keep(ONE, f"{number}")
        keeper.keep(OTHER, f"{number}")
    assert keeper.waiting == 3  # the one that hangs, and the newest of each path
    assert keeper.trouble is None, "a moment is no trouble"
    clock.now += SLOW
    assert keeper.trouble == "/holds/one.json: the disk has not answered for 3 s; it is not kept yet"
    disk.open.set()
    until(lambda: keeper.waiting == 0)
    assert disk.files == {ONE: "999", OTHER: "999"}
    assert disk.tries == [ONE, ONE, OTHER]
    assert keeper.trouble is None


def test_it_ends_within_its_deadline_though_the_disk_hangs(disk: Disk, keeper: Keeper) -> None:
    disk.open.clear()
    keeper.keep(ONE, "first")
    assert disk.hanging.wait(PATIENCE)
    began = time.monotonic()
    assert keeper.close(0.05) is False
    assert time.monotonic() - began < PATIENCE / 2
    keeper.keep(OTHER, "too late")
    assert keeper.trouble == "/holds/other.json: not kept, since the watch was closing"


def test_what_waits_is_written_at_the_end(disk: Disk, keeper: Keeper) -> None:
    disk.open.clear()
    keeper.keep(ONE, "first")
    assert disk.hanging.wait(PATIENCE)
    keeper.keep(ONE, "second")
    keeper.keep(OTHER, "third")
    threading.Timer(0.02, disk.open.set).start()
    assert keeper.close(PATIENCE)
    assert disk.files == {ONE: "second", OTHER: "third"}


def test_what_failed_is_tried_again_ever_more_seldom(disk: Disk, keeper: Keeper, clock: Clock) -> None:
    disk.refused[ONE] = FULL
    keeper.keep(ONE, "first")
    until(lambda: keeper.trouble is not None and keeper.waiting == 1)
    assert keeper.trouble == FULL.line()
    wait = FIRST_WAIT
    for tries in range(2, 9):
        clock.now += wait
        wait = min(2.0 * wait, LONGEST_WAIT)
        keeper.keep(OTHER, f"{tries}")  # wakes the thread, whose waiting runs on the true clock
        until(lambda: disk.tries.count(ONE) == tries and keeper.waiting == 1)  # noqa: B023 - read at once
    assert disk.files == {OTHER: "8"}, "one that fails is not in the way of others"
    del disk.refused[ONE]
    clock.now += LONGEST_WAIT
    keeper.keep(OTHER, "last")
    until(lambda: keeper.waiting == 0)
    assert disk.files == {ONE: "first", OTHER: "last"} and keeper.trouble is None


def test_something_newer_takes_the_place_of_what_failed_at_once(disk: Disk, keeper: Keeper) -> None:
    disk.refused[ONE] = FULL
    keeper.keep(ONE, "first")
    until(lambda: keeper.trouble is not None and keeper.waiting == 1)
    del disk.refused[ONE]
    keeper.keep(ONE, "second")
    until(lambda: keeper.waiting == 0)
    assert disk.files == {ONE: "second"} and keeper.trouble is None


def test_at_the_end_everything_gets_one_try(disk: Disk, keeper: Keeper) -> None:
    disk.refused[ONE] = FULL
    keeper.keep(ONE, "first")
    until(lambda: keeper.trouble is not None and keeper.waiting == 1)
    disk.open.clear()
    keeper.keep(OTHER, "second")
    disk.open.set()
    assert keeper.close(PATIENCE) is False
    assert disk.files == {OTHER: "second"} and keeper.trouble == FULL.line()
    assert disk.tries.count(ONE) == 2


def test_too_many_files_are_given_up_oldest_first_and_told(disk: Disk, keeper: Keeper) -> None:
    disk.open.clear()
    keeper.keep(ONE, "hangs")
    assert disk.hanging.wait(PATIENCE)
    paths = [Path(f"/holds/{number}.json") for number in range(MOST + 3)]
    for path in paths:
        keeper.keep(path, "text")
    assert keeper.waiting == MOST + 1
    assert keeper.trouble == "/holds/2.json: not kept, since more than 64 files wait to be written"
    disk.open.set()
    until(lambda: keeper.waiting == 0)
    assert set(disk.files) == {ONE, *paths[3:]}
    assert keeper.trouble is not None, "what was given up is still not on the disk"


@pytest.mark.parametrize(
    ("error", "line"),
    [
        (OSError(5, "Input/output error"), "/holds/one.json: Input/output error; it is not kept yet"),
        (ValueError("embedded null byte"), "/holds/one.json: embedded null byte; it is not kept yet"),
    ],
)
def test_other_failures_are_one_line_too(disk: Disk, keeper: Keeper, error: Exception, line: str) -> None:
    disk.refused[ONE] = error
    keeper.keep(ONE, "first")
    until(lambda: keeper.trouble is not None)
    assert keeper.trouble == line
    keeper.keep(OTHER, "the thread goes on")
    until(lambda: OTHER in disk.files)


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "holds").write_text("a file stands where the folder should")
    keeper = Keeper()
    keeper.keep(tmp_path / "holds" / "bench.json", "text")
    until(lambda: keeper.trouble is not None)
    assert "cannot be written" in str(keeper.trouble) and "\n" not in str(keeper.trouble)
    assert keeper.close(PATIENCE) is False


def test_a_folder_cannot_be_deleted_as_a_file(tmp_path: Path) -> None:
    with pytest.raises(StopkeeperError, match=r"cannot be deleted: .*; check the disk and your permissions"):
        remove(tmp_path)


def test_nothing_kept_starts_no_thread_and_ends_at_once() -> None:
    before = threading.active_count()
    keeper = Keeper()
    assert keeper.close(0.0) and keeper.close(0.0)
    assert threading.active_count() == before and keeper.trouble is None
