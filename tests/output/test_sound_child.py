"""The sound process spoken to directly, with stand-ins for the sound library."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from analysis.output.protocol import Command, LetGo, Open, Play, Quit, Stop, line
from analysis.output.sound_device import MISSING_PORTAUDIO, MISSING_SOUNDDEVICE, NO_DEVICE
from tests.output import stand_in

PATIENT = 20.0
PLAY = Play(ticket=5, alarm="highlights", kind="highlights", direction="up", priority=2)


class Talk:
    """A running sound process and what it says."""

    def __init__(self, folder: Path, module: str) -> None:
        (folder / "sounddevice.py").write_text(module)
        self.process = subprocess.Popen(
            [sys.executable, "-m", "analysis.output.sound_child"],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
            env=stand_in.looking_first_in(folder),
        )  # fmt: skip

    def tell(self, *commands: Command) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(b"".join(line(command) for command in commands))
        self.process.stdin.flush()

    def until(self, said: str, **fields: object) -> dict[str, Any]:
        """The first report of that kind with those fields; anything that is no report fails."""
        assert self.process.stdout is not None
        deadline = time.monotonic() + PATIENT
        while time.monotonic() < deadline:
            text = self.process.stdout.readline()
            assert text, f"ended without saying {said}"
            report: dict[str, Any] = json.loads(text)
            if report["said"] == said and fields.items() <= report.items():
                return report
        raise AssertionError(f"never said {said}")


Start = Callable[..., Talk]


@pytest.fixture
def talk(tmp_path: Path) -> Iterator[Start]:
    opened: list[Talk] = []

    def opens(module: str, *commands: Command) -> Talk:
        opened.append(Talk(tmp_path, module))
        opened[-1].tell(*(commands or (Open(),)))
        return opened[-1]

    yield opens
    for one in opened:
        one.process.kill()
        one.process.communicate()


@pytest.mark.parametrize(
    ("module", "reason", "permanent"),
    [
        (stand_in.NO_LIBRARY, MISSING_PORTAUDIO, True),
        (stand_in.NO_PACKAGE, MISSING_SOUNDDEVICE, True),
        (stand_in.NO_DEVICE, NO_DEVICE, False),
        (stand_in.BUSY, "the desk cannot be opened: Device unavailable", False),
        (stand_in.WILL_NOT_START, "the desk does not start: no such luck", False),
        (stand_in.ENDED, "the desk ended the stream", False),
    ],
)
def test_what_is_missing_or_refused_is_told_in_one_line(talk: Start, module: str, reason: str, permanent: bool) -> None:
    process = talk(module)
    report = process.until("failed")
    assert (report["reason"], report["permanent"], report["ticket"]) == (reason, permanent, None)
    # It stays, so that another try costs no start of a process.
    process.tell(LetGo())
    process.until("free")
    process.tell(Open())
    assert process.until("failed")["reason"] == reason


def test_the_line_for_a_missing_library_is_the_one_that_helps() -> None:
    assert MISSING_PORTAUDIO == "PortAudio is missing; install it with: sudo apt install libportaudio2"


def test_a_sound_is_taken_started_and_played(talk: Start) -> None:
    process = talk(stand_in.playing(100_000))
    ready = process.until("ready")
    assert (ready["device"], ready["rate"]) == ("the desk", 48000)
    process.tell(PLAY)
    assert process.until("taken", ticket=5)["starts_in"] == 0.0
    process.until("started", ticket=5)
    process.until("played", ticket=5)
    before = process.until("heartbeat")["calls"]
    assert process.until("heartbeat")["calls"] > before


def test_a_device_with_another_rate_is_used_at_that_rate(talk: Start) -> None:
    process = talk(stand_in.playing(100_000, rates=(44100,)))
    assert process.until("ready")["rate"] == 44100


def test_stop_ends_the_playing_sound(talk: Start) -> None:
    process = talk(stand_in.playing(100_000))
    process.until("ready")
    process.tell(PLAY, Stop())
    process.until("stopped", ticket=5)


def test_a_device_that_stopped_asking_refuses_the_order_at_once(talk: Start) -> None:
    process = talk(stand_in.playing(3))
    process.until("ready")
    process.until("heartbeat", calls=3)
    time.sleep(0.5)  # longer than the 0.3 s after which a device counts as stalled
    process.tell(PLAY)
    assert process.until("failed")["ticket"] == 5


def test_nonsense_is_answered_and_survived(talk: Start) -> None:
    process = talk(stand_in.playing(100_000))
    process.until("ready")
    assert process.process.stdin is not None
    process.process.stdin.write(b'{"do":"explode"}\n\xff\n' + b"x" * 9000 + b"\n")
    process.tell(PLAY)
    process.until("failed")
    process.until("played", ticket=5)


def test_it_is_there_before_it_touches_the_sound_library(talk: Start, tmp_path: Path) -> None:
    process = talk(stand_in.coming_and_going(tmp_path), Stop())
    process.until("warm")
    process.tell(PLAY)
    failed = process.until("failed")
    assert (failed["ticket"], failed["reason"]) == (5, "no sound device is open")
    assert not (tmp_path / "calls").exists()


def test_a_device_that_comes_is_found_by_the_same_process(talk: Start, tmp_path: Path) -> None:
    process = talk(stand_in.coming_and_going(tmp_path))
    assert process.until("failed")["reason"] == NO_DEVICE
    (tmp_path / "plug").touch()
    process.tell(LetGo(), Open())
    process.until("free")
    process.until("ready")
    process.tell(PLAY)
    process.until("played", ticket=5)
    assert (tmp_path / "calls").read_text().split() == ["begin", "end", "begin"]


def test_a_device_that_was_lost_is_let_go_of_and_taken_again_when_it_is_back(talk: Start, tmp_path: Path) -> None:
    plug = tmp_path / "plug"
    plug.touch()
    process = talk(stand_in.coming_and_going(tmp_path))
    process.until("ready")
    plug.unlink()
    process.tell(LetGo(), Open())
    process.until("free")
    assert process.until("failed")["reason"] == NO_DEVICE
    plug.touch()
    process.tell(LetGo(), Open())
    process.until("ready")
    process.tell(PLAY)
    process.until("played", ticket=5)
    assert (tmp_path / "calls").read_text().split() == ["begin", "abort", "end", "begin", "end", "begin"]


def test_while_the_library_hangs_an_order_is_still_answered(talk: Start, tmp_path: Path) -> None:
    (tmp_path / "plug").touch()
    process = talk(stand_in.coming_and_going(tmp_path))
    process.until("ready")
    (tmp_path / "hang").touch()
    process.tell(LetGo())
    deadline = time.monotonic() + PATIENT
    while "abort" not in (tmp_path / "calls").read_text():
        assert time.monotonic() < deadline
        time.sleep(0.01)
    process.tell(PLAY)
    assert process.until("failed")["ticket"] == 5
    process.tell(Quit())
    assert process.process.wait(PATIENT) == 0, "and it can still be ended"


def test_a_device_is_found_by_name_whatever_is_asked_in(talk: Start) -> None:
    process = talk(stand_in.playing(100_000), Open(device="THE desk"))
    assert process.until("ready")["device"] == "the desk"
    process = talk(stand_in.playing(100_000), Open(device="lamp"))
    assert process.until("failed")["reason"] == "no sound device called lamp; there are: the desk"


def test_quit_and_a_closed_pipe_end_it(talk: Start) -> None:
    process = talk(stand_in.playing(100_000))
    process.until("ready")
    process.tell(Quit())
    assert process.process.wait(PATIENT) == 0
    process = talk(stand_in.playing(100_000))
    process.until("ready")
    assert process.process.stdin is not None
    process.process.stdin.close()
    process.process.stdin = None
    assert process.process.wait(PATIENT) == 0


def test_what_libraries_print_reaches_neither_the_reports_nor_standard_error(talk: Start) -> None:
    noise = "os.write(1, b'a library talks'); os.write(2, b'Expression failed'); print('and talks')"
    process = talk(stand_in.playing(100_000, noise=noise))
    process.until("ready")
    process.until("heartbeat")
    process.process.kill()
    _, errors = process.process.communicate()
    assert errors == b""
