"""A flood at the ear: the whole watch, its real outlet and sound process, and what the device was given to play."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

import numpy as np
import pytest

from analysis.alarm.defaults import DEFAULT_RULES
from analysis.model.alarm import Announcement
from analysis.output.choice import Choice
from analysis.output.outlet import Outlet
from analysis.output.sounds import render
from analysis.output.speaker import Speaker, SpeakerTiming
from analysis.output.speech import ENGINE, Speech, SpeechTiming
from analysis.output.spoken import SpokenOutlet
from analysis.watch.room import RoomLeft
from tests.output import stand_in
from tests.watch.rig import WatchRig

PATIENT = 30.0  # seconds a loaded machine may take; nothing here measures speed
RATE = 48000
FLOOD = {"skin-high": 2.0, "skin-low": 2.0, "spot-high": 2.0, "spot-low": 2.0, "drift-up": 2.0, "drift-down": 2.0}
"""Values far beyond the limits of alarms that do not hush each other. No light goes both ways at once."""


class Desk:
    """A device that keeps every sample it is given, in a file."""

    def __init__(self, folder: Path) -> None:
        self.file = folder / "played"
        (folder / "sounddevice.py").write_text(
            stand_in.playing(1_000_000, (RATE,))
            + "class OutputStream(OutputStream):\n"
            + "    def run(self):\n"
            + f"        kept = open({str(self.file)!r}, 'ab')\n"
            + "        while not self.over:\n"
            + "            block = numpy.zeros((1024, self.channels), 'float32')\n"
            + "            self.callback(block, 1024, None, None)\n"
            + "            kept.write(block[:, 0].tobytes())\n"
            + "            kept.flush()\n"
            + "            time.sleep(0.005)\n"
        )

    def sounds(self) -> list[tuple[str, str, int]]:
        """Kind, direction and priority of every sound that was played in full, in order."""
        deadline = time.monotonic() + PATIENT
        while (wave := np.fromfile(self.file, np.float32))[-RATE // 10 :].any() and time.monotonic() < deadline:
            time.sleep(0.02)
        ways = ("up", "down", "none")
        known = {(rule.kind, direction, rule.priority) for rule in DEFAULT_RULES for direction in ways}
        samples = {each: render(*each, rate=RATE).samples for each in known}
        # A sound that begins as another does and goes on is the longer of the two.
        longest = sorted(samples.items(), key=lambda each: -len(each[1]))
        found, place = [], 0
        while (rest := np.flatnonzero(wave[place:])).size:
            place += int(rest[0])
            for each, wanted in longest:
                lead = int(np.flatnonzero(wanted)[0])
                heard = wave[place - lead : place - lead + len(wanted)]
                if len(heard) == len(wanted) and np.array_equal(heard, np.float32(wanted)):
                    found.append(each)
                    place += len(wanted) - lead
                    break
            else:
                raise AssertionError(f"what is played at {place / RATE:.2f} s is no sound of ours, or not whole")
        return found


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return Desk(tmp_path)


@pytest.fixture
def speaker(tmp_path: Path, desk: Desk) -> Iterator[Speaker]:
    slow = SpeakerTiming(ready=PATIENT, flow=PATIENT, heartbeat=PATIENT)
    speaker = Speaker(environment=stand_in.looking_first_in(tmp_path), timing=slow)
    assert speaker.wait_ready(PATIENT), speaker.status()
    yield speaker
    speaker.close()


@pytest.fixture
def speech(tmp_path: Path) -> Iterator[Speech]:
    engine = tmp_path / ENGINE
    engine.write_text(f'#!/bin/sh\nfor last; do :; done; echo "$last" >> {tmp_path}/said\n')
    engine.chmod(0o755)
    calm = SpeechTiming(speaking=PATIENT, waiting=600.0, repeat=0.0)
    speech = Speech(lambda _: None, {"PATH": f"{tmp_path}"}, timing=calm)
    yield speech
    speech.close()


class Ear:
    """A watch whose announcements go the whole way to the device; ``values`` are shown to its alarms from now on."""

    def __init__(self, speaker: Speaker, speech: Speech, room: Callable[[], RoomLeft | None] | None = None) -> None:
        self.rig = WatchRig(room=room, rate=10.0)
        self.outlet = SpokenOutlet(Outlet(Choice(outlet="speakers", reason="a test"), speaker), speech)
        self.rig.heard.outlet = self.outlet  # type: ignore[assignment]
        self.announced: list[Announcement] = []
        self.speaker, self.speech = speaker, speech
        self.values: Mapping[str, float] = {}
        told = self.outlet.announce

        def announce(announcement: Announcement, now: object) -> None:
            self.announced.append(announcement)
            told(announcement, now)  # type: ignore[arg-type]

        self.outlet.announce = announce  # type: ignore[method-assign]
        self.tickets: list[int] = []
        play = speaker.play

        def kept(announcement: Announcement) -> int | None:
            ticket = play(announcement)
            self.tickets += [] if ticket is None else [ticket]
            return ticket

        speaker.play = kept  # type: ignore[method-assign]
        self.rig.watch._see = lambda *_: self.values  # type: ignore[method-assign]

    def hear_all(self) -> None:
        """Wait until the device has played what waits, and what is said is said."""
        assert self.speech.wait(PATIENT)
        fates = [self.speaker.wait(ticket, PATIENT) for ticket in self.tickets]
        assert fates == ["played"] * len(self.announced)


def said(folder: Path) -> list[str]:
    path = folder / "said"
    return path.read_text().splitlines() if path.exists() else []


def test_a_flood_is_one_summary_with_the_gravest_beside_it_and_all_of_it_is_spoken(
    desk: Desk, speaker: Speaker, speech: Speech, tmp_path: Path
) -> None:
    """Four alarms of the picture rise at once, and the disk is full in the same moment; two more follow later."""
    left = [RoomLeft(100.0)]
    ear = Ear(speaker, speech, room=lambda: left[0])
    ear.rig.play(3.0)
    left[0] = RoomLeft(0.1)
    while ear.rig.watch._room._known != left[0]:
        ear.rig.play(0.1)
    ear.rig.play(7.0)
    ear.values = FLOOD
    ear.rig.play(6.0)
    ear.hear_all()
    raised = {change.alarm for change in ear.rig.notes.alarms if change.after == "active-unacknowledged"}
    assert sorted(raised) == ["disk", "disk-full", "skin-high", "skin-low", "spot-high", "spot-low"]
    assert [(a.alarm, a.counts) for a in ear.announced] == [("disk-full", 1), ("several", 4)]
    assert said(tmp_path) == ["disk nearly full", "4 new alarms"], "the gravest is not cut short by the newest"
    ear.rig.play(8.0)
    ear.hear_all()
    assert [a.alarm for a in ear.announced[2:]] == ["drift-up", "drift-down"], "two are no flood"
    assert desk.sounds() == [(a.kind, a.direction, a.priority) for a in ear.announced], "each once, whole, none beside"


def test_six_one_after_the_other_are_three_sounds_and_a_summary(
    desk: Desk, speaker: Speaker, speech: Speech, tmp_path: Path
) -> None:
    """Drift waits ten seconds and the others three: shown so that one rises every third of a second."""
    ear = Ear(speaker, speech)
    ear.rig.play(3.0)
    for name in ("drift-up", "drift-down"):
        ear.values = {**ear.values, name: 2.0}
        ear.rig.play(0.3)
    ear.rig.play(7.0)
    for name in ("skin-high", "skin-low", "spot-high", "spot-low"):
        ear.values = {**ear.values, name: 2.0}
        ear.rig.play(0.3)
    ear.rig.play(12.0)
    ear.hear_all()
    assert [a.alarm for a in ear.announced] == ["drift-up", "drift-down", "skin-high", "several"]
    assert ear.announced[-1].words == "3 new alarms" == said(tmp_path)[-1], "the newest truth"
    assert desk.sounds() == [(a.kind, a.direction, a.priority) for a in ear.announced]


def test_the_gravest_is_heard_again_each_minute_of_a_flood_until_it_is_seen(
    desk: Desk, speaker: Speaker, speech: Speech, tmp_path: Path
) -> None:
    left = [RoomLeft(100.0)]
    ear = Ear(speaker, speech, room=lambda: left[0])
    ear.rig.play(2.0)
    left[0] = RoomLeft(0.1)
    ear.rig.play(19.0)
    ear.values = FLOOD
    for _ in range(2):
        ear.rig.play(65.0)
        ear.hear_all()
    grave = [a for a in ear.announced if a.alarm == "disk-full"]
    assert [a.again for a in grave] == [False, True, True]
    first, second, third = (a.at.monotonic for a in grave)
    assert second - first == pytest.approx(60.0, abs=0.1) and third - second == pytest.approx(60.0, abs=0.1)
    ear.rig.watch.acknowledge("disk-full", 1)
    ear.rig.play(70.0)
    assert len([a for a in ear.announced if a.alarm == "disk-full"]) == 3, "seen, and heard no more"
    assert said(tmp_path).count("still disk nearly full") == 2
    assert desk.sounds().count(("disk", "none", 1)) == 3
