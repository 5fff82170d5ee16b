"""Records the other end of ALSA's loopback card, and says when each sample was played at the latest."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path
from types import TracebackType

import numpy as np
import numpy.typing as npt
import sounddevice

from analysis.alarm.rule import AlarmRule
from analysis.model.alarm import Announcement
from analysis.model.instant import Instant

RATE = 48_000
BLOCK = 512
HEARD = 2 / 32768
"""Above this a sample is no silence: the second step of a 16-bit card."""

Wave = npt.NDArray[np.float32]


def ends() -> tuple[str, int]:
    """The name of the playing end and the number of the recording end of the loopback card."""
    known = [(number, str(device["name"])) for number, device in enumerate(sounddevice.query_devices())]
    loopback = [(number, name) for number, name in known if name.startswith("Loopback")]
    playing = next(name for _, name in loopback if name.endswith(",0)"))
    recording = next(number for number, name in loopback if name.endswith(",1)"))
    return playing, recording


def until(true: Callable[[], object], what: str, seconds: float = 40.0, pause: float = 0.02) -> float:
    """Wait until something holds; returns how long that took."""
    begun = time.monotonic()
    while not true():
        assert time.monotonic() - begun < seconds, f"never happened: {what}"
        time.sleep(pause)
    return time.monotonic() - begun


def now() -> Instant:
    """This moment."""
    return Instant(time.monotonic(), time.time())


def order(rule: AlarmRule, name: str, occurrence: int = 1) -> Announcement:
    """An alarm to be heard, of a rule's kind and under any name."""
    return Announcement(
        alarm=name, occurrence=occurrence, kind=rule.kind, direction=rule.direction, priority=rule.priority,
        words=rule.words, at=now(),
    )  # fmt: skip


def report(what: str, seconds: list[float]) -> str:
    """Keep a line of figures in the folder that the rig shows to the host."""
    ordered = sorted(seconds)
    middle, most = ordered[len(ordered) // 2], ordered[int(0.95 * (len(ordered) - 1))]
    line = f"{what}: median {1000 * middle:.0f} ms, 95th percentile {1000 * most:.0f} ms, "
    line += f"99th {1000 * ordered[int(0.99 * (len(ordered) - 1))]:.0f} ms, " if len(ordered) >= 100 else ""
    line += f"longest {1000 * ordered[-1]:.0f} ms of {len(ordered)}"
    with Path("/mnt/sound.txt").open("a", encoding="utf-8") as kept:
        kept.write(f"{line}\n")
    return line


class Capture:
    """A recording that goes on; a block counts as played when it arrives here, which is later than it was."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._blocks: list[tuple[float, Wave]] = []
        self._stream = sounddevice.InputStream(
            samplerate=RATE, device=ends()[1], channels=2, dtype="float32", blocksize=BLOCK, callback=self._took
        )

    def __enter__(self) -> Capture:
        self._stream.start()
        until(lambda: self._blocks, "the recording begins")
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, where: TracebackType | None
    ) -> None:
        self._stream.close()

    def _took(self, data: Wave, _frames: int, _times: object, _status: object) -> None:
        arrived = time.monotonic()
        with self._lock:
            self._blocks.append((arrived, data[:, 0].copy()))

    def since(self, moment: float) -> Wave:
        """Everything that arrived after a moment."""
        with self._lock:
            waves = [wave for arrived, wave in self._blocks if arrived > moment]
        return np.concatenate(waves) if waves else np.zeros(0, dtype=np.float32)

    def first_sound(self, moment: float) -> float | None:
        """When the first sample that is no silence was played, of what arrived after a moment; None if none did."""
        with self._lock:
            for arrived, wave in self._blocks:
                if arrived > moment and (loud := np.flatnonzero(np.abs(wave) > HEARD)).size:
                    return arrived - (len(wave) - int(loud[0])) / RATE
        return None

    def last_sound(self, moment: float) -> float | None:
        """When the last sample that is no silence was played, of what arrived after a moment; None if none did."""
        with self._lock:
            for arrived, wave in reversed(self._blocks):
                if arrived <= moment:
                    return None
                if (loud := np.flatnonzero(np.abs(wave) > HEARD)).size:
                    return arrived - (len(wave) - int(loud[-1])) / RATE
        return None

    def silent_for(self, seconds: float) -> bool:
        """Whether the newest seconds of the recording are silence."""
        with self._lock:
            if not self._blocks:
                return False
            newest = self._blocks[-1][0]
            recent = [wave for arrived, wave in self._blocks if arrived > newest - seconds]
        return all(float(np.abs(wave).max()) <= HEARD for wave in recent)
