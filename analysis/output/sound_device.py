"""The sound device: found, opened, fed and let go of. Only the sound process may import this: it touches PortAudio."""

from __future__ import annotations

import time
from typing import Any

from analysis.output.deck import Deck
from analysis.output.device_names import same_device
from analysis.output.sounds import RATE

STALLED_SECONDS = 0.3
"""A device that asked for nothing for this long would not sound an alarm in time."""
BLOCK = 1024
LATENCY_SECONDS = 0.08
"""Asked of the device: long enough for a busy machine, far shorter than a person notices."""

MISSING_PORTAUDIO = "PortAudio is missing; install it with: sudo apt install libportaudio2"
MISSING_SOUNDDEVICE = "the Python package sounddevice is missing; install it with: pip install sounddevice"
NO_DEVICE = "no sound device"


class DeviceUnusable(Exception):
    """The sound device cannot be used, for a reason in words."""

    def __init__(self, reason: str, *, permanent: bool = False) -> None:
        super().__init__(reason)
        self.permanent = permanent


class WillNotEnd(Exception):
    """PortAudio cannot be ended, so that it cannot be begun anew in this process either."""


class Output:
    """The open device: a callback stream fed by a deck. ``DeviceUnusable`` when it cannot be opened.

    PortAudio knows only the devices that were there when it began, so it is begun for each
    opening and ended with :meth:`close`. Any of these calls may hang for ever.
    """

    def __init__(self, device: str | None) -> None:
        self._audio = _begun()
        self._stream: Any = None
        try:
            info = _output(self._audio, device)
            self.name = str(info["name"])
            self.channels = max(1, min(2, int(info["max_output_channels"])))
            self.calls, self.called = 0, time.monotonic()
            self.rate, self._stream = self._opened(info)
            self.deck = Deck(self.rate)
            self._stream.start()
        except self._audio.PortAudioError as error:
            self.close()
            raise DeviceUnusable(f"{self.name} does not start: {short(error)}") from None
        except DeviceUnusable:
            self.close()
            raise

    @property
    def stalled(self) -> bool:
        """Whether the device has stopped asking for samples."""
        return time.monotonic() - self.called > STALLED_SECONDS

    @property
    def ended(self) -> bool:
        """Whether the stream ended by itself, as it does when a sound server is stopped."""
        return not self._stream.active

    def close(self) -> None:
        """Let go of the device and of everything PortAudio holds; ``WillNotEnd`` where it keeps it."""
        try:
            if self._stream is not None:
                self._stream.abort()
                self._stream.close()
            self._audio._terminate()
        except self._audio.PortAudioError as error:
            raise WillNotEnd(f"PortAudio does not end: {short(error)}") from None

    def _opened(self, info: Any) -> tuple[int, Any]:
        refusals = []
        for rate in dict.fromkeys((RATE, int(info["default_samplerate"]))):
            try:
                return rate, self._audio.OutputStream(
                    samplerate=rate, device=info["index"], channels=self.channels, dtype="float32",
                    blocksize=BLOCK, latency=LATENCY_SECONDS, callback=self._wanted,
                )  # fmt: skip
            except self._audio.PortAudioError as error:
                refusals.append(short(error))
        raise DeviceUnusable(f"{self.name} cannot be opened: {refusals[0]}")

    def _wanted(self, out: Any, _frames: int, _time: Any, _status: Any) -> None:
        self.calls, self.called = self.calls + 1, time.monotonic()
        self.deck.fill(out[:, 0])
        if self.channels > 1:
            out[:, 1] = out[:, 0]


def _begun() -> Any:
    """The sound library, with PortAudio begun: by its import the first time, then by us."""
    try:
        import sounddevice
    except ImportError:
        raise DeviceUnusable(MISSING_SOUNDDEVICE, permanent=True) from None
    except OSError:
        raise DeviceUnusable(MISSING_PORTAUDIO, permanent=True) from None
    except Exception as error:  # noqa: BLE001 - its own error, whose class cannot be imported then
        raise DeviceUnusable(f"PortAudio does not begin: {short(error)}") from None
    try:
        if not sounddevice._initialized:
            sounddevice._initialize()
    except sounddevice.PortAudioError as error:
        raise DeviceUnusable(f"PortAudio does not begin: {short(error)}") from None
    return sounddevice


def _output(audio: Any, device: str | None) -> Any:
    outputs = [known for known in audio.query_devices() if known["max_output_channels"] > 0]
    if not outputs:
        raise DeviceUnusable(NO_DEVICE)
    if device is None:
        try:
            return audio.query_devices(None, "output")
        except (ValueError, audio.PortAudioError):
            raise DeviceUnusable(NO_DEVICE) from None
    names = [str(known["name"]) for known in outputs]
    place = same_device(names, device)
    if place is None:
        raise DeviceUnusable(f"no sound device called {device}; there are: {', '.join(names[:5])}")
    return outputs[place]


def short(error: Exception) -> str:
    """What an error says, in one line of bounded length."""
    return " ".join(str(error).split())[:120]
