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

from analysis.output.protocol import Command, Play, Quit, Stop, line
from analysis.output.sound_child import MISSING_PORTAUDIO, MISSING_SOUNDDEVICE, NO_DEVICE
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


Open = Callable[[str], Talk]


@pytest.fixture
def talk(tmp_path: Path) -> Iterator[Open]:
    opened: list[Talk] = []

    def opens(module: str) -> Talk:
        opened.append(Talk(tmp_path, module))
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
def test_what_is_missing_or_refused_is_told_in_one_line(talk: Open, module: str, reason: str, permanent: bool) -> None:
    process = talk(module)
    report = process.until("failed")
    assert (report["reason"], report["permanent"]) == (reason, permanent)
    assert process.process.wait(PATIENT) == 1


def test_the_line_for_a_missing_library_is_the_one_that_helps() -> None:
    assert MISSING_PORTAUDIO == "PortAudio is missing; install it with: sudo apt install libportaudio2"


def test_a_sound_is_taken_started_and_played(talk: Open) -> None:
    process = talk(stand_in.playing(100_000))
    ready = process.until("ready")
    assert (ready["device"], ready["rate"]) == ("the desk", 48000)
    process.tell(PLAY)
    assert process.until("taken", ticket=5)["starts_in"] == 0.0
    process.until("started", ticket=5)
    process.until("played", ticket=5)
    before = process.until("heartbeat")["calls"]
    assert process.until("heartbeat")["calls"] > before


def test_a_device_with_another_rate_is_used_at_that_rate(talk: Open) -> None:
    process = talk(stand_in.playing(100_000, rates=(44100,)))
    assert process.until("ready")["rate"] == 44100


def test_stop_ends_the_playing_sound(talk: Open) -> None:
    process = talk(stand_in.playing(100_000))
    process.until("ready")
    process.tell(PLAY, Stop())
    process.until("stopped", ticket=5)


def test_a_device_that_stopped_asking_refuses_the_order_at_once(talk: Open) -> None:
    process = talk(stand_in.playing(3))
    process.until("ready")
    process.until("heartbeat", calls=3)
    time.sleep(0.5)  # longer than the 0.3 s after which a device counts as stalled
    process.tell(PLAY)
    assert process.until("failed")["ticket"] == 5


def test_nonsense_is_answered_and_survived(talk: Open) -> None:
    process = talk(stand_in.playing(100_000))
    process.until("ready")
    assert process.process.stdin is not None
    process.process.stdin.write(b'{"do":"explode"}\n\xff\n' + b"x" * 9000 + b"\n")
    process.tell(PLAY)
    process.until("failed")
    process.until("played", ticket=5)


def test_quit_and_a_closed_pipe_end_it(talk: Open) -> None:
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


def test_what_libraries_print_reaches_neither_the_reports_nor_standard_error(talk: Open) -> None:
    noise = "os.write(1, b'a library talks'); os.write(2, b'Expression failed'); print('and talks')"
    process = talk(stand_in.playing(100_000, noise=noise))
    process.until("ready")
    process.until("heartbeat")
    process.process.kill()
    _, errors = process.process.communicate()
    assert errors == b""
