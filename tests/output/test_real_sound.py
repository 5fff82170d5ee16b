"""What PortAudio really played, recorded and measured; and what happens when it can play no more.

The sound card is ALSA's file plugin behind a pipe that takes samples at the real rate. Where
PortAudio is not installed these tests are skipped; the program's own tests install it.
"""

from __future__ import annotations

import itertools
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

from analysis.alarm.defaults import DEFAULT_RULES
from analysis.alarm.rule import AlarmRule
from analysis.model.alarm import Announcement
from analysis.model.instant import Instant
from analysis.output.choice import choose
from analysis.output.outlet import Outlet, open_outlet
from analysis.output.sounds import CEILING, render
from analysis.output.speaker import DEVICE_VARIABLE, Speaker, SpeakerTiming
from tests.output.alsa import RATE, Card, no_card, why_not
from tests.output.ear import Stroke, strokes
from tests.output.stand_in import NEVER_OPENS, looking_first_in

PATIENT = 20.0
# A loaded machine may hold a callback up for a while; only a real stall lasts this long.
STEADY = SpeakerTiming(flow=3.0, heartbeat=6.0)

pytestmark = pytest.mark.skipif(bool(why_not()), reason=why_not() or "none")

Play = Callable[..., Speaker]


def announcement(rule: AlarmRule, occurrence: int = 1) -> Announcement:
    return Announcement(
        alarm=rule.name, occurrence=occurrence, kind=rule.kind, direction=rule.direction, priority=rule.priority,
        words=rule.words, at=Instant(float(occurrence), 0.0),
    )  # fmt: skip


def until(true: Callable[[], object], what: str) -> None:
    deadline = time.monotonic() + PATIENT
    while not true():
        assert time.monotonic() < deadline, f"never happened: {what}"
        time.sleep(0.02)


def now() -> Instant:
    return Instant(time.monotonic(), time.time())


@pytest.fixture
def speaker_on() -> Iterator[Play]:
    speakers = []

    def starts(environment: dict[str, str], **given: object) -> Speaker:
        speakers.append(Speaker(environment=environment, **({"timing": STEADY} | given)))  # type: ignore[arg-type]
        return speakers[-1]

    yield starts
    for speaker in speakers:
        speaker.close()


def recorded(card: Card, speaker: Speaker, ticket: int) -> np.ndarray:
    """What the card took, once the order was played and everything in between arrived."""
    assert speaker.wait(ticket, PATIENT) == "played"
    played = len(card.heard())
    until(lambda: len(card.heard()) > played + RATE // 2, "the rest of the sound at the card")
    return card.heard()


ONE_OF_EACH = list({rule.kind: rule for rule in reversed(DEFAULT_RULES)}.values())
"""Real time is dear: one rule of each kind of sound."""


@pytest.mark.parametrize("rule", ONE_OF_EACH, ids=lambda rule: rule.name)
def test_the_alarm_that_was_played_is_the_alarm_that_was_meant(
    rule: AlarmRule, tmp_path: Path, speaker_on: Play
) -> None:
    card = Card(tmp_path)
    speaker = speaker_on(card.environment())
    assert speaker.wait_ready(PATIENT), speaker.status()
    ticket = speaker.play(announcement(rule))
    assert ticket is not None
    wave = recorded(card, speaker, ticket)
    facts = render(rule.kind, rule.direction, rule.priority).facts
    heard = strokes(wave, RATE)
    assert len(heard) == facts.strokes
    assert np.abs(wave).max() == pytest.approx(facts.peak, abs=0.005)
    assert np.abs(wave).max() <= CEILING
    for stroke in heard:
        check_stroke(stroke, rule, facts.begin_hz, facts.end_hz, facts.stroke_seconds)
    for before, after in itertools.pairwise(heard):
        assert after.begin - before.begin == pytest.approx(facts.stroke_seconds + facts.gap_seconds, abs=0.01)


def check_stroke(stroke: Stroke, rule: AlarmRule, begin: float, end: float, seconds: float) -> None:
    whole = seconds / stroke.seconds
    assert stroke.pitch(0.02, 0.24 * whole) == pytest.approx(begin, rel=0.02)
    assert stroke.pitch(0.78 * whole, 1.0) == pytest.approx(end, rel=0.04)
    moved = stroke.pitch(0.78 * whole, 1.0) / stroke.pitch(0.02, 0.24 * whole)
    assert {"up": moved > 1.3, "down": moved < 0.77, "none": 0.95 < moved < 1.05}[rule.direction]
    assert 0.010 <= stroke.onset_seconds() <= 0.050


def test_through_the_outlet_each_occurrence_is_played_once(tmp_path: Path, speaker_on: Play) -> None:
    card = Card(tmp_path)
    speaker = speaker_on(card.environment())
    outlet = Outlet(choose("auto", {}), speaker)
    assert speaker.wait_ready(PATIENT), speaker.status()
    outlet.tick(now())
    assert outlet.status(now()).outlet == "speakers"
    highlights = next(rule for rule in DEFAULT_RULES if rule.name == "highlights")
    for _ in range(20):
        outlet.announce(announcement(highlights), now())
        outlet.tick(now())
    wave = recorded(card, speaker, 1)
    assert len(strokes(wave, RATE)) == 2
    assert outlet.bells == 0


def test_stop_is_silent_at_once(tmp_path: Path, speaker_on: Play) -> None:
    card = Card(tmp_path)
    speaker = speaker_on(card.environment())
    assert speaker.wait_ready(PATIENT), speaker.status()
    for rule in DEFAULT_RULES[:3]:
        speaker.play(announcement(rule))
    until(lambda: speaker.fate(1) == "playing", "playing")
    speaker.stop()
    assert speaker.wait(1, PATIENT) == "stopped"
    assert [speaker.wait(ticket, PATIENT) for ticket in (2, 3)] == ["stopped", "stopped"]
    stopped = len(card.heard())
    until(lambda: len(card.heard()) > stopped + 3 * RATE // 2, "a second and a half more")
    # All three together would last more than two seconds, eight strokes.
    assert len(strokes(card.heard(), RATE)) <= 4
    assert not card.heard()[stopped + RATE :].any()
    assert speaker.lost() == ()


def test_a_stuck_card_is_noticed_the_bell_rings_and_the_process_is_replaced(tmp_path: Path, speaker_on: Play) -> None:
    card = Card(tmp_path, stall_seconds=1.0)
    timing = SpeakerTiming(flow=0.5, heartbeat=1.5, first_pause=0.1)
    speaker = speaker_on(card.environment(), timing=timing)
    outlet = Outlet(choose("auto", {}), speaker)
    assert speaker.wait_ready(PATIENT), speaker.status()
    pid = speaker.status().pid
    assert pid is not None
    outlet.tick(now())
    longest = 0.0
    highlights = DEFAULT_RULES[1]
    deadline = time.monotonic() + PATIENT
    occurrence = 0
    while not (outlet.bells and speaker.status().pid not in (pid, None)):
        assert time.monotonic() < deadline, (outlet.bells, speaker.status())
        began = time.monotonic()
        occurrence += 1
        outlet.announce(announcement(highlights, occurrence), now())
        outlet.tick(now())
        outlet.status(now())
        longest = max(longest, time.monotonic() - began)
        time.sleep(0.05)
    assert longest < 1.0, "the watch waited for a stuck card"
    began = time.monotonic()
    speaker.close()
    assert time.monotonic() - began < 5.0
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)


def test_a_killed_process_gives_way_to_the_bell_and_sound_comes_back(tmp_path: Path, speaker_on: Play) -> None:
    card = Card(tmp_path)
    speaker = speaker_on(card.environment())
    outlet = Outlet(choose("auto", {}), speaker)
    assert speaker.wait_ready(PATIENT), speaker.status()
    outlet.tick(now())
    pid = speaker.status().pid
    assert pid is not None
    os.kill(pid, 9)
    until(lambda: (outlet.tick(now()), outlet.bells)[1], "bell")
    until(lambda: outlet.status(now()).outlet == "speakers", "sound is back")
    assert speaker.status().restarts == 1
    ticket = speaker.play(announcement(DEFAULT_RULES[1]))
    assert ticket is not None
    assert len(strokes(recorded(card, speaker, ticket), RATE)) == 2


def test_a_sound_process_does_not_outlive_its_watch(tmp_path: Path) -> None:
    program = (
        "import os, sys\n"
        "from analysis.output.speaker import Speaker\n"
        "speaker = Speaker()\n"
        "speaker.wait_ready(15)\n"
        "print(speaker.status().pid, flush=True)\n"
        "os.kill(os.getpid(), 9)\n"
    )
    environment = Card(tmp_path).environment()
    told = subprocess.run([sys.executable, "-c", program], env=environment, capture_output=True, timeout=60)
    pid = int(told.stdout)
    until(lambda: not Path(f"/proc/{pid}").exists() or "Z" in Path(f"/proc/{pid}/stat").read_text(), "gone")


def test_not_even_while_the_device_is_being_opened(tmp_path: Path) -> None:
    (tmp_path / "sounddevice.py").write_text(NEVER_OPENS)
    program = (
        "import os, time\n"
        "from analysis.output.speaker import Speaker\n"
        "speaker = Speaker()\n"
        "while speaker.status().pid is None: time.sleep(0.01)\n"
        "print(speaker.status().pid, flush=True)\n"
        "time.sleep(0.5)\n"
        "os.kill(os.getpid(), 9)\n"
    )
    environment = looking_first_in(tmp_path)
    told = subprocess.run([sys.executable, "-c", program], env=environment, capture_output=True, timeout=60)
    pid = int(told.stdout)
    until(lambda: not Path(f"/proc/{pid}").exists() or "Z" in Path(f"/proc/{pid}/stat").read_text(), "gone")


def test_a_named_device_that_is_not_there_is_told_with_those_that_are(tmp_path: Path, speaker_on: Play) -> None:
    speaker = speaker_on(Card(tmp_path).environment(), device="the desk")
    until(lambda: speaker.status().state == "waiting", "refused")
    assert speaker.status().reason.startswith("no sound device called the desk; there are: ")
    assert "default" in speaker.status().reason


def test_the_device_is_named_by_the_environment_too(tmp_path: Path) -> None:
    outlet = open_outlet(
        "auto", Card(tmp_path).environment() | {DEVICE_VARIABLE: "the desk", "SSH_TTY": "", "SSH_CONNECTION": ""}
    )
    until(lambda: "the desk" in outlet.status(now()).reason, "refused")
    assert outlet.status(now()).outlet == "bell"
    outlet.close()


@pytest.mark.skipif(
    Path("/proc/asound/cards").exists() and "no soundcards" not in Path("/proc/asound/cards").read_text(),
    reason="this machine has a sound card",
)
def test_without_a_card_the_bell_rings_and_says_why(speaker_on: Play) -> None:
    speaker = speaker_on(no_card())
    outlet = Outlet(choose("auto", {}), speaker)
    until(lambda: speaker.status().state == "waiting", "refused")
    outlet.announce(announcement(DEFAULT_RULES[0]), now())
    assert outlet.bells == 1
    assert outlet.status(now()).reason == "terminal bell: no sound device"
