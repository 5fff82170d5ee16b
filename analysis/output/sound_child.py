"""The sound process: the only place that touches PortAudio.

A sound server that dies can make PortAudio hang in any call, or spin and print without end
(measured: 1.18 GB of messages in 14 s). So it lives in a process of its own, whose standard
error goes nowhere, and whose heartbeat is the count of the device's own callbacks: when the
count stops, the parent kills the process and starts another.

The stream is always open and plays silence between alarms. That is the self-check: a device
that no longer takes sound is noticed before an alarm needs it, not at the alarm.

Run as ``python -m analysis.output.sound_child [DEVICE]``; see :mod:`analysis.output.protocol`.
"""

from __future__ import annotations

import functools
import os
import select
import sys
import threading
import time
from typing import Any, NoReturn

import msgspec

from analysis.output.deck import Deck
from analysis.output.protocol import (
    LONGEST_LINE,
    Failed,
    Heartbeat,
    Play,
    Quit,
    Ready,
    Report,
    Stop,
    Taken,
    command,
    line,
)
from analysis.output.sounds import RATE, render

HEARTBEAT_SECONDS = 0.05
STALLED_SECONDS = 0.3
"""A device that asked for nothing for this long would not sound an alarm in time."""
BLOCK = 1024
LATENCY_SECONDS = 0.08
"""Asked of the device: long enough for a busy machine, far shorter than a person notices."""

# An alarm that sounds again is not worked out again; all that this program knows are fewer than this.
_rendered = functools.lru_cache(maxsize=64)(render)

MISSING_PORTAUDIO = "PortAudio is missing; install it with: sudo apt install libportaudio2"
MISSING_SOUNDDEVICE = "the Python package sounddevice is missing; install it with: pip install sounddevice"
NO_DEVICE = "no sound device"


class DeviceUnusable(Exception):
    """The sound device cannot be used, for a reason in words."""

    def __init__(self, reason: str, *, permanent: bool = False) -> None:
        super().__init__(reason)
        self.permanent = permanent


class Mouth:
    """Standard output for reports only: anything else printed in this process goes nowhere."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._reports = os.dup(1)
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 1)
        os.dup2(nowhere, 2)
        os.close(nowhere)

    def say(self, report: Report) -> None:
        """Write one report; the process ends when nobody listens any more."""
        try:
            with self._lock:
                os.write(self._reports, line(report))
        except OSError:
            leave(0)


class Output:
    """The open device: a callback stream fed by a deck."""

    def __init__(self, device: str | None) -> None:
        audio = _sounddevice()
        info = _output(audio, device)
        self.name = str(info["name"])
        self.channels = max(1, min(2, int(info["max_output_channels"])))
        self.calls, self.called = 0, time.monotonic()
        self.rate, self._stream = self._opened(audio, info)
        self.deck = Deck(self.rate)
        try:
            self._stream.start()
        except audio.PortAudioError as error:
            raise DeviceUnusable(f"{self.name} does not start: {_short(error)}") from None

    @property
    def stalled(self) -> bool:
        """Whether the device has stopped asking for samples."""
        return time.monotonic() - self.called > STALLED_SECONDS

    @property
    def ended(self) -> bool:
        """Whether the stream ended by itself, as it does when a sound server is stopped."""
        return not self._stream.active

    def _opened(self, audio: Any, info: Any) -> tuple[int, Any]:
        refusals = []
        for rate in dict.fromkeys((RATE, int(info["default_samplerate"]))):
            try:
                return rate, audio.OutputStream(
                    samplerate=rate, device=info["index"], channels=self.channels, dtype="float32",
                    blocksize=BLOCK, latency=LATENCY_SECONDS, callback=self._wanted,
                )  # fmt: skip
            except audio.PortAudioError as error:
                refusals.append(_short(error))
        raise DeviceUnusable(f"{self.name} cannot be opened: {refusals[0]}")

    def _wanted(self, out: Any, _frames: int, _time: Any, _status: Any) -> None:
        self.calls, self.called = self.calls + 1, time.monotonic()
        self.deck.fill(out[:, 0])
        if self.channels > 1:
            out[:, 1] = out[:, 0]


def _sounddevice() -> Any:
    try:
        import sounddevice
    except ImportError:
        raise DeviceUnusable(MISSING_SOUNDDEVICE, permanent=True) from None
    except OSError:
        raise DeviceUnusable(MISSING_PORTAUDIO, permanent=True) from None
    return sounddevice


def _output(audio: Any, device: str | None) -> Any:
    try:
        outputs = [str(known["name"]) for known in audio.query_devices() if known["max_output_channels"] > 0]
        if not outputs:
            raise DeviceUnusable(NO_DEVICE)
        return audio.query_devices(device, "output")
    except ValueError:
        raise DeviceUnusable(f"no sound device called {device}; there are: {', '.join(outputs[:5])}") from None
    except audio.PortAudioError:
        raise DeviceUnusable(NO_DEVICE) from None


def _short(error: Exception) -> str:
    return " ".join(str(error).split())[:120]


def listen(mouth: Mouth, output: Output) -> None:
    """Obey commands from standard input until it closes."""
    for text in iter(lambda: sys.stdin.buffer.readline(LONGEST_LINE), b""):
        try:
            told = command(text)
        except msgspec.MsgspecError as error:
            mouth.say(Failed(reason=f"not a command: {_short(error)}"))
            continue
        match told:
            case Play():
                _play(mouth, output, told)
            case Stop():
                output.deck.silence()
            case Quit():
                break
    leave(0)


def _play(mouth: Mouth, output: Output, play: Play) -> None:
    if output.stalled:
        mouth.say(Failed(ticket=play.ticket, reason="the sound device stopped taking sound"))
        return
    try:
        sound = _rendered(play.kind, play.direction, play.priority, loudness=play.loudness, rate=output.rate)
    except KeyError as error:
        mouth.say(Failed(ticket=play.ticket, reason=f"no sound for {_short(error)}"))
        return
    mouth.say(Taken(ticket=play.ticket, starts_in=output.deck.take(play, sound)))


def wait_for_the_end() -> None:
    """Leave when the parent goes, even while the device is still being opened."""
    # poll() sees the hang-up without taking commands away from the listener.
    gone = select.poll()
    gone.register(0, 0)
    gone.poll()
    leave(0)


def leave(code: int) -> NoReturn:
    """End at once: closing a stream whose server died can hang for ever."""
    os._exit(code)


def main() -> None:
    """Open the device, then report until told to stop."""
    mouth = Mouth()
    threading.Thread(target=wait_for_the_end, daemon=True).start()
    device = sys.argv[1] if len(sys.argv) > 1 else None
    try:
        output = Output(device)
    except DeviceUnusable as error:
        mouth.say(Failed(reason=str(error), permanent=error.permanent))
        leave(1)
    mouth.say(Ready(device=output.name, rate=output.rate))
    threading.Thread(target=listen, args=(mouth, output), daemon=True).start()
    while not output.ended:
        for news in output.deck.news():
            mouth.say(news)
        mouth.say(Heartbeat(calls=output.calls))
        time.sleep(HEARTBEAT_SECONDS)
    mouth.say(Failed(reason=f"{output.name} ended the stream"))
    leave(1)


if __name__ == "__main__":
    main()
