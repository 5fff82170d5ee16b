"""The real sound process and a stand-in for PortAudio whose device is pulled out, comes back, or hangs."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path

import msgspec
import pytest

from analysis.model.alarm import Announcement
from analysis.model.instant import Instant
from analysis.output.choice import choose
from analysis.output.outlet import Outlet
from analysis.output.speaker import Speaker, SpeakerTiming
from tests.output import stand_in

PATIENT = 20.0  # seconds a loaded machine may take; nothing here measures speed
TIMING = SpeakerTiming(ready=8.0, flow=0.6, heartbeat=1.2, first_pause=0.05, longest_pause=0.2, idle_pause=0.2)
ALARM = Announcement(
    alarm="highlights", occurrence=1, kind="highlights", direction="up", priority=2, words="", at=Instant(0.0, 0.0)
)


class Socket:
    """Where the device is plugged in; ``called`` is what was asked of PortAudio."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        (folder / "sounddevice.py").write_text(stand_in.coming_and_going(folder))

    def plug(self, there: bool) -> None:
        path = self._folder / "plug"
        path.touch() if there else path.unlink()

    def hang(self, on: bool) -> None:
        path = self._folder / "hang"
        path.touch() if on else path.unlink()

    @property
    def called(self) -> list[str]:
        path = self._folder / "calls"
        return path.read_text().split() if path.exists() else []


Start = Callable[..., Speaker]


@pytest.fixture
def socket(tmp_path: Path) -> Socket:
    return Socket(tmp_path)


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Start]:
    speakers: list[Speaker] = []

    def starts(timing: SpeakerTiming = TIMING, **given: object) -> Speaker:
        environment = stand_in.looking_first_in(tmp_path)
        speakers.append(Speaker(environment=environment, timing=timing, **given))  # type: ignore[arg-type]
        return speakers[-1]

    yield starts
    for speaker in speakers:
        speaker.close()


def until(true: Callable[[], object], what: str) -> None:
    deadline = time.monotonic() + PATIENT
    while not true():
        assert time.monotonic() < deadline, f"never happened: {what}"
        time.sleep(0.01)


def plays(speaker: Speaker) -> bool:
    ticket = speaker.play(ALARM)
    return ticket is not None and speaker.wait(ticket, PATIENT) == "played"


def test_a_device_that_returns_sounds_again_from_the_same_process(socket: Socket, start: Start) -> None:
    socket.plug(True)
    speaker = start()
    assert speaker.wait_ready(PATIENT), speaker.status()
    pid = speaker.status().pid
    for _ in range(3):
        socket.plug(False)
        until(lambda: speaker.status().state == "waiting", "given up")
        until(lambda: speaker.status().reason == "no sound device", "looked for and not found")
        socket.plug(True)
        until(lambda: speaker.status().state == "ready", "sound is back")
        assert plays(speaker)
    assert (speaker.status().pid, speaker.status().restarts) == (pid, 0)


def test_one_that_comes_late_is_found_by_the_process_that_began_without_it(socket: Socket, start: Start) -> None:
    speaker = start()
    until(lambda: speaker.status().reason == "no sound device", "not there")
    socket.plug(True)
    until(lambda: speaker.status().state == "ready", "there now")
    assert plays(speaker)
    assert speaker.status().restarts == 0


def test_a_process_that_hangs_while_letting_go_is_replaced(socket: Socket, start: Start) -> None:
    socket.plug(True)
    speaker = start()
    assert speaker.wait_ready(PATIENT), speaker.status()
    pid = speaker.status().pid
    socket.hang(True)
    socket.plug(False)
    until(lambda: speaker.status().restarts >= 1, "another process")
    assert speaker.status().pid != pid
    socket.hang(False)
    socket.plug(True)
    until(lambda: speaker.status().state == "ready", "sound is back")
    assert plays(speaker)


def test_a_process_that_hangs_while_it_looks_for_devices_is_replaced(socket: Socket, start: Start) -> None:
    socket.hang(True)
    speaker = start(msgspec.structs.replace(TIMING, ready=0.5, letting_go=0.1))
    until(lambda: speaker.status().reason == "the sound device did not open within 0.5 s", "given up")
    until(lambda: speaker.status().restarts >= 1, "another process")
    socket.plug(True)
    socket.hang(False)
    until(lambda: speaker.status().state == "ready", "sound")


def test_after_many_fruitless_tries_another_process_is_tried(socket: Socket, start: Start) -> None:
    speaker = start(msgspec.structs.replace(TIMING, fruitless=3))
    until(lambda: speaker.status().restarts >= 1, "another process")
    # Each process begins PortAudio as often as it tries, and ends it each time but the last, when it is killed.
    assert socket.called.count("begin") >= 3
    assert speaker.status().reason == "no sound device"


def test_a_silent_device_is_given_up_at_once_when_devices_go(socket: Socket, start: Start) -> None:
    nodes: list[tuple[str, int, int]] = [("/dev/snd/pcmC0D0p", 7, 7)]
    socket.plug(True)
    speaker = start(msgspec.structs.replace(TIMING, flow=0.3, heartbeat=1000.0), look=lambda: tuple(nodes))
    assert speaker.wait_ready(PATIENT), speaker.status()
    socket.plug(False)
    until(lambda: speaker.status().state == "stalled", "silent")
    time.sleep(0.3)
    assert speaker.status().state == "stalled", "by itself it would be waited for much longer"
    nodes.clear()
    until(lambda: speaker.status().state == "waiting", "given up")
    assert "given up" in speaker.status().reason or speaker.status().reason == "no sound device"


def test_the_bell_rings_once_for_the_loss_and_speakers_take_over_after_it(socket: Socket, start: Start) -> None:
    socket.plug(True)
    speaker = start()
    outlet = Outlet(choose("speakers", {}), speaker)

    def where() -> str:
        now = Instant(time.monotonic(), time.time())
        outlet.tick(now)
        return outlet.status(now).outlet

    until(lambda: where() == "speakers", "sound")
    socket.plug(False)
    until(lambda: where() == "bell", "bell")
    socket.plug(True)
    until(lambda: where() == "speakers", "sound is back")
    assert outlet.bells == 1


def test_the_times_of_a_real_watch_bring_sound_back_within_five_seconds() -> None:
    """What passes between a return and the next try, at the worst; a try itself takes a tenth of a second.

    The return shows at once in the nodes of devices: at the next look. Where it does not, at the end of the pause.
    If it fails once because the card is not quite there, the pauses begin anew.
    """
    timing = SpeakerTiming()
    assert timing.longest_pause + timing.first_pause + 2 * timing.look <= 5.0
    # One that comes back while the loss has not even been noticed.
    assert timing.heartbeat + timing.letting_go + timing.first_pause + timing.look <= 5.0


def test_looking_for_a_lost_device_is_no_work(start: Start) -> None:
    timing = SpeakerTiming()
    assert timing.first_pause >= 0.5 and timing.longest_pause >= 1.0, "no more than about one try a second"
