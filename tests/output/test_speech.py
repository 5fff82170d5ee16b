"""Spoken words: a stand-in engine that writes down what it was told, and the real one where it is installed."""

from __future__ import annotations

import os
import shutil
import time
import wave
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from analysis.model.alarm import AlarmChange, AlarmState, Announcement
from analysis.model.feed import FeedEvent
from analysis.model.instant import Instant
from analysis.output.bell import Bell
from analysis.output.choice import choose
from analysis.output.outlet import Outlet
from analysis.output.sounds import render
from analysis.output.speech import ENGINE, LONGEST_WORDS, NO_ENGINE, Speech, SpeechTiming, spoken_words
from analysis.output.spoken import SpokenOutlet, sound_seconds
from tests.output.test_hook import PATIENT, gone, until
from tests.output.test_outlet import PaperSpeaker

REAL = shutil.which(ENGINE)
# Words need not be fresh in these tests, however slow the machine is, unless one says so.
CALM = SpeechTiming(speaking=PATIENT, waiting=600.0, repeat=0.0)


def alarm(
    name: str = "highlights", words: str = "highlights clipping", priority: int = 2, occurrence: int = 1, **more: object
) -> Announcement:
    return Announcement(
        alarm=name, occurrence=occurrence, kind="highlights", direction="up", priority=priority, words=words,
        at=Instant(1.0, 1e9), **more,
    )  # type: ignore[arg-type]  # fmt: skip


def change(name: str, after: AlarmState) -> AlarmChange:
    return AlarmChange(
        alarm=name, occurrence=1, before="active-unacknowledged", after=after, priority=2, reason="",
        at=Instant(2.0, 1e9), seconds=1.0,
    )  # fmt: skip


class Booth:
    """A folder that is the whole PATH, with an engine of the test's own in it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.lines: list[str] = []
        self.speeches: list[Speech] = []

    def engine(self, body: str) -> None:
        path = self.folder / ENGINE
        path.write_text(f"#!/bin/sh\ncd {self.folder}\n{body}\n")
        path.chmod(0o755)

    def speech(self, timing: SpeechTiming = CALM, **more: object) -> Speech:
        environment = {"PATH": f"{self.folder}"}
        self.speeches.append(Speech(self.lines.append, environment, timing=timing, **more))  # type: ignore[arg-type]
        return self.speeches[-1]

    def said(self) -> list[str]:
        """The last argument of each call, in order."""
        path = self.folder / "said"
        return path.read_text().splitlines() if path.exists() else []


WRITES = 'for last; do :; done; echo "$last" >> said'
HOLDS = WRITES + "; while [ ! -e go ]; do /bin/sleep 0.02; done"


@pytest.fixture
def booth(tmp_path: Path) -> Iterator[Booth]:
    booth = Booth(tmp_path)
    yield booth
    for speech in booth.speeches:
        speech.close()


def test_the_words_are_the_last_argument_and_no_shell_sees_them(booth: Booth) -> None:
    booth.engine('printf "%s\\n" "$@" >> arguments')
    speech = booth.speech(voice="en-gb", words_a_minute=150, loudness=0.5)
    assert speech.announce(alarm(words="-w skin half a stop low; $(touch x)"))
    assert speech.wait(PATIENT)
    arguments = (booth.folder / "arguments").read_text().splitlines()
    assert arguments == ["-v", "en-gb", "-s", "150", "-a", "50", "--", "-w skin half a stop low; $(touch x)"]
    assert (speech.spoken, booth.lines, speech.fault) == (1, [], None)


def test_never_louder_than_the_ceiling(booth: Booth) -> None:
    booth.engine('printf "%s\\n" "$@" >> arguments')
    speech = booth.speech(loudness=9.0)
    speech.say("loud")
    assert speech.wait(PATIENT)
    arguments = (booth.folder / "arguments").read_text().splitlines()
    assert arguments[arguments.index("-a") + 1] == "100"


def test_one_thing_at_a_time_and_the_newest_waits(booth: Booth) -> None:
    booth.engine(HOLDS)
    speech = booth.speech()
    speech.announce(alarm("a", "first"))
    until(booth.said, "the first words")
    for name in ("second", "third", "fourth"):
        assert speech.announce(alarm(name, name))
    time.sleep(0.1)
    assert booth.said() == ["first"] and speech.speaking == "first"
    (booth.folder / "go").touch()
    assert speech.wait(PATIENT)
    assert booth.said() == ["first", "fourth"]
    assert (speech.spoken, speech.dropped, speech.speaking) == (2, 2, None)


def test_priority_one_cuts_in_and_is_not_dropped_for_less(booth: Booth) -> None:
    booth.engine(HOLDS)
    speech = booth.speech()
    speech.announce(alarm("a", "first"))
    until(booth.said, "the first words")
    speech.announce(alarm("feed", "feed lost", priority=1), after=0.2)
    assert speech.announce(alarm("b", "lesser")) and speech.announce(alarm("several", "4 new alarms"))
    until(lambda: booth.said() == ["first", "feed lost"], "the words that cut in")
    (booth.folder / "go").touch()
    assert speech.wait(PATIENT)
    assert booth.said() == ["first", "feed lost", "4 new alarms"], "the newest lesser thing waits behind the gravest"
    assert speech.dropped == 1


def test_what_waits_behind_the_gravest_ends_with_its_alarm_and_with_a_hush(booth: Booth) -> None:
    booth.engine(HOLDS)
    speech = booth.speech()
    speech.announce(alarm("a", "first"))
    until(booth.said, "the first words")
    speech.announce(alarm("feed", "feed lost", priority=1), after=600.0)
    speech.announce(alarm("skin-low", "skin too dark"))
    speech.alarm_changed(change("skin-low", "normal"))
    assert speech.dropped == 1
    speech.announce(alarm("b", "brighter than the hold"))
    speech.alarm_changed(change("feed", "normal"))
    (booth.folder / "go").touch()
    assert speech.wait(PATIENT)
    assert booth.said() == ["first", "brighter than the hold"] and speech.dropped == 2
    (booth.folder / "go").unlink()
    speech.announce(alarm("c", "second"))
    until(lambda: len(booth.said()) == 3, "the second words")
    speech.announce(alarm("feed", "feed lost", priority=1, occurrence=2), after=600.0)
    speech.announce(alarm("d", "never said"))
    speech.hush()
    assert speech.wait(PATIENT)
    assert booth.said()[2:] == ["second"] and speech.dropped == 4


def test_words_of_an_alarm_that_is_over_are_not_spoken(booth: Booth) -> None:
    booth.engine(HOLDS)
    speech = booth.speech()
    speech.announce(alarm("a", "first"))
    until(booth.said, "the first words")
    speech.announce(alarm("skin-low", "skin too dark"))
    speech.alarm_changed(change("shadows", "normal"))
    speech.alarm_changed(change("skin-low", "active-acknowledged"))
    assert speech.dropped == 0, "neither another alarm's end nor an acknowledgement makes the words untrue"
    speech.alarm_changed(change("skin-low", "returned-unacknowledged"))
    (booth.folder / "go").touch()
    assert speech.wait(PATIENT)
    assert booth.said() == ["first"] and speech.dropped == 1


def test_words_that_waited_too_long_are_old(booth: Booth) -> None:
    booth.engine(HOLDS)
    speech = booth.speech(SpeechTiming(speaking=PATIENT, waiting=0.05, repeat=0.0))
    speech.announce(alarm("a", "first"))
    until(booth.said, "the first words")
    speech.announce(alarm("b", "old by then"))
    time.sleep(0.3)
    (booth.folder / "go").touch()
    assert speech.wait(PATIENT)
    assert booth.said() == ["first"] and speech.dropped == 1


def test_an_alarm_is_not_spoken_more_often_than_its_repeat_time(booth: Booth) -> None:
    booth.engine(WRITES)
    speech = booth.speech(SpeechTiming(repeat=600.0, waiting=600.0))
    for occurrence in range(5):
        speech.announce(alarm(occurrence=occurrence))
        assert speech.wait(PATIENT)
    speech.announce(alarm("skin-low", "skin too dark"))
    assert speech.wait(PATIENT)
    assert booth.said() == ["highlights clipping", "skin too dark"]
    assert speech.say("highlights clipping"), "what is asked for is not held back"
    assert speech.wait(PATIENT) and len(booth.said()) == 3


def test_hush_kills_what_is_spoken_and_the_next_is_heard(booth: Booth) -> None:
    booth.engine("echo $$ > pid; " + HOLDS)
    speech = booth.speech()
    speech.announce(alarm("a", "first"))
    until(booth.said, "the first words")
    speech.announce(alarm("b", "waiting"))
    speech.hush()
    assert speech.wait(PATIENT)
    assert gone(int((booth.folder / "pid").read_text()))
    (booth.folder / "go").touch()
    speech.announce(alarm("c", "next"))
    assert speech.wait(PATIENT)
    assert booth.said() == ["first", "next"] and booth.lines == []


def test_an_engine_that_hangs_is_stopped_and_told_once(booth: Booth) -> None:
    booth.engine("echo $$ > pid; trap '' TERM; exec /bin/sleep 600")
    speech = booth.speech(SpeechTiming(speaking=0.4, waiting=600.0, repeat=0.0))
    for name in ("a", "b"):
        speech.announce(alarm(name))
        assert speech.wait(PATIENT)
    until(lambda: booth.lines, "a line")
    assert gone(int((booth.folder / "pid").read_text()))
    assert booth.lines == ["no speech: espeak-ng did not end within 0.4 s and was stopped"]


def test_no_sound_device_is_told_although_the_engine_ends_well(booth: Booth) -> None:
    booth.engine(
        "echo 'ALSA lib pcm.c:2666: Unknown PCM default' >&2; echo 'error: No such file or directory' >&2; exit 0"
    )
    speech = booth.speech()
    speech.announce(alarm())
    assert speech.wait(PATIENT)
    until(lambda: booth.lines, "a line")
    assert booth.lines == ["no speech: espeak-ng says error: No such file or directory"] and speech.spoken == 0
    booth.engine(WRITES)
    speech.announce(alarm())
    assert speech.wait(PATIENT)
    until(lambda: speech.fault is None, "the fault's end")
    assert speech.spoken == 1


def test_without_an_engine_it_says_so_once(booth: Booth) -> None:
    speech = booth.speech()
    for _ in range(3):
        assert not speech.announce(alarm()) and not speech.say("anything")
    assert booth.lines == [NO_ENGINE] and not speech.available and speech.fault == NO_ENGINE
    speech.hush()
    assert speech.wait(0.0)


def test_an_engine_that_is_removed_is_told(booth: Booth) -> None:
    booth.engine(WRITES)
    speech = booth.speech()
    (booth.folder / ENGINE).unlink()
    speech.announce(alarm())
    assert speech.wait(PATIENT)
    until(lambda: booth.lines, "a line")
    assert "does not start: No such file or directory" in booth.lines[0]


def test_closing_ends_what_is_spoken(booth: Booth) -> None:
    booth.engine("echo $$ > pid; " + HOLDS)
    speech = booth.speech()
    speech.announce(alarm("a", "first"))
    until(booth.said, "the first words")
    speech.close(PATIENT)
    assert gone(int((booth.folder / "pid").read_text()))
    assert not speech.announce(alarm("b", "later"))


def test_feed_changes_say_nothing(booth: Booth) -> None:
    booth.engine(WRITES)
    speech = booth.speech()
    speech.feed_changed(FeedEvent(before="live", after="lost", evidence="x", generation=1, at=Instant(0.0, 0.0)))
    assert speech.wait(0.0) and booth.said() == []


@pytest.mark.parametrize(
    "words,said",
    [
        ("clipped 2.3 % of the picture", "clipped 2.3 percent of the picture"),
        ("noise at 38.5 dB", "noise at 38.5 decibels"),
        ("middle 40.1 IRE, 25 fps", "middle 40.1 I R E, 25 frames a second"),
        ("a\x1b]0;b\x07\n\tc\u202e", "a 0;b c"),
        ("[[h@l'oU]] <mark>", "h@l'oU mark"),
        ("\n", ""),
    ],
)
def test_words_as_the_engine_gets_them(words: str, said: str) -> None:
    assert spoken_words(words) == said
    assert len(spoken_words(words * 1000)) <= LONGEST_WORDS


class Stage:
    """A spoken outlet on a paper speaker."""

    def __init__(self, booth: Booth, mode: str) -> None:
        self.speaker, self.speech = PaperSpeaker(), booth.speech()
        self.outlet = SpokenOutlet(Outlet(choose(mode, {}), self.speaker, Bell()), self.speech)


def test_sound_first_and_then_the_words(booth: Booth) -> None:
    booth.engine(WRITES)
    stage = Stage(booth, "speakers")
    began = time.monotonic()
    stage.outlet.announce(alarm(priority=3), Instant(1.0, 1e9))
    assert stage.speaker.played == [("highlights", 1)]
    assert stage.speech.wait(PATIENT)
    assert time.monotonic() - began >= sound_seconds(3)
    assert booth.said() == ["highlights clipping"]
    for priority in (1, 2, 3):
        length = render("feed", "none", priority).facts.seconds
        assert length < sound_seconds(priority) < length + 0.5


def test_with_sound_off_there_are_words_alone_and_reminders_say_still(booth: Booth) -> None:
    booth.engine(WRITES)
    stage = Stage(booth, "off")
    stage.outlet.announce(alarm(again=True), Instant(1.0, 1e9))
    assert stage.speech.wait(PATIENT)
    assert booth.said() == ["still highlights clipping"] and stage.speaker.played == []
    assert stage.outlet.status(Instant(1.0, 1e9)).reason == "sound is turned off; words are spoken"


def test_one_mute_and_one_hush_for_both(booth: Booth) -> None:
    booth.engine(HOLDS)
    stage = Stage(booth, "speakers")
    stage.speech.say("first")
    until(booth.said, "the first words")
    stage.outlet.mute(60.0, now=Instant(1.0, 1e9))
    assert stage.speech.wait(PATIENT) and stage.speaker.stops == 1
    stage.outlet.announce(alarm(), Instant(2.0, 1e9))
    assert stage.speech.wait(0.0) and stage.speaker.played == []
    assert stage.outlet.status(Instant(2.0, 1e9)).muted_seconds == 59.0
    stage.outlet.unmute()
    (booth.folder / "go").touch()
    assert stage.outlet.say("heard again") and stage.speech.wait(PATIENT)
    stage.outlet.hush()
    stage.outlet.tick(Instant(3.0, 1e9))
    stage.outlet.close()
    assert (stage.speaker.stops, stage.speaker.closes, stage.outlet.bells) == (2, 1, 0)
    assert booth.said() == ["first", "heard again"] and stage.outlet.speech is stage.speech


real_engine = pytest.mark.skipif(REAL is None, reason=f"{ENGINE} is not installed")


def rendered(booth: Booth, words: str, **more: object) -> tuple[np.ndarray, int]:
    """The samples that the real engine makes of words, as a part of full scale."""
    booth.engine(f'exec {REAL} -w spoken.wav "$@"')
    speech = booth.speech(**more)
    assert speech.say(words) and speech.wait(PATIENT)
    assert (speech.spoken, booth.lines) == (1, [])
    with wave.open(str(booth.folder / "spoken.wav")) as file:
        samples = np.frombuffer(file.readframes(file.getnframes()), "<i2") / 32768
        return samples, file.getframerate()


@real_engine
def test_the_real_engine_speaks_for_as_long_as_words_take(booth: Booth) -> None:
    short, rate = rendered(booth, "feed lost")
    long, _ = rendered(booth, "highlights clipping, and the skin half a stop low")
    # Two words and nine at 165 a minute are 0.7 and 3.3 s; the engine adds a pause at the end.
    assert 0.4 < len(short) / rate < 2.0 < len(long) / rate < 5.0
    for samples in (short, long):
        assert np.sqrt(np.mean(samples**2)) > 0.02 and np.abs(samples).max() < 1.0


@real_engine
def test_the_real_engine_follows_the_loudness(booth: Booth) -> None:
    full, _ = rendered(booth, "feed lost")
    half, _ = rendered(booth, "feed lost", loudness=0.5)
    ratio = np.sqrt(np.mean(half**2)) / np.sqrt(np.mean(full**2))
    assert 0.3 < ratio < 0.7


@real_engine
def test_the_real_engine_takes_words_that_look_like_options(booth: Booth) -> None:
    odd, rate = rendered(booth, "--version -q -f /etc/passwd")
    assert len(odd) / rate > 1.0


@real_engine
def test_the_real_engine_without_a_sound_device_is_told(booth: Booth) -> None:
    if any(Path("/proc/asound").glob("card*")) or os.environ.get("PULSE_SERVER"):
        pytest.skip("this machine has a sound device")
    booth.engine(f'exec {REAL} "$@"')
    speech = booth.speech()
    speech.say("feed lost")
    assert speech.wait(PATIENT)
    until(lambda: booth.lines, "a line")
    assert booth.lines[0].startswith("no speech: ") and speech.spoken == 0
