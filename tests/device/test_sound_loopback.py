"""The alarm as a real sound card took it: recorded at the other end of ALSA's loopback card, and heard.

The card is the kernel's snd-aloop: what is played on its device 0 is recorded on its device 1.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
import sounddevice

from analysis.alarm.defaults import DEFAULT_RULES
from analysis.alarm.rule import AlarmRule
from analysis.model.alarm import Announcement
from analysis.model.instant import Instant
from analysis.output.sounds import CEILING, SoundFacts, render
from analysis.output.speaker import Speaker, SpeakerTiming
from tests.device.sound_capture import RATE, ends, until
from tests.output.ear import strokes

# Emulation is slow: a callback may come late without anything being wrong.
PATIENT = SpeakerTiming(ready=30.0, flow=3.0, heartbeat=8.0)


def announcement(rule: AlarmRule, occurrence: int = 1) -> Announcement:
    return Announcement(
        alarm=rule.name, occurrence=occurrence, kind=rule.kind, direction=rule.direction, priority=rule.priority,
        words=rule.words, at=Instant(float(occurrence), 0.0),
    )  # fmt: skip


@pytest.fixture(scope="module")
def speaker() -> Iterator[Speaker]:
    made = Speaker(device=ends()[0], timing=PATIENT)
    assert made.wait_ready(60.0), made.status()
    yield made
    made.close()


def take(speaker: Speaker, order: Announcement) -> np.ndarray:
    """Play an alarm and return what arrives at the other end of the card."""
    recorded: list[np.ndarray] = []
    with sounddevice.InputStream(
        samplerate=RATE, device=ends()[1], channels=2, dtype="float32", latency="high",
        callback=lambda data, frames, times, status: recorded.append(data[:, 0].copy()),
    ):  # fmt: skip
        until(lambda: recorded, "the recording begins")
        ticket = speaker.play(order)
        assert ticket is not None
        assert speaker.wait(ticket, 40.0) == "played"
        enough = sum(map(len, recorded)) + RATE
        until(lambda: sum(map(len, recorded)) > enough, "the rest of the recording")
    return np.concatenate(recorded)


def wrong(wave: np.ndarray, facts: SoundFacts) -> list[str]:
    """What is not as it should be in a recording of a sound."""
    heard = strokes(wave, RATE)
    if len(heard) != facts.strokes:
        return [f"{len(heard)} strokes, not {facts.strokes}"]
    found = []
    loudest = float(np.abs(wave).max())
    if not 0.8 * facts.peak <= loudest <= CEILING:
        found.append(f"loudest sample {loudest:.3f}, peak {facts.peak:.3f}, ceiling {CEILING}")
    for number, stroke in enumerate(heard, 1):
        whole = facts.stroke_seconds / stroke.seconds
        begin, end, onset = stroke.pitch(0.02, 0.24 * whole), stroke.pitch(0.78 * whole, 1.0), stroke.onset_seconds()
        if begin != pytest.approx(facts.begin_hz, rel=0.03) or end != pytest.approx(facts.end_hz, rel=0.05):
            found.append(f"stroke {number}: {begin:.0f} to {end:.0f} Hz")
        if not 0.010 <= onset <= 0.050:
            found.append(f"stroke {number}: sets in within {1000 * onset:.0f} ms")
    return found


@pytest.mark.parametrize("rule", DEFAULT_RULES, ids=lambda rule: rule.name)
def test_the_alarm_is_recognised_in_what_the_card_took(speaker: Speaker, rule: AlarmRule) -> None:
    until(lambda: speaker.status().state == "ready", "sound flows")
    facts = render(rule.kind, rule.direction, rule.priority).facts
    # An emulated machine that shares its processor tears a hole into the sound now and then: up to four takes.
    takes = []
    for occurrence in range(1, 5):
        takes.append(wrong(take(speaker, announcement(rule, occurrence)), facts))
        if not takes[-1]:
            break
    assert not takes[-1], takes
