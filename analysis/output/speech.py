"""Alarms in spoken words, where a speech engine (espeak-ng) is installed: one thing at a time, the newest truth."""

from __future__ import annotations

import re
import shutil
import subprocess
import threading
import time
from collections.abc import Callable, Mapping

import msgspec

from analysis.model.alarm import AlarmChange, Announcement
from analysis.model.feed import FeedEvent
from analysis.output.attend import attend

ENGINE = "espeak-ng"
NO_ENGINE = f"no speech: {ENGINE} is not installed; install it with: sudo apt install {ENGINE}"
LONGEST_WORDS = 160
"""Characters, about twelve seconds of speech."""
_ACTIVE = ("active-unacknowledged", "active-acknowledged")
_TIME = re.compile(r"\b(\d+) (s|min|h)\b")
_TIME_SAID_AS = {"s": "second", "min": "minute", "h": "hour"}
_SAID_AS = {"%": " percent", "dB": " decibels", "IRE": "I R E", " fps": " frames a second"}


class SpeechTiming(msgspec.Struct, frozen=True, kw_only=True):
    """Seconds: the longest an engine may speak, how old words may become while they wait, the least between repeats.

    ``repeat`` holds for each alarm by itself.
    """

    speaking: float = 20.0
    waiting: float = 10.0
    repeat: float = 5.0


class _Words(msgspec.Struct, frozen=True, kw_only=True):
    alarm: str | None
    occurrence: int
    priority: int
    text: str
    taken: float
    due: float


class Speech:
    """Speaks the words of announcements in a child process; no call waits.

    While something is spoken, only the newest thing waits, and an older one that waited is dropped; but words of
    priority one are not dropped for lesser ones, and cut lesser ones short: the newest lesser thing, such as the
    summary of a flood, waits behind them. Words that waited too long, or whose alarm is over, are not spoken. The
    engine is found on the ``PATH`` of ``environment``; without one, that is said once through ``complain``, and
    nothing else happens.

    It implements the watch's Recorder, so that it learns which alarms are over.
    """

    def __init__(
        self,
        complain: Callable[[str], None],
        environment: Mapping[str, str],
        *,
        voice: str = "en",
        words_a_minute: int = 165,
        loudness: float = 1.0,
        timing: SpeechTiming | None = None,
    ) -> None:
        self._complain, self._environment = complain, dict(environment)
        self._timing = timing or SpeechTiming()
        self._engine = shutil.which(ENGINE, path=self._environment.get("PATH", ""))
        # 100 is the engine's usual amplitude; more distorts, so it is the ceiling.
        amplitude = round(100 * min(1.0, max(0.0, loudness)))
        self._manner = ["-v", voice, "-s", str(words_a_minute), "-a", str(amplitude)]
        self._changed = threading.Condition()
        self._waiting: _Words | None = None
        self._behind: _Words | None = None
        self._now: _Words | None = None
        self._cut = threading.Event()
        self._closing = False
        self._last: dict[str, float] = {}
        self._thread: threading.Thread | None = None
        self.fault: str | None = None if self._engine else NO_ENGINE
        self.spoken = self.dropped = 0
        if self._engine is None:
            complain(NO_ENGINE)

    @property
    def available(self) -> bool:
        """Whether there is an engine."""
        return self._engine is not None

    @property
    def speaking(self) -> str | None:
        """What is being said now."""
        now = self._now
        return None if now is None else now.text

    def announce(self, announcement: Announcement, after: float = 0.0) -> bool:
        """Say an announcement's words, ``after`` seconds from now at the earliest; False when it will not be.

        ``after`` leaves a sound that belongs to it the time to be heard.
        """
        words = f"still {announcement.words}" if announcement.again else announcement.words
        return self._take(words, announcement.alarm, announcement.occurrence, announcement.priority, after)

    def say(self, words: str) -> bool:
        """Say something that was asked for, as soon as what is being said now is over."""
        return self._take(words, None, 0, 2, 0.0)

    def hush(self) -> None:
        """Be silent at once and forget what waits; the next alarm is spoken again."""
        with self._changed:
            self.dropped += (self._waiting is not None) + (self._behind is not None)
            self._waiting = self._behind = None
            self._cut.set()
            self._changed.notify_all()

    def alarm_changed(self, change: AlarmChange) -> None:
        """Words that wait for an alarm that is over are no longer true."""
        with self._changed:
            over = [
                words is not None and words.alarm == change.alarm and change.after not in _ACTIVE
                for words in (self._waiting, self._behind)
            ]
            self._behind = None if over[1] else self._behind
            if over[0]:
                self._waiting, self._behind = self._behind, None
            if any(over):
                self.dropped += sum(over)
                self._changed.notify_all()

    def feed_changed(self, event: FeedEvent) -> None:
        """Nothing: what matters of a feed is an alarm."""

    def wait(self, seconds: float) -> bool:
        """Wait until nothing is said and nothing waits, at most ``seconds``; True when it is so."""
        with self._changed:
            return self._changed.wait_for(lambda: self._waiting is None and self._now is None, seconds)

    def close(self, seconds: float = 1.0) -> None:
        """Silence it for good; returns within ``seconds``."""
        with self._changed:
            self._closing = True
        self.hush()
        if self._thread is not None:
            self._thread.join(seconds)

    def _take(self, words: str, alarm: str | None, occurrence: int, priority: int, after: float) -> bool:
        text = spoken_words(words)
        now = time.monotonic()
        with self._changed:
            if self._engine is None or self._closing or not text:
                return False
            if alarm is not None and now - self._last.get(alarm, float("-inf")) < self._timing.repeat:
                return False
            waits = self._waiting
            taken = {"taken": now, "due": now + after}
            asked = _Words(alarm=alarm, occurrence=occurrence, priority=priority, text=text, **taken)
            if waits is not None and waits.priority == 1 < priority:
                self.dropped += self._behind is not None
                self._behind = asked
                return True
            self.dropped += waits is not None
            self._waiting = asked
            if priority == 1 and self._now is not None and self._now.priority > 1:
                self._cut.set()
            if self._thread is None:
                self._thread = threading.Thread(target=self._work, name="speech", daemon=True)
                self._thread.start()
            self._changed.notify_all()
            return True

    def _work(self) -> None:
        while (words := self._next()) is not None:
            try:
                fault = self._speak(words.text)
            except OSError as error:
                fault = f"no speech: {ENGINE} does not start: {error.strerror or error}"
            with self._changed:
                self._now = None
                self._changed.notify_all()
            if fault is not None and fault != self.fault:
                self._complain(fault)
            self.fault = fault

    def _next(self) -> _Words | None:
        """The words whose time has come; None when it is time to end."""
        with self._changed:
            while not self._closing:
                waits, now = self._waiting, time.monotonic()
                if waits is None:
                    self._changed.wait()
                elif waits.due > now:
                    self._changed.wait(waits.due - now)
                elif now - waits.due > self._timing.waiting:
                    self._waiting, self._behind = self._behind, None
                    self.dropped += 1
                    self._changed.notify_all()
                else:
                    self._waiting, self._behind, self._now = self._behind, None, waits
                    if waits.alarm is not None:
                        self._last[waits.alarm] = now
                    self._cut.clear()
                    return waits
            return None

    def _speak(self, text: str) -> str | None:
        """Say it; why it was not heard, in words, or None."""
        assert self._engine is not None
        process = subprocess.Popen(
            [self._engine, *self._manner, "--", text],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            bufsize=0,
            env=self._environment,
            start_new_session=True,
        )
        ended = attend(process, self._timing.speaking, self._cut.is_set, ending=0.0)
        if ended.cut == "stopped":
            return None
        if ended.cut == "late":
            return f"no speech: {ENGINE} did not end within {self._timing.speaking:g} s and was stopped"
        # Without a sound device the engine (1.51) says "error:" and ends with code 0 all the same (measured).
        if ended.code != 0 or ended.said.lower().startswith("error"):
            return f"no speech: {ENGINE} {f'says {ended.said}' if ended.said else f'ended with {ended.code}'}"
        self.spoken += 1
        return None


def spoken_words(words: str) -> str:
    """Words as an engine should get them: units said in full, one line, nothing that it would take as a command.

    >>> spoken_words("clipped 2.3 % of the picture [[Q]] <break/>")
    'clipped 2.3 percent of the picture Q break/'
    >>> spoken_words("window clips in about 40 s")
    'window clips in about 40 seconds'
    """
    for sign, said in _SAID_AS.items():
        words = words.replace(sign, said)
    words = _TIME.sub(lambda found: f"{found[1]} {_TIME_SAID_AS[found[2]]}{'' if found[1] == '1' else 's'}", words)
    kept = "".join(char if char.isprintable() and char not in "[]<>{}" else " " for char in words)
    return " ".join(kept.split())[:LONGEST_WORDS]
