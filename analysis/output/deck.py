"""What plays now and what waits: the sound process's only state, without any device."""

from __future__ import annotations

import threading
from collections import deque

import msgspec
import numpy as np

from analysis.output.protocol import Failed, Play, Played, Report, Started, Stopped
from analysis.output.sounds import Samples, Sound

MOST_WAITING = 8
FADE_SECONDS = 0.010
_NEWS_KEPT = 64


class _Order(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    ticket: int
    alarm: str
    priority: int
    samples: Samples


class Deck:
    """Plays one sound at a time; the most urgent next, of each alarm only the newest.

    Any thread may call it; :meth:`fill` is for the device's callback and does nothing slow.
    """

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._lock = threading.Lock()
        self._playing: _Order | None = None
        self._position = 0
        self._stopping = False
        self._waiting: list[_Order] = []
        self._news: deque[Report] = deque(maxlen=_NEWS_KEPT)

    def take(self, play: Play, sound: Sound) -> float:
        """Put a sound in line; returns in how many seconds it starts."""
        order = _Order(ticket=play.ticket, alarm=play.alarm, priority=play.priority, samples=sound.samples)
        with self._lock:
            for replaced in [waits for waits in self._waiting if waits.alarm == play.alarm]:
                self._waiting.remove(replaced)
                self._news.append(Stopped(ticket=replaced.ticket))
            self._waiting.append(order)
            self._waiting.sort(key=lambda waits: waits.priority)  # stable: first come, first served
            if len(self._waiting) > MOST_WAITING:
                dropped = self._waiting.pop()
                self._news.append(Failed(ticket=dropped.ticket, reason="too many sounds are waiting"))
            ahead = self._remaining()
            for waits in self._waiting:
                if waits is order:
                    break
                ahead += len(waits.samples)
            return ahead / self._rate

    def silence(self) -> None:
        """Fade out within a hundredth of a second and forget what waits."""
        with self._lock:
            for waits in self._waiting:
                self._news.append(Stopped(ticket=waits.ticket))
            self._waiting.clear()
            if self._playing is None or self._stopping:
                return
            rest = self._playing.samples[self._position :][: round(FADE_SECONDS * self._rate)]
            faded = (rest * np.linspace(1.0, 0.0, len(rest))).astype(np.float32)
            self._playing = msgspec.structs.replace(self._playing, samples=faded)
            self._position, self._stopping = 0, True

    def fill(self, out: Samples) -> None:
        """Write the next samples into ``out`` (one channel), silence where nothing plays."""
        out[:] = 0.0
        done = 0
        with self._lock:
            while done < len(out):
                if self._playing is None and not self._begin_next():
                    return
                done += self._copy(out[done:])

    def news(self) -> list[Report]:
        """What happened since the last call, oldest first."""
        with self._lock:
            told = list(self._news)
            self._news.clear()
        return told

    def _remaining(self) -> int:
        return len(self._playing.samples) - self._position if self._playing else 0

    def _begin_next(self) -> bool:
        if not self._waiting:
            return False
        self._playing, self._position, self._stopping = self._waiting.pop(0), 0, False
        self._news.append(Started(ticket=self._playing.ticket))
        return True

    def _copy(self, out: Samples) -> int:
        assert self._playing is not None
        part = self._playing.samples[self._position : self._position + len(out)]
        out[: len(part)] = part
        self._position += len(part)
        if self._position >= len(self._playing.samples):
            ticket = self._playing.ticket
            self._news.append(Stopped(ticket=ticket) if self._stopping else Played(ticket=ticket))
            self._playing = None
        return len(part)
