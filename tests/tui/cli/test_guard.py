"""The guard as a process of its own: its lines, its JSON, hook, POST, service manager, and how it ends."""

from __future__ import annotations

import json
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from analysis.journal.place import default_path
from analysis.model.sitter import Spot
from analysis.settings.hold_files import hold_folder
from analysis.settings.setup_files import SetUp, save_set_up
from tests.output.post_server import Server
from tests.tui.cli.guard_rig import ENTRY, PATIENT, TOUCHY, Manager, Running
from tests.tui.cli.program import ROOT, environment, one_line

UNIT = ROOT / "configs" / "stopkeeper-guard.service"
STAMP = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z")  # RFC 3339 section 5.6, UTC
KEYS = ["alarm", "occurrence", "from", "to", "priority", "reason", "at", "seconds"]
Starts = Callable[..., Running]


@pytest.fixture
def guard(tmp_path: Path) -> Iterator[Starts]:
    running: list[Running] = []

    def starts(*arguments: str, feed: str = "scene:boathouse", settings: str = TOUCHY, **env: str) -> Running:
        sound = () if "--sound" in arguments else ("--sound", "off")
        running.append(Running(tmp_path, "guard", feed, *sound, *arguments, settings=settings, **env))
        return running[-1]

    yield starts
    for one in running:
        one.close()


def test_plain_lines_begin_with_the_time_and_tell_the_feed_and_the_alarm(guard: Starts) -> None:
    said = guard().alarmed()
    assert said.code == 143 and said.err == ""
    lines = said.out.splitlines()
    assert all(STAMP.match(line) for line in lines), said.out
    assert any("guarding scene:boathouse" in line for line in lines)
    assert any("FEED live" in line for line in lines)
    (alarm,) = [line for line in lines if "ALARM" in line]
    assert "ALARM shadows 1: normal to active-unacknowledged, priority 3; crushed" in alarm


def test_json_is_one_object_for_each_change_and_nothing_else(guard: Starts) -> None:
    said = guard("--json").alarmed()
    assert said.code == 143
    (line,) = said.out.splitlines()
    told = json.loads(line)
    assert list(told) == KEYS
    assert (told["alarm"], told["occurrence"], told["from"], told["to"]) == (
        "shadows", 1, "normal", "active-unacknowledged",
    )  # fmt: skip
    assert STAMP.fullmatch(told["at"]) and told["priority"] == 3 and told["seconds"] > 0
    assert "FEED live" in said.err and all(STAMP.match(line) for line in said.err.splitlines())


@pytest.mark.parametrize("as_json", [True, False])
def test_quiet_leaves_the_alarms(guard: Starts, as_json: bool) -> None:
    said = guard("--quiet", *(["--json"] if as_json else [])).alarmed()
    assert (said.code, said.err, len(said.out.splitlines())) == (143, "", 1)


def test_a_feed_that_is_lost_and_comes_back(guard: Starts) -> None:
    running = guard("--json", feed="faulty:boathouse?fault=vanish&at=25", settings="")
    running.until(lambda: '"feed"' in running.out and running.err.count("FEED live") >= 2, "loss and return")
    said, _ = running.signalled(signal.SIGTERM)
    told = [json.loads(line) for line in said.out.splitlines()]
    lost = [change for change in told if change["alarm"] == "feed"]
    assert lost[0]["to"] == "active-unacknowledged" and lost[0]["priority"] == 1
    assert "the device is gone" in lost[0]["reason"]


def test_the_hook_and_the_post_get_what_the_log_gets(guard: Starts, tmp_path: Path) -> None:
    program = tmp_path / "keep me.sh"
    program.write_text(f'#!/bin/sh\necho "$# $1" > {tmp_path}/words\nenv > {tmp_path}/env\ncat >> {tmp_path}/hooked\n')
    program.chmod(0o755)
    server = Server(503)
    try:
        running = guard(
            "--json", "--hook", f"'{program}' 'two words'", "--post", f"http://127.0.0.1:{server.port}/alarms",
            STOPKEEPER_POST_TOKEN="hornbeam-41",
        )  # fmt: skip
        hooked = tmp_path / "hooked"
        running.until(lambda: hooked.exists() and hooked.read_text() and len(server.got) >= 2, "hook and post")
        said, _ = running.signalled(signal.SIGTERM)
    finally:
        server.stop()
    assert hooked.read_text() == said.out == server.got[-1].body.decode()
    assert (tmp_path / "words").read_text() == "1 two words\n"
    assert server.got[-1].headers["Authorization"] == "Bearer hornbeam-41"
    assert "hornbeam" not in said.out + said.err + (tmp_path / "env").read_text()
    assert "the server answers 503; it is tried again" in said.err


def test_the_settings_name_hook_and_post_too(guard: Starts, tmp_path: Path) -> None:
    settings = TOUCHY + f'[guard]\nhook = ["/bin/sh", "-c", "cat >> {tmp_path}/hooked"]\n'
    running = guard(settings=settings)
    running.until(lambda: (tmp_path / "hooked").exists() and (tmp_path / "hooked").read_text(), "the hook")


def test_a_hook_that_fails_is_one_line_and_the_guard_goes_on(guard: Starts) -> None:
    running = guard("--hook", "/bin/sh -c 'echo no pager >&2; exit 3'")
    running.until(lambda: "hook /bin/sh: exit code 3: no pager (shadows to" in running.err, "the line")
    said, _ = running.signalled(signal.SIGTERM)
    assert len(said.err.splitlines()) == 1 and said.code == 143


@pytest.mark.parametrize("number,code", [(signal.SIGTERM, 143), (signal.SIGINT, 130), (signal.SIGHUP, 129)])
def test_it_ends_at_once_whatever_hangs(guard: Starts, number: signal.Signals, code: int, tmp_path: Path) -> None:
    server = Server(lambda handler: time.sleep(PATIENT))
    try:
        program = f"/bin/sh -c 'echo $$ > {tmp_path}/pid; trap \"\" TERM; sleep 600'"
        running = guard("--hook", program, "--post", f"http://127.0.0.1:{server.port}")
        running.until(lambda: server.got and (tmp_path / "pid").exists(), "both hanging")
        said, seconds = running.signalled(number)
    finally:
        server.stop()
    assert said.code == code and "Traceback" not in said.err
    # 3 s is what is promised; the rest is room for a machine that runs other tests.
    assert seconds < 6.0
    assert "stopped before 1 changes were taken" in said.err
    pid = int((tmp_path / "pid").read_text())
    assert not Path(f"/proc/{pid}").exists() or "zombie" in Path(f"/proc/{pid}/status").read_text()


def test_a_second_signal_does_not_cut_the_closing_short(guard: Starts, tmp_path: Path) -> None:
    program = f"/bin/sh -c 'echo $$ > {tmp_path}/pid; sleep 600'"
    running = guard("--hook", program)
    running.until(lambda: (tmp_path / "pid").exists(), "the hook")
    running.process.send_signal(signal.SIGTERM)
    time.sleep(0.3)
    said, _ = running.signalled(signal.SIGTERM)
    assert said.code == 143 and "Traceback" not in said.err
    pid = int((tmp_path / "pid").read_text())
    assert not Path(f"/proc/{pid}").exists() or "zombie" in Path(f"/proc/{pid}/status").read_text()


def test_a_feed_that_can_never_be_read_ends_it_with_one_line_but_the_alarm_goes_out(
    guard: Starts, tmp_path: Path
) -> None:
    path = tmp_path / "notes.mp4"
    path.write_text("varnish " * 100)
    said = guard("--quiet", "--hook", f"/bin/sh -c 'sleep 0.5; cat >> {tmp_path}/hooked'", feed=str(path)).ended()
    assert str(path) in one_line(said._replace(out=""), 1)
    told = json.loads((tmp_path / "hooked").read_text())
    assert told["alarm"] == "feed" and told["to"] == "active-unacknowledged"


def test_without_a_feed_it_does_not_guard_a_rendered_one(tmp_path: Path) -> None:
    said = Running(tmp_path, "guard", settings="").ended()
    assert "no feed to guard" in one_line(said, 2)


@pytest.mark.parametrize(
    "arguments,words",
    [
        (("--hook", "/nowhere/at/all"), "no program /nowhere/at/all"),
        (("--hook", "'open"), "a quotation mark is not closed"),
        (("--hook", ""), "no program named"),
        (("--post", "http://boathouse.example/x"), "for everybody to read"),
        (("--post", "gopher://boathouse.example"), "neither with https:// nor"),
        (("--seconds", "0"), "not in the range"),
        (("--sound", "trumpet"), "trumpet"),
        (("--curve", "bt708"), "bt709"),
    ],
)
def test_what_makes_no_sense_is_refused_in_one_line(guard: Starts, arguments: tuple[str, ...], words: str) -> None:
    line = one_line(guard(*arguments).ended(), 2)
    assert words in line


def test_when_nobody_reads_any_more_it_ends_quietly(tmp_path: Path) -> None:
    process = subprocess.Popen(
        [sys.executable, "-c", ENTRY, "guard", "scene:boathouse", "--sound", "off"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT, env=environment(tmp_path),
    )  # fmt: skip
    try:
        assert process.stdout is not None and process.stderr is not None
        process.stdout.readline()
        process.stdout.close()
        assert process.wait(PATIENT) == 0
        assert process.stderr.read() == b""
    finally:
        process.kill()
        process.wait()
        process.stderr.close()


def test_a_full_disk_under_the_log_does_not_end_it(tmp_path: Path) -> None:
    if not Path("/dev/full").exists():
        pytest.skip("no /dev/full here")
    with Path("/dev/full").open("wb") as full, (tmp_path / "err").open("wb") as err:
        done = subprocess.run(
            [sys.executable, "-c", ENTRY, "guard", "scene:boathouse", "--sound", "off", "--seconds", "3"],
            stdout=full, stderr=err, cwd=ROOT, env=environment(tmp_path), timeout=PATIENT,
        )  # fmt: skip
    assert done.returncode == 0
    lines = (tmp_path / "err").read_text().splitlines()
    assert lines and all("could not be written to standard output" in line for line in lines)


@pytest.mark.parametrize("abstract", [False, True])
def test_the_service_manager_is_told_ready_alive_and_stopping(guard: Starts, tmp_path: Path, abstract: bool) -> None:
    manager = Manager(tmp_path / "notify", abstract and sys.platform == "linux")
    try:
        running = guard(NOTIFY_SOCKET=manager.name, WATCHDOG_USEC="600000")
        running.until(lambda: sum("WATCHDOG=1" in told for told in manager.told) >= 3, "signs of life")
        running.until(lambda: any("alarms: shadows" in told for told in manager.told), "the alarm in the status")
        running.signalled(signal.SIGTERM)
        told = manager.told
    finally:
        manager.close()
    assert told[0].startswith("READY=1 STATUS=watching scene:boathouse: ")
    assert sum("READY=1" in message for message in told) == 1
    assert told[-1] == "STOPPING=1"


def test_the_journal_gets_the_weight_of_each_line(tmp_path: Path) -> None:
    """systemd.exec(5): JOURNAL_STREAM names device and inode; sd-daemon(3): a line may begin with its priority."""
    (tmp_path / "settings.toml").write_text(TOUCHY)
    script = "import os, runpy\ns = os.fstat(1)\nos.environ['JOURNAL_STREAM'] = f'{s.st_dev}:{s.st_ino}'\n" + ENTRY
    done = subprocess.run(
        [
            sys.executable, "-c", script, "guard", "scene:boathouse", "--sound", "off", "--seconds", "3",
            "--config", str(tmp_path / "settings.toml"),
        ],
        capture_output=True, cwd=ROOT, env=environment(tmp_path), timeout=PATIENT,
    )  # fmt: skip
    lines = done.stdout.decode().splitlines()
    assert all(re.match(rf"<[3-6]>{STAMP.pattern}", line) for line in lines), lines
    (alarm,) = [line for line in lines if "ALARM" in line]
    assert alarm.startswith("<4>")


def test_it_speaks(guard: Starts, tmp_path: Path) -> None:
    folder = tmp_path / "bin"
    folder.mkdir()
    (folder / "espeak-ng").write_text(f'#!/bin/sh\nfor last; do :; done\necho "$last" >> {tmp_path}/said\n')
    (folder / "espeak-ng").chmod(0o755)
    running = guard("--speak", PATH=f"{folder}:/usr/bin:/bin")
    running.until(lambda: (tmp_path / "said").exists() and (tmp_path / "said").read_text(), "the words")
    assert (tmp_path / "said").read_text() == "shadows crushed\n"
    assert "words are spoken" in running.out


def test_without_an_engine_it_says_so_once_and_guards(guard: Starts, tmp_path: Path) -> None:
    said = guard("--speak", PATH=str(tmp_path)).alarmed()
    assert said.code == 143 and said.err.count("espeak-ng is not installed") == 1
    assert "ALARM shadows" in said.out


def test_the_unit_keeps_its_journal_where_it_may_write() -> None:
    """systemd.exec(5): StateDirectory= names a folder under /var/lib; the rest is read-only (ProtectSystem=strict)."""
    lines = UNIT.read_text().splitlines()
    settings = dict(line.removeprefix("Environment=").split("=") for line in lines if line.startswith("Environment="))
    (state,) = [line.removeprefix("StateDirectory=") for line in lines if line.startswith("StateDirectory=")]
    assert default_path(settings).parent == Path("/var/lib") / state
    assert hold_folder(settings).is_relative_to(Path("/var/lib") / state)


def test_the_unit_file_is_understood_by_systemd() -> None:
    text = UNIT.read_text()
    for line in ("Type=notify", "Restart=always", "WatchdogSec=30", "SuccessExitStatus=143", "ProtectSystem=strict"):
        assert f"\n{line}\n" in text
    if shutil.which("systemd-analyze") is None:
        pytest.skip("systemd-analyze is not installed")
    done = subprocess.run(["systemd-analyze", "verify", str(UNIT)], capture_output=True, text=True, timeout=PATIENT)
    told = [line for line in done.stderr.splitlines() if "stopkeeper" in line and "is not executable" not in line]
    assert told == []


def test_spots_of_a_set_up_raise_alarms(guard: Starts, tmp_path: Path) -> None:
    """A spot over the doors, which clip in the sun; without the set-up nobody would watch it."""
    doors = Spot(name="doors", kind="watch", x=0.0, y=0.0, width=1.0, height=1.0)
    path = tmp_path / "doors.toml"
    save_set_up(SetUp(name="doors", spots=(doors,)), path)
    settings = "[alarms.spot-clipped]\nlimit = 0.001\nclear = 0\non_delay = 0\n"
    running = guard("--set-up", str(path), feed="scene:boathouse?sun=on&nd=0", settings=settings)
    running.until(lambda: "ALARM spot-clipped 1: normal to active-unacknowledged" in running.out, "the spot's alarm")


def test_a_set_up_that_is_not_there_is_one_line(guard: Starts) -> None:
    said = guard("--set-up", "porch").ended()
    assert said.out == ""
    assert "no set-up porch; there are none yet" in one_line(said, 2)
