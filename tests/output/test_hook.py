"""The hook with real programs: what they get, what happens when they fail, hang, multiply or never start."""

from __future__ import annotations

import json
import os
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import msgspec
import pytest

from analysis.model.alarm import AlarmChange, AlarmState
from analysis.model.errors import UsageError
from analysis.model.feed import FeedEvent
from analysis.model.instant import Instant
from analysis.output.change_line import LONGEST_REASON, change_line, change_object
from analysis.output.hook import Hook, HookTiming, found_program

PATIENT = 20.0


def changed(
    alarm: str = "highlights", occurrence: int = 1, after: AlarmState = "active-unacknowledged", reason: str = "over"
) -> AlarmChange:
    return AlarmChange(
        alarm=alarm, occurrence=occurrence, before="normal", after=after, priority=2, reason=reason,
        at=Instant(7.0, 1_600_000_000.25), seconds=3.14159,
    )  # fmt: skip


def until(true: Callable[[], object], what: str) -> None:
    deadline = time.monotonic() + PATIENT
    while not true():
        assert time.monotonic() < deadline, f"never happened: {what}"
        time.sleep(0.01)


class Bench:
    """Hooks made of small Python programs, and the lines they complained with."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.lines: list[str] = []
        self.hooks: list[Hook] = []

    def hook(self, body: str, *arguments: str, run: float = PATIENT, most: int = 8) -> Hook:
        program = self.folder / "program.py"
        program.write_text(f"import os, sys, time\nfolder = {str(self.folder)!r}\n{body}\n")
        return self.started([sys.executable, "-S", "-E", str(program), *arguments], run=run, most=most)

    def started(self, command: list[str], run: float = PATIENT, most: int = 8) -> Hook:
        hook = Hook(command, self.lines.append, timing=HookTiming(run=run, ending=0.3), most=most)
        self.hooks.append(hook)
        return hook

    def files(self, begins: str) -> list[str]:
        return sorted(path.name for path in self.folder.iterdir() if path.name.startswith(begins))


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    bench = Bench(tmp_path)
    yield bench
    for hook in bench.hooks:
        hook.close(0.1)


KEEPS = "open(f'{folder}/got-{time.monotonic_ns()}', 'wb').write(sys.stdin.buffer.read())"


def test_the_program_gets_the_change_as_one_json_object(bench: Bench) -> None:
    hook = bench.hook(KEEPS)
    hook.alarm_changed(changed())
    assert hook.wait(PATIENT)
    text = (bench.folder / bench.files("got-")[0]).read_bytes()
    assert text.count(b"\n") == 1 and text.endswith(b"\n")
    told = json.loads(text)
    # 1,600,000,000 s after 1970 is 2020-09-13 12:26:40 UTC: `date -u -d @1600000000`
    assert told == {
        "alarm": "highlights", "occurrence": 1, "from": "normal", "to": "active-unacknowledged", "priority": 2,
        "reason": "over", "at": "2020-09-13T12:26:40.250Z", "seconds": 3.142,
    }  # fmt: skip
    assert list(told) == ["alarm", "occurrence", "from", "to", "priority", "reason", "at", "seconds"]
    assert bench.lines == [] and (hook.runs, hook.failed) == (1, 0)


def test_a_shelved_alarm_is_named_by_that() -> None:
    import msgspec

    change = msgspec.structs.replace(changed(after="normal"), quiet=("shelved",))
    assert (change_object(change)["from"], change_object(change)["to"]) == ("normal", "shelved")


def test_a_reason_without_end_is_cut() -> None:
    assert len(change_line(changed(reason="é" * 100_000))) < 4096
    assert len(change_object(changed(reason="x" * 100_000))["reason"]) == LONGEST_REASON


def test_no_shell_takes_part(bench: Bench) -> None:
    hook = bench.hook("open(f'{folder}/words', 'w').write(repr(sys.argv[1:]))", "$HOME; touch x", "*", "`id`")
    hook.alarm_changed(changed())
    assert hook.wait(PATIENT)
    assert (bench.folder / "words").read_text() == repr(["$HOME; touch x", "*", "`id`"])


def test_a_failure_is_one_line_with_what_the_program_said_last(bench: Bench) -> None:
    hook = bench.hook("print('first', file=sys.stderr); sys.exit('no pager \\x1b[31m there')")
    hook.alarm_changed(changed())
    until(lambda: bench.lines, "a complaint")
    (line,) = bench.lines
    assert "exit code 1: no pager ?[31m there (highlights to active-unacknowledged)" in line
    assert hook.failed == 1


def test_a_program_that_talks_without_end_and_never_reads_ends_well(bench: Bench) -> None:
    hook = bench.hook("for _ in range(300): os.write(2, b'x' * 10000 + b'\\n'); os.write(1, b'y' * 1000)")
    hook.alarm_changed(changed())
    assert hook.wait(PATIENT)
    assert (hook.runs, hook.failed, bench.lines) == (1, 0, [])


def test_a_program_that_hangs_is_killed_with_all_it_started(bench: Bench) -> None:
    body = (
        "import signal, subprocess\nsignal.signal(signal.SIGTERM, signal.SIG_IGN)\n"
        "child = subprocess.Popen(['sleep', '600'])\n"
        "open(f'{folder}/children', 'w').write(f'{os.getpid()} {child.pid}')\ntime.sleep(600)"
    )
    hook = bench.hook(body, run=1.5)
    hook.alarm_changed(changed())
    until(lambda: bench.lines, "a complaint")
    assert "took over 1.5 s, killed" in bench.lines[0]
    pids = [int(pid) for pid in (bench.folder / "children").read_text().split()]
    for pid in pids:
        until(lambda pid=pid: gone(pid), f"the end of {pid}")


def test_what_a_program_leaves_behind_is_ended_and_never_waited_for(bench: Bench) -> None:
    body = "import subprocess\nopen(f'{folder}/left', 'w').write(str(subprocess.Popen(['sleep', '600']).pid))"
    hook = bench.hook(body)
    hook.alarm_changed(changed())
    assert hook.wait(PATIENT), "a grandchild holds standard error open; nobody waits for that"
    until(lambda: gone(int((bench.folder / "left").read_text())), "the end of what was left")


def gone(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return True
    # Where nobody collects orphans they stay as dead entries.
    stat = Path(f"/proc/{pid}/stat")
    return stat.exists() and stat.read_text().rsplit(")", 1)[1].split()[0] == "Z"


BUSY = (
    "import json\nnow = json.load(sys.stdin)\nname = now['alarm']\n"
    "mine = f'{folder}/busy-{name}'\n"
    "try: os.close(os.open(mine, os.O_CREAT | os.O_EXCL))\n"
    "except FileExistsError: open(f'{folder}/TWO', 'w')\n"
    "open(f\"{folder}/ran-{name}-{now['occurrence']}\", 'w')\n"
    "while not os.path.exists(f'{folder}/go'): time.sleep(0.01)\n"
    "os.unlink(mine)"
)


def test_one_at_a_time_per_alarm_and_the_newest_waits(bench: Bench) -> None:
    hook = bench.hook(BUSY)
    hook.alarm_changed(changed(occurrence=1))
    until(lambda: bench.files("ran-"), "the first run")
    for occurrence in range(2, 7):
        hook.alarm_changed(changed(occurrence=occurrence))
    hook.alarm_changed(changed(alarm="shadows"))
    until(lambda: "ran-shadows-1" in bench.files("ran-"), "another alarm's run beside it")
    (bench.folder / "go").touch()
    assert hook.wait(PATIENT)
    assert bench.files("ran-") == ["ran-highlights-1", "ran-highlights-6", "ran-shadows-1"]
    assert not (bench.folder / "TWO").exists()
    assert hook.replaced == 4 and len(bench.lines) == 4
    assert "still busy, so highlights 2 to active-unacknowledged was not handed over" in bench.lines[0]


def test_never_more_runs_than_allowed(bench: Bench) -> None:
    hook = bench.hook(BUSY, most=2)
    for number in range(5):
        hook.alarm_changed(changed(alarm=f"alarm-{number}"))
    until(lambda: len(bench.files("ran-")) == 2, "two runs")
    time.sleep(0.2)
    assert len(bench.files("busy-")) == 2
    (bench.folder / "go").touch()
    assert hook.wait(PATIENT)
    assert len(bench.files("ran-")) == 5 and bench.lines == []


def test_taking_a_change_never_waits(bench: Bench) -> None:
    hook = bench.hook("time.sleep(600)")
    began = time.monotonic()
    for number in range(1000):
        hook.alarm_changed(changed(alarm=f"alarm-{number}"))
    # 1,000 changes of 1,000 alarms, far over every bound; a wait for the program would take minutes.
    assert time.monotonic() - began < 10.0
    assert hook.replaced >= 1000 - 64 - 8 - 8


def test_closing_kills_what_runs_and_says_what_was_not_handed_over(bench: Bench) -> None:
    hook = bench.hook("open(f'{folder}/pid', 'w').write(str(os.getpid())); time.sleep(600)")
    hook.alarm_changed(changed(occurrence=1))
    until(lambda: bench.files("pid") and (bench.folder / "pid").read_text(), "the run")
    hook.alarm_changed(changed(occurrence=2))
    hook.close(0.4)
    until(lambda: gone(int((bench.folder / "pid").read_text())), "the end of the program")
    assert any("stopped before highlights 2 was handed over" in line for line in bench.lines)
    until(lambda: any("ended with the program" in line for line in bench.lines), "a word about the one that ran")
    hook.alarm_changed(changed(occurrence=3))
    assert hook.wait(1.0), "nothing is taken any more"


def test_a_program_that_is_removed_later_is_told_and_tried_again(bench: Bench) -> None:
    program = bench.folder / "pager"
    program.write_text("#!/bin/sh\ncat > /dev/null\n")
    program.chmod(0o755)
    hook = bench.started([str(program)])
    program.unlink()
    hook.alarm_changed(changed(occurrence=1))
    until(lambda: bench.lines, "a complaint")
    assert "does not start: No such file or directory" in bench.lines[0]
    program.write_text("#!/bin/sh\ncat > /dev/null\n")
    program.chmod(0o755)
    hook.alarm_changed(changed(occurrence=2))
    assert hook.wait(PATIENT)
    assert (hook.runs, hook.failed) == (2, 1)


@pytest.mark.parametrize("command", [[], [" "], ["/nowhere/at/all"], ["no-such-program-here"], ["sh", "a\0b"]])
def test_what_cannot_be_run_is_refused_before_anything_starts(command: list[str]) -> None:
    with pytest.raises(UsageError) as told:
        found_program(command)
    assert "hook" in told.value.line()


def test_no_files_or_children_gather(bench: Bench) -> None:
    hook = bench.started(["/bin/true"])
    hook.alarm_changed(changed())
    assert hook.wait(PATIENT)
    before = len(list(Path("/proc/self/fd").iterdir()))
    for occurrence in range(40):
        hook.alarm_changed(changed(occurrence=occurrence))
        assert hook.wait(PATIENT)
    assert len(list(Path("/proc/self/fd").iterdir())) == before
    assert hook.runs == 41


def test_feed_changes_run_nothing(bench: Bench) -> None:
    hook = bench.hook(KEEPS)
    event = FeedEvent(before="live", after="lost", evidence="gone", generation=1, at=Instant(0.0, 0.0))
    hook.feed_changed(event)
    assert hook.wait(0.2) and bench.files("got-") == []


def test_what_happens_beneath_a_shelf_runs_nothing(bench: Bench) -> None:
    hook = bench.hook(KEEPS)
    hidden = msgspec.structs.replace(changed(), quiet_before=("shelved",), quiet=("shelved",))
    hook.alarm_changed(hidden)
    hook.alarm_changed(msgspec.structs.replace(hidden, quiet=()))
    assert hook.wait(PATIENT) and hook.runs == 1
    (name,) = bench.files("got-")
    assert json.loads((bench.folder / name).read_text())["from"] == "shelved"
