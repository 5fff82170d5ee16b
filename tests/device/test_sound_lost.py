"""A card that is pulled out while a watch uses it: told at once by the bell, and used again when it is back."""

from __future__ import annotations

import threading
import time
from pathlib import Path

import sounddevice

from analysis.alarm.defaults import DEFAULT_RULES
from analysis.output.choice import choose
from analysis.output.outlet import Outlet
from analysis.output.speaker import Speaker, SpeakerTiming
from tests.device.sound_capture import Capture, ends, now, order, report, until

DRIVER = Path("/sys/bus/platform/drivers/snd_aloop")


def test_a_card_that_goes_is_told_by_the_bell_and_sounds_again_after_its_return() -> None:
    """With the times that a real watch uses, except that a process takes this machine several seconds to start.

    The kernel gives no error then: the card just stops asking for sound.
    """
    card = next(DRIVER.glob("snd_aloop.*")).name
    speaker = Speaker(device=ends()[0], timing=SpeakerTiming(ready=30.0))
    outlet = Outlet(choose("speakers", {}), speaker)
    pulled = threading.Thread(target=lambda: (DRIVER / "unbind").write_text(card))
    try:
        start = until(lambda: (outlet.tick(now()), outlet.status(now()).outlet == "speakers")[1], "sound works", 60.0)
        bells = outlet.bells
        gone = time.monotonic()
        pulled.start()  # the kernel waits there until the card is let go of
        until(lambda: (outlet.tick(now()), outlet.bells > bells)[1], "the bell rings", pause=0.05)
        rang = time.monotonic() - gone
        assert outlet.status(now()).outlet == "bell" and "terminal bell" in outlet.status(now()).reason
        bells = outlet.bells
        outlet.announce(order(DEFAULT_RULES[0], "meanwhile"), now())
        assert outlet.bells == bells + 1, "an alarm meanwhile rings by itself"
        pulled.join(timeout=40)
        assert not pulled.is_alive(), "the lost card was never let go of"
        time.sleep(5.0)  # long enough for the pauses between tries to be at their longest
        (DRIVER / "bind").write_text(card)
        back = until(lambda: (outlet.tick(now()), outlet.status(now()).outlet == "speakers")[1], "sound is back", 60.0)
        report("card gone to bell", [rang])
        report(f"card back to sound (a process takes {start:.1f} s to start here)", [back])
        # PortAudio knows only the devices it found when it began.
        sounddevice._terminate()
        sounddevice._initialize()
        with Capture() as capture:
            asked = time.monotonic()
            outlet.announce(order(DEFAULT_RULES[0], "after the return"), now())
            until(lambda: capture.first_sound(asked) is not None, "an alarm sounds again")
        assert rang <= 1.0, "half a second on a machine that is no emulation"
        assert back <= 5.0 + start
    finally:
        outlet.close()
        if not (DRIVER / card).exists():
            (DRIVER / "bind").write_text(card)
        if pulled.ident is not None:
            pulled.join(timeout=40)
