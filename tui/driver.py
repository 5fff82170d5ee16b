"""A terminal driver that sends only changed cells and drops frames on a slow link instead of queueing them.

It rests on private details of Textual's own driver (the writer thread's queue, the form of
a compositor write), which is why Textual is pinned exactly; tests check every such detail.
"""

from __future__ import annotations

import asyncio
import queue
import threading
import time
from collections import deque
from typing import Any

from textual import events
from textual.drivers.linux_driver import LinuxDriver
from textual.message import Message

from tui.grid import Grid
from tui.pacing import LinkReport, Pacer

_SYNC_START, _SYNC_END = "\x1b[?2026h", "\x1b[?2026l"
_ALTERNATE_SCREEN = "1049"
_LOOK_AGAIN = 0.05
_LEAVE_DEADLINE = 1.0
_FULL = 16  # writes in the writer's queue beyond which a bell is not worth waiting for


class CellDriver(LinuxDriver):
    """Textual's Linux driver with a cell-difference encoder and pacing in front of its writer."""

    def __init__(self, app: Any, **options: Any) -> None:
        super().__init__(app, **options)
        size = app.size
        look = getattr(app, "look", None)
        self._grid = Grid(size.width, size.height, ascii=look is not None and look.glyphs == "ascii")
        self._pacer = Pacer(size.width, look.max_rate if look is not None else None)
        self._due = False
        self._timer: asyncio.TimerHandle | None = None
        self._answers: deque[tuple[int, float]] = deque(maxlen=64)
        self._answer_came = threading.Event()
        self._leaving = False

    def write(self, data: str) -> None:
        """Take a write of Textual's: a frame goes to the grid, anything else straight out."""
        if data in {_SYNC_START, _SYNC_END}:
            return  # marks are set round what is really sent
        width, height = self._app.size
        if (self._grid.width, self._grid.height) != (width, height):
            self._grid.resize(width, height)
            self._pacer.resize(width)
        if self._grid.accept(data):
            self._due = True
            self._send()
            return
        if data == "\a" and self.stuck:
            return
        if _ALTERNATE_SCREEN in data or len(data) > 64:
            # Another screen, or a frame that is not understood: what the terminal shows is not known now.
            self._grid.invalidate()
            if _ALTERNATE_SCREEN in data:
                self._pacer.forget()
        super().write(data)

    def pass_on(self, sequence: str) -> None:
        """Send something that changes no cell, such as a notification; ask first whether the link is ``stuck``."""
        if not self._leaving:
            super().write(sequence)

    @property
    def stuck(self) -> bool:
        """Whether the terminal has not read for so long that nothing more should be put in its way."""
        return self._queued() > _FULL

    @property
    def ready(self) -> bool:
        """Whether a frame written now would be sent at once: ask before computing a picture."""
        return not self._due and not self._queued() and self._pacer.ready(time.monotonic())

    @property
    def link(self) -> LinkReport:
        """How the way to the terminal is doing."""
        return self._pacer.report(time.monotonic())

    def redraw(self) -> None:
        """Send every cell again, for a terminal that something else has written on."""
        self._grid.invalidate()
        self._due = True
        self._send()

    def _queued(self) -> int:
        return self._writer_thread._queue.qsize() if self._writer_thread else 0

    def _send(self) -> None:
        if not self._due or self._leaving:
            return
        now = time.monotonic()
        if self._queued() or not self._pacer.ready(now):
            if self._timer is None:
                self._timer = self._loop.call_later(_LOOK_AGAIN, self._look_again)
            return
        self._due = False
        body = self._grid.encode()
        if not body:
            return
        if self._app._sync_available:
            body = f"{_SYNC_START}{body}{_SYNC_END}"
        mark = self._pacer.sent(now, len(body.encode()))
        if mark is not None:
            body += f"\x1b[1;{mark}H\x1b[6n"
        super().write(body)

    def _look_again(self) -> None:
        self._timer = None
        self._send()

    def process_message(self, message: Message) -> None:
        """Runs in the input thread: cursor reports are answers to our frames, the rest is Textual's."""
        if isinstance(message, events.CursorPosition):
            self._answers.append((message.x + 1, time.monotonic()))
            self._answer_came.set()
            self._loop.call_soon_threadsafe(self._take_answers)
            return
        super().process_message(message)

    def _take_answers(self) -> None:
        while self._answers:
            mark, at = self._answers.popleft()
            self._pacer.answered(mark, at, waiting=self._due)
        self._send()

    def stop_application_mode(self) -> None:
        """Leave the screen; answers still on their way are awaited shortly, or the shell would print them."""
        self._leaving = True
        deadline = time.monotonic() + _LEAVE_DEADLINE
        while self._pacer.answers and self._pacer.flying and time.monotonic() < deadline:
            self._answer_came.wait(_LOOK_AGAIN)
            self._answer_came.clear()
            self._take_answers()
        super().stop_application_mode()

    def start_application_mode(self) -> None:
        """Enter (or come back to) the screen; everything is sent anew."""
        self._leaving = False
        self._grid.invalidate()
        super().start_application_mode()  # type: ignore[no-untyped-call]

    def close(self) -> None:
        """Stop the writer, but never wait for ever for a terminal that no longer reads."""
        writer = self._writer_thread
        if writer is None:
            return
        try:
            writer._queue.put(None, timeout=_LEAVE_DEADLINE)
        except queue.Full:
            return
        writer.join(_LEAVE_DEADLINE)
