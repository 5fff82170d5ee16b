"""How long it takes from a change to the sound of it, how long until silence, and how often a sound comes: at the card.

The guest's processor is emulated: rendering a sound, which takes a real one 1 to 13 ms, takes it a tenth of a second
and more. So the sound process renders them once it has a device; the first of each is told by itself, to show that.
The figures are kept in ``sound.txt`` of the rig's folder.
"""

from __future__ import annotations

import itertools
import os
import time
from collections.abc import Iterator

import pytest

from analysis.alarm.defaults import DEFAULT_RULES
from analysis.output.choice import choose
from analysis.output.outlet import REPEAT_SECONDS, Outlet
from analysis.output.speaker import Speaker, SpeakerTiming
from tests.device.sound_capture import RATE, Capture, ends, now, order, report, until
from tests.output.ear import strokes

TRIALS = int(os.environ.get("SOUND_TRIALS", "24"))
"""More for a measurement: ``bash tests/device/rig.sh OUT env SOUND_TRIALS=200 .venv/bin/python -m pytest ...``."""
SOUND_SECONDS = 0.250
"""From the change of an alarm to its sound."""
# Emulation is slow: a callback may come late without anything being wrong.
PATIENT = SpeakerTiming(ready=30.0, flow=3.0, heartbeat=8.0)


@pytest.fixture(scope="module")
def outlet() -> Iterator[Outlet]:
    speaker = Speaker(device=ends()[0], timing=PATIENT)
    assert speaker.wait_ready(60.0), speaker.status()
    made = Outlet(choose("speakers", {}), speaker)
    made.tick(now())
    yield made
    made.close()


def test_from_the_change_to_the_sound_and_from_the_key_to_silence(outlet: Outlet) -> None:
    rules = [rule for rule in DEFAULT_RULES if rule.name in ("feed", "highlights", "shadows", "skin-low")]
    heard, hushed = [], []
    with Capture() as capture:
        for trial in range(len(rules) + TRIALS):
            until(lambda: capture.silent_for(0.1), "silence")
            rule = rules[trial % len(rules)]
            changed = time.monotonic()
            outlet.announce(order(rule, f"{rule.name} {trial}"), now())
            until(lambda: capture.first_sound(changed) is not None, "a sound", pause=0.005)  # noqa: B023
            first = capture.first_sound(changed)
            assert first is not None
            heard.append(first - changed)
            asked = time.monotonic()
            outlet.hush()
            until(lambda: capture.silent_for(0.2), "silence after the key")
            last = capture.last_sound(changed)
            assert last is not None
            hushed.append(max(0.0, last - asked))
    assert outlet.bells == 0, "every one was a sound"
    first_time, heard = heard[: len(rules)], heard[len(rules) :]
    lines = (
        report("change to sound, the first of each", first_time),
        report("change to sound", heard),
        report("key to silence", hushed),
    )
    assert sum(each <= SOUND_SECONDS for each in heard) >= 0.9 * TRIALS, lines
    assert sum(each <= SOUND_SECONDS for each in hushed) >= 0.9 * len(hushed), lines


def test_one_alarm_that_rises_ten_times_a_second_sounds_once_in_its_repeat_time(outlet: Outlet) -> None:
    rule = next(rule for rule in DEFAULT_RULES if rule.name == "highlights")
    with Capture() as capture:
        begun = time.monotonic()
        for occurrence in range(1, 46):
            outlet.announce(order(rule, "again and again", occurrence), now())
            outlet.tick(now())
            time.sleep(0.1)
        until(lambda: capture.silent_for(1.0), "the last has ended")
        wave = capture.since(begun)
    begins = [stroke.begin for stroke in strokes(wave, RATE)]
    sounds = [begins[0], *(late for early, late in itertools.pairwise(begins) if late - early > 0.8)]
    assert 2 <= len(sounds) <= 4, begins
    # A tenth for the tick that lets the next one go, and the machine's own unevenness.
    assert all(late - early > REPEAT_SECONDS - 0.3 for early, late in itertools.pairwise(sounds)), sounds
