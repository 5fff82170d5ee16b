"""The driver without a terminal: what it hands to the writer, when, and what it never waits for."""

from __future__ import annotations

import asyncio
import queue
import re
import signal
import sys
import threading
import time
from types import SimpleNamespace

import pytest
from textual.events import CursorPosition
from textual.geometry import Size

from analysis.model.errors import UsageError
from tests.tui.emulator import Emulator
from tests.tui.synthetic import FakeWatch, snapshot
from tui.driver import CellDriver
from tui.look import Look
from tui.start import run_screen

_MARK = re.compile(r"\x1b\[1;(\d+)H\x1b\[6n$")


class Writer:
    """A writer whose queue is emptied by the test."""

    def __init__(self) -> None:
        self._queue: queue.Queue[str | None] = queue.Queue(30)

    def write(self, text: str) -> None:
        self._queue.put(text, timeout=1)

    def join(self, timeout: float | None = None) -> None:
        pass

    def take(self) -> list[str]:
        taken = []
        while not self._queue.empty():
            taken.append(self._queue.get())
        return taken


@pytest.fixture
def made(monkeypatch: pytest.MonkeyPatch):
    """Makes drivers with a test's writer and no signal handlers."""
    monkeypatch.setattr(signal, "signal", lambda *_: None)
    monkeypatch.setattr(sys, "__stdin__", SimpleNamespace(fileno=lambda: 0, isatty=lambda: False))

    def make(sync: bool = False, **look) -> tuple[CellDriver, Writer]:
        app = SimpleNamespace(size=Size(80, 24), look=Look(glyphs="braille", **look), _sync_available=sync)
        driver = CellDriver(app)
        writer = Writer()
        driver._writer_thread = writer  # type: ignore[assignment]
        return driver, writer

    return make


def frame(text: str, row: int = 1) -> str:
    return f"\x1b[{row};1H\x1b[1m{text}\x1b[0m\x1b[1;1H"


def answer(driver: CellDriver, sent: str) -> None:
    """What a terminal that has drawn ``sent`` reports, as the input thread would deliver it."""
    mark = _MARK.search(sent)
    assert mark, sent
    driver.process_message(CursorPosition(int(mark[1]) - 1, 0))


async def turns() -> None:
    for _ in range(3):
        await asyncio.sleep(0)


async def test_a_frame_goes_out_with_a_question_at_its_end(made) -> None:
    driver, writer = made()
    driver.write(frame("hello"))
    (sent,) = writer.take()
    assert "hello" in sent
    assert _MARK.search(sent)


async def test_sync_marks_enclose_what_is_sent_only_where_they_are_understood(made) -> None:
    driver, writer = made(sync=True)
    driver.write("\x1b[?2026h")
    driver.write(frame("hello"))
    driver.write("\x1b[?2026l")
    (sent,) = writer.take()
    assert sent.startswith("\x1b[?2026h")
    assert "\x1b[?2026l\x1b[1;" in sent
    driver, writer = made()
    driver.write(frame("hello"))
    assert "2026" not in writer.take()[0]


async def test_unanswered_frames_are_merged_not_queued(made) -> None:
    driver, writer = made()
    sent = []
    for number in range(50):
        driver.write(frame(f"number {number:02}"))
        sent += writer.take()
    assert len(sent) == 2, "two frames may be under way, no more"
    assert not driver.ready
    answer(driver, sent[-1])
    await turns()
    (last,) = writer.take()
    terminal = Emulator(80, 24)
    for part in [*sent, last]:
        terminal.feed(part)
    assert terminal.lines()[0].startswith("number 49"), "the newest, and none in between"


async def test_nothing_is_sent_when_nothing_changed(made) -> None:
    driver, writer = made()
    driver.write(frame("same"))
    answer(driver, writer.take()[0])
    await turns()
    driver.write(frame("same"))
    assert writer.take() == []
    assert driver.ready


async def test_a_bell_does_not_wait_for_the_picture(made) -> None:
    driver, writer = made()
    for number in range(9):
        driver.write(frame(f"number {number}"))
    writer.take()
    driver.write("\a")
    assert writer.take() == ["\a"]


async def test_bells_never_block_on_a_terminal_that_reads_nothing(made) -> None:
    driver, writer = made()
    for _ in range(100):
        driver.write("\a")
    assert len(writer.take()) < 30


async def test_a_write_that_is_not_a_frame_goes_through_and_the_next_frame_is_whole(made) -> None:
    driver, writer = made()
    driver.write(frame("left"))
    answer(driver, writer.take()[0])
    await turns()
    driver.write("\x1b[?1049h")
    assert writer.take() == ["\x1b[?1049h"]
    driver.write(frame("left"))
    (whole,) = writer.take()
    terminal = Emulator(80, 24)
    terminal.feed(whole)
    assert terminal.lines()[0].startswith("left")


async def test_redraw_sends_every_cell(made) -> None:
    driver, writer = made()
    driver.write(frame("hello"))
    answer(driver, writer.take()[0])
    await turns()
    driver.redraw()
    terminal = Emulator(80, 24)
    terminal.feed(writer.take()[0])
    assert terminal.lines()[0].startswith("hello")


async def test_a_new_size_starts_afresh(made) -> None:
    driver, writer = made()
    driver.write(frame("hello"))
    writer.take()
    driver._app.size = Size(20, 5)
    driver.write(frame("small"))
    terminal = Emulator(20, 5)
    for sent in writer.take():
        terminal.feed(sent)
    assert terminal.lines()[0].startswith("small")
    assert max(terminal.marks) <= 20


async def test_the_cap_of_the_look_is_kept(made) -> None:
    driver, writer = made(max_rate=2000)
    sent = 0
    for number in range(40):
        driver.write(frame(str(number) * 70, row=1 + number % 20))
        for part in writer.take():
            sent += len(part)
            answer(driver, part)
        await turns()
    assert sent < 4000, "a thousand bytes of credit and one frame over it"


async def test_the_link_report_follows_the_answers(made) -> None:
    driver, writer = made()
    driver.write(frame("hello"))
    assert driver.link.delay is None
    answer(driver, writer.take()[0])
    await turns()
    assert driver.link.delay is not None
    assert not driver.link.slow


async def test_closing_does_not_wait_for_a_terminal_that_is_stuck(made) -> None:
    driver, writer = made()
    for _ in range(30):
        writer.write("x")
    begin = time.monotonic()
    await asyncio.get_running_loop().run_in_executor(None, driver.close)
    assert time.monotonic() - begin < 10


async def test_leaving_awaits_answers_so_that_the_shell_does_not_print_them(made, monkeypatch) -> None:
    driver, writer = made()
    left: list[float] = []
    monkeypatch.setattr("tui.driver.LinuxDriver.stop_application_mode", lambda self: left.append(time.monotonic()))
    driver.write(frame("one"))
    answer(driver, writer.take()[0])
    await turns()
    driver.write(frame("two"))
    sent = writer.take()[0]
    timer = threading.Timer(0.2, answer, (driver, sent))
    timer.start()
    begin = time.monotonic()
    driver.stop_application_mode()
    timer.join()
    assert left[0] - begin >= 0.15
    driver.write(frame("three"))
    assert writer.take() == [], "nothing is drawn on the shell's screen"


def test_no_terminal_is_refused_before_anything_is_drawn(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(UsageError, match="not a terminal"):
        run_screen(FakeWatch(snapshot()), Look())
    assert capsys.readouterr().err == ""


async def test_a_notification_goes_out_without_the_screen_being_sent_anew(made) -> None:
    driver, writer = made()
    driver.write(frame("same"))
    answer(driver, writer.take()[0])
    await turns()
    long = "\x1b]9;" + "highlights clipping " * 6 + "\x1b\\"
    driver.pass_on(long)
    assert writer.take() == [long]
    driver.write(frame("same"))
    assert writer.take() == [], "no cell has changed"


async def test_a_link_that_is_not_read_is_told_as_stuck(made) -> None:
    driver, writer = made()
    assert not driver.stuck
    for _ in range(20):
        writer.write("frame")
    assert driver.stuck
    writer.take()
    assert not driver.stuck
