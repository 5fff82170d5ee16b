"""A sound device made of an ALSA configuration: the real PortAudio plays into a file."""

from __future__ import annotations

import ctypes.util
import os
import sys
from pathlib import Path

import numpy as np
import numpy.typing as npt

RATE, CHANNELS, BYTES = 48_000, 2, 2
SYSTEM_CONFIG = Path("/usr/share/alsa/alsa.conf")
THROTTLE = Path(__file__).with_name("throttle.py")


def why_not() -> str:
    """Why real sound cannot be tested here, or nothing."""
    if ctypes.util.find_library("portaudio") is None:
        return "libportaudio2 is not installed (sudo apt install libportaudio2)"
    if not SYSTEM_CONFIG.exists():
        return f"{SYSTEM_CONFIG} is missing (sudo apt install libasound2-data)"
    return ""


class Card:
    """A default sound device whose sound lands in a file, at the real rate.

    ``stall_seconds``: after that much sound the card takes no more, as a stuck server does.
    """

    def __init__(self, folder: Path, stall_seconds: float | None = None) -> None:
        self.kept = folder / "heard.raw"
        per_second = RATE * CHANNELS * BYTES
        stall = "" if stall_seconds is None else f" {round(stall_seconds * per_second)}"
        self.config = folder / "asound.conf"
        self.config.write_text(
            f"<{SYSTEM_CONFIG}>\n"
            "pcm.!default { type plug slave { pcm { type file\n"
            f'  file "|exec {sys.executable} {THROTTLE} {self.kept} {per_second}{stall}"\n'
            '  format "raw" slave.pcm { type null } }\n'
            f"  format S16_LE rate {RATE} channels {CHANNELS} }} }}\n"
        )

    def environment(self) -> dict[str, str]:
        return dict(os.environ) | {"ALSA_CONFIG_PATH": str(self.config)}

    def heard(self) -> npt.NDArray[np.float64]:
        """Everything the card took so far: left channel, -1 to 1."""
        raw = self.kept.read_bytes() if self.kept.exists() else b""
        frame = CHANNELS * BYTES
        samples = np.frombuffer(raw[: len(raw) // frame * frame], dtype="<i2").reshape(-1, CHANNELS)
        return samples[:, 0] / 32768.0


def no_card() -> dict[str, str]:
    """The environment of a machine without any sound device."""
    return dict(os.environ) | {"ALSA_CONFIG_PATH": str(SYSTEM_CONFIG)}
