"""A card that is pulled out while a watch uses it: told at once by the bell, and used again when it is back.

The kernel gives no error then: the card just stops asking for sound. With the times that a real watch uses. The
figures are kept in ``sound.txt`` of the rig's folder.
"""

from __future__ import annotations

import os
import subprocess
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
import sounddevice

from analysis.alarm.defaults import DEFAULT_RULES
from analysis.output.choice import choose
from analysis.output.outlet import Outlet
from analysis.output.speaker import Speaker
from tests.device.sound_capture import Capture, ends, now, order, report, until

DRIVER = Path("/sys/bus/platform/drivers/snd_aloop")
RETURNS = int(os.environ.get("SOUND_RETURNS", "5"))
"""More for a measurement: ``bash tests/device/rig.sh OUT env SOUND_RETURNS=25 .venv/bin/python -m pytest ...``."""
AWAY = (0.2, 1.0, 3.0, 6.0, 12.0)
"""Seconds for which the card is away after the loss was told: from a loose plug to pauses at their longest."""


@pytest.fixture
def card() -> Iterator[str]:
    """The loopback card's name, put back afterwards."""
    name = next(DRIVER.glob("snd_aloop.*")).name
    yield name
    if not (DRIVER / name).exists():
        (DRIVER / "bind").write_text(name)


def sounds_from(outlet: Outlet, where: str) -> bool:
    moment = now()
    outlet.tick(moment)
    return outlet.status(moment).outlet == where


def pulled_out(card: str) -> threading.Thread:
    """Pull the card; the kernel waits there until it is let go of."""
    pulling = threading.Thread(target=lambda: (DRIVER / "unbind").write_text(card), daemon=True)
    pulling.start()
    return pulling


def test_a_card_that_goes_is_told_by_the_bell_and_sounds_again_after_its_return(card: str) -> None:
    speaker = Speaker(device=ends()[0])
    outlet = Outlet(choose("speakers", {}), speaker)
    rang, back = [], []
    try:
        start = until(lambda: sounds_from(outlet, "speakers"), "sound works", 60.0)
        for trial in range(RETURNS):
            bells = outlet.bells
            gone = time.monotonic()
            pulling = pulled_out(card)
            until(lambda: sounds_from(outlet, "bell") and outlet.bells > bells, "the bell rings", pause=0.05)  # noqa: B023
            rang.append(time.monotonic() - gone)
            assert "terminal bell" in outlet.status(now()).reason
            bells = outlet.bells
            outlet.announce(order(DEFAULT_RULES[0], f"meanwhile {trial}"), now())
            assert outlet.bells == bells + 1, "an alarm meanwhile rings by itself"
            pulling.join(timeout=40)
            assert not pulling.is_alive(), "the lost card was never let go of"
            time.sleep(AWAY[trial % len(AWAY)])
            (DRIVER / "bind").write_text(card)
            back.append(until(lambda: sounds_from(outlet, "speakers"), "sound is back", 60.0))
            # So long that the next loss is told as one by itself.
            for _ in range(110):
                outlet.tick(now())
                time.sleep(0.1)
        lines = (
            report("card gone to bell", rang),
            report(f"card back to sound (started in {start:.1f} s)", back),
            f"{speaker.status().restarts} processes were replaced",
        )
        # PortAudio knows only the devices it found when it began.
        sounddevice._terminate()
        sounddevice._initialize()
        with Capture() as capture:
            asked = time.monotonic()
            outlet.announce(order(DEFAULT_RULES[0], "after the return"), now())
            until(lambda: capture.first_sound(asked) is not None, "an alarm sounds again")
        assert max(rang) <= 1.0, lines  # half a second on a machine that is no emulation
        assert max(back) <= 5.0, lines
    finally:
        outlet.close()


def test_a_card_that_returns_under_another_number_is_found(card: str) -> None:
    named = ends()[0]
    assert "(hw:0," in named, "the only card is the first one"
    speaker = Speaker(device=named)
    outlet = Outlet(choose("speakers", {}), speaker)
    try:
        until(lambda: sounds_from(outlet, "speakers"), "sound works", 60.0)
        pulling = pulled_out(card)
        until(lambda: sounds_from(outlet, "bell"), "the bell takes over", pause=0.05)
        pulling.join(timeout=40)
        # Another card comes meanwhile and takes the number.
        subprocess.run(["modprobe", "snd-dummy"], check=True, timeout=30)
        (DRIVER / "bind").write_text(card)
        back = until(lambda: sounds_from(outlet, "speakers"), "sound is back", 60.0)
        line = report("card back under another number to sound", [back])
        device = speaker.status().device
        assert device is not None and device == named.replace("(hw:0,", "(hw:1,")
        assert back <= 5.0, line
    finally:
        outlet.close()
        (DRIVER / "unbind").write_text(card)
        subprocess.run(["modprobe", "-r", "snd-dummy"], check=False, timeout=30)
