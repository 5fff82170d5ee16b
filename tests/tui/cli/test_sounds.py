"""The list of sounds, the file of sounds, and what a sound card really got from ``--play``."""

from __future__ import annotations

import json
import os
import pty
import subprocess
import sys
import time
import wave
from pathlib import Path

import numpy as np
import pytest

from analysis.alarm.flood import FloodLimits
from analysis.output.sounds import CEILING, RATE, describe, render
from analysis.output.speaker import DEVICE_VARIABLE
from tests.output.alsa import Card, no_card, why_not
from tests.output.ear import strokes
from tests.tui.cli.guard_rig import ENTRY
from tests.tui.cli.program import ROOT, Said, environment, one_line
from tui.cli.sounds import BETWEEN_SECONDS, CAUTION, words

PATIENT = 60.0
real_sound = pytest.mark.skipif(bool(why_not()), reason=why_not() or "none")


def sounds(home: Path, *arguments: str, **env: str) -> Said:
    done = subprocess.run(
        [sys.executable, "-c", ENTRY, "sounds", *arguments], stdin=subprocess.DEVNULL, capture_output=True, cwd=ROOT,
        env=environment(home, **env), timeout=PATIENT,
    )  # fmt: skip
    return Said(done.returncode, done.stdout.decode(), done.stderr.decode())


def samples_of(path: Path) -> np.ndarray:
    with wave.open(str(path)) as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (1, 2, RATE)
        return np.frombuffer(file.readframes(file.getnframes()), "<i2") / 32768


def test_every_alarm_is_listed_with_what_it_means_and_what_to_do(tmp_path: Path) -> None:
    said = sounds(tmp_path)
    assert (said.code, said.err) == (0, "")
    text = " ".join(said.out.split())
    for sound in describe():
        assert f"{sound.alarm} priority {sound.priority}: {sound.meaning}" in text
        assert f"{sound.sound}. To do: {sound.advice}." in text
    assert "the gravest of them, level" in " ".join(said.out.split())
    limits = FloodLimits()
    assert (limits.burst, limits.burst_seconds, limits.most, limits.seconds) == (4, 2.0, 10, 600.0), "as the text says"
    assert said.out.splitlines()[-1] == CAUTION and "earphones low" in CAUTION
    assert all(len(line) <= 80 for line in said.out.splitlines())


def test_json_is_one_object_a_sound(tmp_path: Path) -> None:
    said = sounds(tmp_path, "--json")
    told = [json.loads(line) for line in said.out.splitlines()]
    assert [sound["alarm"] for sound in told] == [sound.alarm for sound in describe()]
    assert set(told[0]) == {"alarm", "kind", "direction", "priority", "meaning", "sound", "advice"}


def test_named_ones_only_in_the_order_asked_for(tmp_path: Path) -> None:
    said = sounds(tmp_path, "skin-low", "feed", "--json")
    assert [json.loads(line)["alarm"] for line in said.out.splitlines()] == ["skin-low", "feed"]


def test_what_the_settings_change_is_told_and_sounds_so(tmp_path: Path) -> None:
    settings = tmp_path / "mine.toml"
    settings.write_text(
        '[alarms.highlights]\npriority = 1\nwords = "lake too hot"\nadvice = "close the doors"\n'
        "[alarms.noise]\nenabled = false\n"
    )
    said = sounds(tmp_path, "--json", "--config", str(settings))
    told = {sound["alarm"]: sound for line in said.out.splitlines() if (sound := json.loads(line))}
    assert set(told) == {sound.alarm for sound in describe()} - {"noise"}, "what is turned off makes no sound"
    highlights = told["highlights"]
    assert (highlights["priority"], highlights["meaning"], highlights["advice"]) == (
        1, "lake too hot", "close the doors",
    )  # fmt: skip
    assert highlights["sound"].startswith("four quick strokes of a bright reed, each rising")
    assert json.loads(sounds(tmp_path, "noise", "--json", "--config", str(settings)).out)["alarm"] == "noise"
    path = tmp_path / "one.wav"
    assert sounds(tmp_path, "highlights", "--save", str(path), "--config", str(settings)).code == 0
    assert len(strokes(samples_of(path), RATE)) == 4
    settings.write_text("[alarms.highlights]\nlimt = 2.0\n")
    assert 'did you mean "limit"?' in one_line(sounds(tmp_path, "--config", str(settings)), 2)


def test_a_saved_file_holds_the_very_sounds(tmp_path: Path) -> None:
    path = tmp_path / "two.wav"
    said = sounds(tmp_path, "highlights", "feed", "--save", str(path))
    assert said.code == 0
    # PEAK 0.32 of full scale is 20 log10(0.32) = -9.9 dB.
    assert said.out == f"{path}: 2 sounds, 2.6 s, loudest sample at -9.9 dB of full scale\n"
    samples = samples_of(path)
    first, second = render("highlights", "up", 2).samples, render("feed", "none", 1).samples
    assert np.abs(samples).max() <= CEILING
    assert np.abs(samples[: len(first)] - first).max() < 1e-4
    assert np.abs(samples[-len(second) :] - second).max() < 1e-4
    assert len(samples) == len(first) + round(BETWEEN_SECONDS * RATE) + len(second)
    heard = strokes(samples, RATE)
    assert len(heard) == 2 + 4 and heard[0].pitch(0.75, 1.0) > heard[0].pitch(0.0, 0.25) * 1.3


def test_all_are_saved_where_none_is_named(tmp_path: Path) -> None:
    path = tmp_path / "all.wav"
    assert sounds(tmp_path, "--save", str(path), "--loudness", "0.5").code == 0
    samples = samples_of(path)
    assert 0.15 < np.abs(samples).max() <= CEILING / 2
    expected = sum(render(sound.kind, sound.direction, sound.priority).facts.strokes for sound in describe())
    assert len(strokes(samples, RATE)) == expected


def test_a_file_that_is_there_stays_unless_asked(tmp_path: Path) -> None:
    path = tmp_path / "mine.wav"
    path.write_text("my recording")
    assert "there is a file of that name" in one_line(sounds(tmp_path, "feed", "--save", str(path)), 2)
    assert path.read_text() == "my recording"
    assert sounds(tmp_path, "feed", "--save", str(path), "--replace").code == 0
    assert len(samples_of(path)) > 1000


@pytest.mark.parametrize(
    "arguments,code,told",
    [
        (("fed",), 2, 'no alarm "fed"; did you mean "feed"?'),
        (("--play", "highlight"), 2, "highlights"),
        (("--loudness", "2"), 2, "not in the range"),
        (("--save", "/nowhere/at/all.wav"), 1, "/nowhere/at/all.wav: No such file or directory"),
        (("--save", "/"), 2, "there is a file of that name"),
        (("--volume",), 2, "--volume"),
    ],
)
def test_mistakes_are_one_line(tmp_path: Path, arguments: tuple[str, ...], code: int, told: str) -> None:
    assert told in one_line(sounds(tmp_path, *arguments), code)


def test_a_sound_in_words() -> None:
    (feed,) = [sound for sound in describe() if sound.alarm == "feed"]
    assert words(feed).splitlines()[0] == "feed  priority 1: feed lost"
    assert words(feed).splitlines()[1].startswith("    four quick strokes of a struck wooden bar")


@real_sound
def test_without_a_sound_device_it_says_so_and_what_else_can_be_done(tmp_path: Path) -> None:
    said = sounds(tmp_path, "--play", "feed", ALSA_CONFIG_PATH=no_card()["ALSA_CONFIG_PATH"])
    assert said.out.startswith(CAUTION)
    line = one_line(said._replace(out=""), 1)
    assert "no sound device; write the sounds to a file with --save FILE.wav" in line


@real_sound
def test_what_is_played_is_what_the_card_gets(tmp_path: Path) -> None:
    card = Card(tmp_path)
    said = sounds(tmp_path, "--play", "skin-low", "--json", ALSA_CONFIG_PATH=str(card.config))
    assert said.code == 0, said.err
    assert json.loads(said.out)["alarm"] == "skin-low"
    before, heard = -1, card.heard()
    while len(heard) != before:  # the card may still write down what it took
        time.sleep(0.5)
        before, heard = len(heard), card.heard()
    (stroke, *more) = strokes(heard, RATE)
    (description,) = [sound for sound in describe() if sound.alarm == "skin-low"]
    facts = render(description.kind, description.direction, description.priority).facts
    assert 1 + len(more) == facts.strokes
    assert (more or [stroke])[-1].end - stroke.begin == pytest.approx(facts.seconds, abs=0.05), "to its very end"
    assert stroke.pitch(0.0, 0.25) == pytest.approx(facts.begin_hz, rel=0.02)
    assert stroke.pitch(0.75, 1.0) == pytest.approx(facts.end_hz, rel=0.02)


@real_sound
def test_the_device_may_be_named(tmp_path: Path) -> None:
    card = Card(tmp_path)
    for how in (("--device", "trumpet"), ()):
        env = {} if how else {DEVICE_VARIABLE: "trumpet"}
        said = sounds(tmp_path, "--play", "feed", *how, ALSA_CONFIG_PATH=str(card.config), **env)
        assert "no sound device called trumpet" in one_line(said._replace(out=""), 1)


def rung(home: Path, *arguments: str, **env: str) -> tuple[int, str]:
    """What a terminal gets of ``sounds``: both outputs in one."""
    outer, inner = pty.openpty()
    try:
        done = subprocess.run(
            [sys.executable, "-c", ENTRY, "sounds", *arguments], stdin=subprocess.DEVNULL, stdout=inner, stderr=inner,
            cwd=ROOT, env=environment(home, **env), timeout=PATIENT,
        )  # fmt: skip
        return done.returncode, os.read(outer, 65_536).decode()
    finally:
        os.close(outer)
        os.close(inner)


SSH = {"SSH_CONNECTION": "192.0.2.7 50000 192.0.2.1 22"}


def test_over_ssh_the_terminal_rings_as_a_watch_does_there(tmp_path: Path) -> None:
    code, text = rung(tmp_path, "--play", "feed", **SSH)
    assert code == 0, text
    assert text.count("\a") == 1 and "feed lost" in text
    assert "you are connected over SSH" in text and "--sound speakers" in text


def test_the_settings_say_where_and_the_command_line_says_it_louder(tmp_path: Path) -> None:
    settings = tmp_path / "mine.toml"
    settings.write_text('[sound]\noutlet = "bell"\n')
    code, text = rung(tmp_path, "--play", "feed", "--config", str(settings))
    assert (code, text.count("\a")) == (0, 1)
    assert "Terminal bell, as asked." in text
    settings.write_text('[sound]\noutlet = "off"\n')
    code, text = rung(tmp_path, "--play", "feed", "--config", str(settings))
    assert code == 1 and "\a" not in text
    assert "sound is turned off in your settings; add --sound speakers or --sound bell" in " ".join(text.split())
    code, text = rung(tmp_path, "--play", "feed", "--sound", "bell", "--config", str(settings))
    assert (code, text.count("\a")) == (0, 1)


def test_where_no_terminal_is_nothing_rings_and_it_says_so(tmp_path: Path) -> None:
    assert "no terminal to ring" in one_line(sounds(tmp_path, "--play", "feed", "--sound", "bell"), 1)


@real_sound
def test_over_ssh_a_device_that_was_named_is_played_on(tmp_path: Path) -> None:
    card = Card(tmp_path)
    said = sounds(tmp_path, "--play", "feed", "--device", "trumpet", ALSA_CONFIG_PATH=str(card.config), **SSH)
    assert "no sound device called trumpet" in one_line(said._replace(out=""), 1)
