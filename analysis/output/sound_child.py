"""The sound process: the only place that touches PortAudio.

A sound server that dies can make PortAudio hang in any call, or spin and print without end
(measured: 1.18 GB of messages in 14 s). So it lives in a process of its own, whose standard
error goes nowhere, and whose heartbeat is the count of the device's own callbacks: when the
count stops, the parent has the device let go of and opened anew, and kills the process when
that is not done in time.

The process stays while there is no device: what takes long is to start it (0.1 s on a fast
machine, seconds on a slow and busy one), not to look for devices again.

The stream is always open and plays silence between alarms. That is the self-check: a device
that no longer takes sound is noticed before an alarm needs it, not at the alarm.

Run as ``python -m analysis.output.sound_child``; see :mod:`analysis.output.protocol`.
"""

from __future__ import annotations

import contextlib
import functools
import gc
import importlib
import os
import queue
import select
import sys
import threading
from typing import NoReturn, TypeAlias

import msgspec

from analysis.alarm.defaults import DEFAULT_RULES
from analysis.output.protocol import (
    LONGEST_LINE,
    Failed,
    Free,
    Heartbeat,
    LetGo,
    Open,
    Play,
    Quit,
    Ready,
    Report,
    Stop,
    Taken,
    Warm,
    command,
    line,
)
from analysis.output.sound_device import DeviceUnusable, Output, WillNotEnd, short
from analysis.output.sounds import render

HEARTBEAT_SECONDS = 0.05
# What the sound library itself imports, loaded before a device is asked for; it is left out where it is missing.
_NEEDED_LATER = ("_sounddevice", "ctypes.util", "platform", "sysconfig", "atexit")

# An alarm that sounds again is not worked out again; all that this program knows are fewer than this.
_rendered = functools.lru_cache(maxsize=64)(render)
_SOUNDS = tuple(dict.fromkeys((rule.kind, rule.direction, rule.priority) for rule in DEFAULT_RULES))

Wish: TypeAlias = Open | LetGo


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


class Booth:
    """The device, while one is open: opened and let go of by the main thread, played on by the listener."""

    def __init__(self, mouth: Mouth) -> None:
        self._mouth = mouth
        self._wishes: queue.SimpleQueue[Wish] = queue.SimpleQueue()
        self._output: Output | None = None

    def wish(self, wish: Wish) -> None:
        """Have the device opened or let go of."""
        self._wishes.put(wish)

    def play(self, play: Play) -> None:
        """Put a sound in line, or say why not."""
        output = self._output
        if output is None or output.stalled:
            reason = "no sound device is open" if output is None else "the sound device stopped taking sound"
            self._mouth.say(Failed(ticket=play.ticket, reason=reason))
            return
        try:
            sound = _rendered(play.kind, play.direction, play.priority, loudness=play.loudness, rate=output.rate)
        except KeyError as error:
            self._mouth.say(Failed(ticket=play.ticket, reason=f"no sound for {short(error)}"))
            return
        self._mouth.say(Taken(ticket=play.ticket, starts_in=output.deck.take(play, sound)))

    def silence(self) -> None:
        """Fade out what sounds."""
        if self._output is not None:
            self._output.deck.silence()

    def run(self) -> NoReturn:
        """Do what is wished, for ever."""
        while True:
            match self._wishes.get():
                case Open() as wanted:
                    self._serve(wanted)
                case LetGo():
                    self._mouth.say(Free())

    def _serve(self, wanted: Open) -> None:
        """Open a device and report until it is to be let go of, or ends."""
        try:
            self._output = output = Output(wanted.device)
        except DeviceUnusable as error:
            self._mouth.say(Failed(reason=str(error), permanent=error.permanent))
            return
        except WillNotEnd as error:
            self._mouth.say(Failed(reason=str(error)))
            leave(1)
        self._mouth.say(Ready(device=output.name, rate=output.rate))
        to_render = iter(_SOUNDS)
        while not output.ended:
            for news in output.deck.news():
                self._mouth.say(news)
            self._mouth.say(Heartbeat(calls=output.calls))
            if sound := next(to_render, None):
                _rendered(*sound, loudness=wanted.loudness, rate=output.rate)
            with contextlib.suppress(queue.Empty):
                self._wishes.get(timeout=HEARTBEAT_SECONDS)
                self._let_go(output)
                self._mouth.say(Free())
                return
        self._mouth.say(Failed(reason=f"{output.name} ended the stream"))
        self._let_go(output)

    def _let_go(self, output: Output) -> None:
        self._output = None
        try:
            output.close()
        except WillNotEnd:
            leave(1)  # what PortAudio still holds is freed with the process
        gc.collect()  # never while a device plays: a collection would hold its callback up


def listen(mouth: Mouth, booth: Booth) -> NoReturn:
    """Obey commands from standard input until it closes."""
    for text in iter(lambda: sys.stdin.buffer.readline(LONGEST_LINE), b""):
        try:
            told = command(text)
        except msgspec.MsgspecError as error:
            mouth.say(Failed(ticket=0, reason=f"not a command: {short(error)}"))
            continue
        match told:
            case Play():
                booth.play(told)
            case Stop():
                booth.silence()
            case Open() | LetGo():
                booth.wish(told)
            case Quit():
                break
    leave(0)


def wait_for_the_end() -> NoReturn:
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
    """Load what is needed, then open, play and report as told."""
    mouth = Mouth()
    threading.Thread(target=wait_for_the_end, daemon=True).start()
    for name in _NEEDED_LATER:
        with contextlib.suppress(ImportError):
            importlib.import_module(name)
    gc.collect()
    gc.freeze()
    gc.disable()
    mouth.say(Warm())
    booth = Booth(mouth)
    threading.Thread(target=listen, args=(mouth, booth), daemon=True).start()
    booth.run()


if __name__ == "__main__":
    main()
