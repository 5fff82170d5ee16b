"""What the terminal driver takes for granted of Textual's insides, checked one by one.

Textual is pinned exactly; when the pin moves, this file says what must be looked at again.
"""

from __future__ import annotations

import inspect
from pathlib import Path

import pytest
import textual
from textual.app import App
from textual.drivers._writer_thread import WriterThread
from textual.drivers.linux_driver import LinuxDriver
from textual.events import CursorPosition
from textual.strip import Strip

from analysis.model.snapshot import Snapshot
from tests.tui.emulator import Emulator
from tests.tui.synthetic import QUIET, FakeWatch, alarm, snapshot
from tui.app import StopkeeperApp
from tui.driver import CellDriver
from tui.grid import Grid
from tui.look import Look

ROOT = Path(__file__).parents[2]


def test_the_pin_is_the_version_that_was_examined() -> None:
    assert textual.__version__ == "8.2.8"
    assert '"textual==8.2.8"' in (ROOT / "pyproject.toml").read_text()


def test_private_names_the_driver_uses_exist() -> None:
    assert "_queue" in inspect.getsource(WriterThread.__init__)
    assert "_writer_thread" in inspect.getsource(LinuxDriver.__init__)
    assert "_loop" in inspect.getsource(LinuxDriver.__mro__[1].__init__)
    assert "_sync_available" in inspect.getsource(App.__init__)
    assert {"x", "y"} <= set(inspect.signature(CursorPosition).parameters)


def test_the_driver_overrides_nothing_that_is_gone() -> None:
    for name in ("write", "process_message", "start_application_mode", "stop_application_mode", "close"):
        assert hasattr(LinuxDriver, name)
        assert name in vars(CellDriver)


def test_cursor_reports_become_events_with_the_column() -> None:
    from textual._xterm_parser import XTermParser

    events = list(XTermParser().feed("\x1b[1;37R"))
    assert [type(event) for event in events] == [CursorPosition]
    assert events[0].x + 1 == 37


async def frames_of(watch: FakeWatch, look: Look, moments: list[Snapshot], keys: list[str]) -> tuple[list[str], App]:
    """Every compositor write of a run, as the driver would get it."""
    writes: list[str] = []

    class Tapped(StopkeeperApp):
        def _display(self, screen, renderable) -> None:
            if hasattr(renderable, "render_segments") and not self._batch_count:
                writes.append(renderable.render_segments(self.console) + "\x1b[1;1H")
            super()._display(screen, renderable)

    app = Tapped(watch, look)
    async with app.run_test(size=(100, 32)) as pilot:
        for moment in moments:
            watch.now = moment
            app._draw_now()
            await pilot.pause(0.05)
        for key in keys:
            await pilot.press(key)
            await pilot.pause(0.05)
        await pilot.pause()
        app._main.board.refresh(layout=True)
        await pilot.pause()
        shown = [strip.text for strip in app.screen._compositor.render_strips()]
    app.shown = shown
    return writes, app


@pytest.mark.parametrize("colours", ["full", "256", "16", "mono"])
async def test_every_write_of_the_compositor_is_understood_and_drawn_right(colours: str) -> None:
    new = (alarm("highlights", "active-unacknowledged"), *QUIET[1:])
    moments = [snapshot(), snapshot(alarms=new), snapshot("late"), snapshot("lost", with_picture=False), snapshot()]
    keys = ["t", "t", "w", "w", "p", "question_mark", "escape", "m", "escape", "ctrl+p", "escape"]
    writes, app = await frames_of(FakeWatch(snapshot()), Look(glyphs="braille", colours=colours), moments, keys)
    assert len(writes) > 10
    grid, direct, encoded = Grid(100, 32), Emulator(100, 32), Emulator(100, 32)
    for write in writes:
        assert grid.accept(write), write[:200]
        direct.feed(write)
        encoded.feed(grid.encode())
        assert encoded.cells == direct.cells
    assert encoded.lines() == app.shown


def test_the_differences_are_much_shorter_than_what_the_library_writes() -> None:
    from rich.console import Console
    from rich.segment import Segment
    from rich.style import Style

    console = Console(color_system="truecolor", force_terminal=True)
    grid = Grid(120, 1)
    stock = ours = 0
    for number in range(10):
        text = "⣿" * 50 + str(number) + "⣿" * 69
        row = Strip([Segment(text, Style.parse("#a7c6cd on #121517"))]).render(console)
        write = f"\x1b[1;1H{row}"
        assert grid.accept(write)
        stock += len(write.encode())
        ours += len(grid.encode().encode())
    assert ours * 3 < stock
