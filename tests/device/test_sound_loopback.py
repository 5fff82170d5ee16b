"""The alarm as a real sound card took it: recorded at the other end of ALSA's loopback card, and heard.

The card is the kernel's snd-aloop: what is played on its device 0 is recorded on its device 1.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
import sounddevice

from analysis.alarm.defaults import DEFAULT_RULES
from analysis.alarm.rule import AlarmRule
from analysis.model.alarm import Announcement
from analysis.model.instant import Instant
from analysis.output.choice import choose
from analysis.output.outlet import Outlet
from analysis.output.sounds import CEILING, render
from analysis.output.speaker import Speaker, SpeakerTiming
from tests.output.ear import strokes

RATE = 48_000
DRIVER = Path("/sys/bus/platform/drivers/snd_aloop")
# Emulation is slow: a callback may come late without anything being wrong.
PATIENT = SpeakerTiming(ready=30.0, flow=3.0, heartbeat=8.0)


def now() -> Instant:
    return Instant(time.monotonic(), time.time())


def announcement(rule: AlarmRule, occurrence: int = 1) -> Announcement:
    return Announcement(
        alarm=rule.name, occurrence=occurrence, kind=rule.kind, direction=rule.direction, priority=rule.priority,
        words=rule.words, at=Instant(float(occurrence), 0.0),
    )  # fmt: skip


def ends() -> tuple[str, int]:
    """The name of the playing end and the number of the recording end of the loopback card."""
    known = [(number, str(device["name"])) for number, device in enumerate(sounddevice.query_devices())]
    loopback = [(number, name) for number, name in known if name.startswith("Loopback")]
    playing = next(name for _, name in loopback if name.endswith(",0)"))
    recording = next(number for number, name in loopback if name.endswith(",1)"))
    return playing, recording


def until(true: Callable[[], object], what: str, seconds: float = 40.0) -> None:
    limit = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < limit, f"never happened: {what}"
        time.sleep(0.02)


@pytest.fixture
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


@pytest.mark.parametrize("rule", DEFAULT_RULES, ids=lambda rule: rule.name)
def test_the_alarm_is_recognised_in_what_the_card_took(speaker: Speaker, rule: AlarmRule) -> None:
    facts = render(rule.kind, rule.direction, rule.priority).facts
    # An emulated machine that shares its processor tears a hole into the sound now and then: up to three takes.
    for occurrence in range(1, 4):
        wave = take(speaker, announcement(rule, occurrence))
        heard = strokes(wave, RATE)
        if len(heard) == facts.strokes:
            break
    assert len(heard) == facts.strokes
    assert 0.8 * facts.peak <= np.abs(wave).max() <= CEILING
    for stroke in heard:
        whole = facts.stroke_seconds / stroke.seconds
        assert stroke.pitch(0.02, 0.24 * whole) == pytest.approx(facts.begin_hz, rel=0.03)
        assert stroke.pitch(0.78 * whole, 1.0) == pytest.approx(facts.end_hz, rel=0.05)


def test_a_card_that_is_pulled_out_rings_the_bell_and_comes_back() -> None:
    """The kernel gives no error then: the card just stops asking for sound."""
    card = next(DRIVER.glob("snd_aloop.*")).name
    speaker = Speaker(device=ends()[0], timing=SpeakerTiming(ready=30.0, flow=1.5, heartbeat=3.0, first_pause=0.2))
    outlet = Outlet(choose("speakers", {}), speaker)
    pulled = threading.Thread(target=lambda: (DRIVER / "unbind").write_text(card))
    try:
        assert speaker.wait_ready(60.0), speaker.status()
        outlet.tick(now())
        assert outlet.status(now()).outlet == "speakers"
        pulled.start()  # the kernel waits there until the card is let go of
        until(lambda: outlet.status(now()).outlet == "bell", "sound is known to be lost")
        until(lambda: (outlet.tick(now()), outlet.bells)[1], "the bell rings once for lost speakers")
        assert "terminal bell" in outlet.status(now()).reason
        before = outlet.bells
        outlet.announce(announcement(DEFAULT_RULES[0]), now())
        until(lambda: (outlet.tick(now()), outlet.bells > before)[1], "the alarm is rung")
        pulled.join(timeout=40)
        assert not pulled.is_alive(), "the lost card was never let go of"
        (DRIVER / "bind").write_text(card)
        until(lambda: outlet.status(now()).outlet == "speakers", "sound is back", 60.0)
    finally:
        outlet.close()
        if not (DRIVER / card).exists():
            (DRIVER / "bind").write_text(card)
