"""The application: sizes, keys, honesty, alarms, flashing."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from itertools import pairwise

import msgspec
import pytest

from analysis.model.snapshot import OutletStatus
from tests.tui.synthetic import QUIET, FakeWatch, alarm, snapshot
from tui.app import StopkeeperApp
from tui.look import Look
from tui.screens.manual import ManualScreen
from tui.screens.mute import MuteScreen

LOOK = Look(glyphs="braille", colours="full", rate=10)
NEW = (alarm("highlights", "active-unacknowledged"), *QUIET[1:])


class Clock:
    """Seconds that go on when the test says so."""

    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


@asynccontextmanager
async def running(
    watch: FakeWatch, size: tuple[int, int] = (120, 40), look: Look = LOOK, **more
) -> AsyncIterator[tuple[StopkeeperApp, object]]:
    app = StopkeeperApp(watch, look, **more)
    async with app.run_test(size=size) as pilot:
        await settle(app, pilot)
        yield app, pilot


async def settle(app: StopkeeperApp, pilot) -> None:
    """Look at the watch and let everything be drawn."""
    await pilot.pause()
    app._draw_now()
    await pilot.pause()


def lines(app: StopkeeperApp) -> list[str]:
    """What the terminal would show."""
    return [strip.text for strip in app.screen._compositor.render_strips()]


def screen(app: StopkeeperApp) -> str:
    return "\n".join(lines(app))


def styles_of(app: StopkeeperApp, words: str):
    """The styles of the cells that hold ``words``."""
    for strip in app.screen._compositor.render_strips():
        if words in strip.text:
            start = strip.text.index(words)
            return [segment.style for segment in strip.crop(start, start + len(words))]
    raise AssertionError(f"{words!r} is not shown")


async def until(condition, pilot, tries: int = 100) -> None:
    for _ in range(tries):
        if condition():
            return
        await pilot.pause(0.02)
    raise AssertionError("it never happened")


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (200, 60), (300, 100)])
async def test_designed_sizes_show_everything(size: tuple[int, int]) -> None:
    async with running(FakeWatch(snapshot(alarms=NEW)), size) as (app, _):
        shown = screen(app)
        assert [len(line) for line in lines(app)] == [size[0]] * size[1]
        for words in ("LIVE", "picture 0.04 s old", "LUMA", "LEVEL", "CLIPPED", "CRUSHED", "LAST", "NEW", "PICTURE"):
            assert words in shown, words
        assert "quit" in lines(app)[-1]
        assert any("⠀" < character <= "⣿" for character in shown)


@pytest.mark.parametrize("size", [(40, 12), (20, 5), (59, 30), (100, 10)])
async def test_small_sizes_keep_what_matters(size: tuple[int, int]) -> None:
    async with running(FakeWatch(snapshot(alarms=NEW)), size) as (app, _):
        shown = screen(app)
        for words in ("LIVE", "NEW", "middle", "clip"):
            assert words in shown


async def test_a_storm_of_sizes_is_survived() -> None:
    async with running(FakeWatch(snapshot(alarms=NEW))) as (app, pilot):
        for turn in range(16):
            await pilot.resize_terminal(1 + (turn * 53) % 240, 1 + (turn * 17) % 70)
        await pilot.resize_terminal(120, 40)
        await settle(app, pilot)
        assert "LEVEL" in screen(app)
        assert [len(line) for line in lines(app)] == [120] * 40


async def test_wide_screens_show_all_parts_without_being_asked() -> None:
    async with running(FakeWatch(snapshot()), (200, 60)) as (app, _):
        assert "R red" in screen(app)
        assert "LUMA" in screen(app)


async def test_trace_key_goes_round() -> None:
    async with running(FakeWatch(snapshot())) as (app, pilot):
        seen = []
        for _ in range(4):
            seen.append(("LUMA" in screen(app), "R red" in screen(app)))
            await pilot.press("t")
            await settle(app, pilot)
        assert seen == [(True, False), (False, True), (True, True), (True, False)]


async def test_picture_and_wide_keys() -> None:
    async with running(FakeWatch(snapshot())) as (app, pilot):
        await pilot.press("p")
        await settle(app, pilot)
        assert "PICTURE" not in screen(app)
        await pilot.press("p", "w")
        await settle(app, pilot)
        assert "LAST" not in screen(app)
        assert "middle" in screen(app)
        assert "ALARMS" in screen(app)
        await pilot.press("w")
        await settle(app, pilot)
        assert "PICTURE" in screen(app)
        assert "LAST" in screen(app)


async def test_keys_reach_the_watch() -> None:
    watch = FakeWatch(snapshot(alarms=NEW))
    async with running(watch) as (_, pilot):
        await pilot.press("a", "r", "u", "f")
        await pilot.pause()
    assert watch.asked == [("acknowledge seen", ("highlights", 1)), ("restart",), ("unmute",), ("sound from", None)]


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_where_it_sounds_is_shown_with_its_key_and_can_be_clicked(size: tuple[int, int]) -> None:
    watch = FakeWatch(snapshot(outlet=OutletStatus(outlet="bell", reason="terminal bell, as asked")))
    async with running(watch, size) as (app, pilot):
        await settle(app, pilot)
        last = lines(app)[-1]
        assert last.rstrip().endswith("f sound: bell")
        await pilot.click(offset=(last.index("sound: bell"), size[1] - 1))
        await until(lambda: watch.asked, pilot)
    assert watch.asked == [("sound from", None)]


async def test_while_muted_the_end_of_the_mute_stands_there_and_no_click_changes_anything() -> None:
    watch = FakeWatch(snapshot(outlet=OutletStatus(outlet="bell", reason="", muted_seconds=60.0)))
    async with running(watch, (80, 24)) as (app, pilot):
        await settle(app, pilot)
        last = lines(app)[-1]
        assert "muted 1:00" in last and "f " not in last
        await pilot.click(offset=(last.index("muted"), 23))
        await pilot.pause()
    assert watch.asked == []


async def test_mute_asks_for_minutes_with_ten_as_default() -> None:
    watch = FakeWatch(snapshot())
    async with running(watch) as (app, pilot):
        await pilot.press("m")
        await until(lambda: isinstance(app.screen, MuteScreen), pilot)
        assert "minutes" in screen(app)
        await pilot.press("enter")
        await until(lambda: watch.asked, pilot)
    assert watch.asked == [("mute", 600.0)]


async def test_mute_takes_another_time_and_refuses_nonsense() -> None:
    watch = FakeWatch(snapshot())
    async with running(watch) as (app, pilot):
        await pilot.press("m")
        await until(lambda: isinstance(app.screen, MuteScreen), pilot)
        await pilot.press("a", "enter")
        await pilot.pause()
        assert watch.asked == [], "typing into the field is no command, and a letter is no time"
        assert "Between" in screen(app)
        await pilot.press("backspace", "2", "enter")
        await until(lambda: watch.asked, pilot)
    assert watch.asked == [("mute", 120.0)]


async def test_escape_mutes_nothing() -> None:
    watch = FakeWatch(snapshot())
    async with running(watch) as (app, pilot):
        await pilot.press("m")
        await until(lambda: isinstance(app.screen, MuteScreen), pilot)
        await pilot.press("escape")
        await until(lambda: not isinstance(app.screen, MuteScreen), pilot)
    assert watch.asked == []


async def test_the_main_view_goes_on_behind_the_mute_question() -> None:
    watch, clock = FakeWatch(snapshot()), Clock()
    async with running(watch, clock=clock) as (app, pilot):
        await pilot.press("m")
        await until(lambda: isinstance(app.screen, MuteScreen), pilot)
        watch.now = snapshot("lost", with_picture=False)
        clock.now += 1
        await until(lambda: "NO PICTURE" in screen(app), pilot)


async def test_a_mute_that_runs_is_shown_with_its_time_left() -> None:
    watch = FakeWatch(snapshot())
    watch.change(outlet=OutletStatus(outlet="speakers", reason="", muted_seconds=571.4))
    async with running(watch) as (app, _):
        assert "muted 9:32" in lines(app)[-1]


@pytest.mark.parametrize("key", ["question_mark", "f1"])
async def test_help_explains_and_keeps_alarms_in_sight(key: str) -> None:
    watch = FakeWatch(snapshot(alarms=NEW))
    async with running(watch, (120, 60)) as (app, pilot):
        await pilot.press(key)
        await until(lambda: isinstance(app.screen, ManualScreen), pilot)
        await settle(app, pilot)
        shown = screen(app)
        for words in ("not a certified measurement", "earphones low", "IRE", "ASSUMED", "percentile", "NEW", "LIVE"):
            assert words in shown, words
        watch.now = snapshot("lost", with_picture=False)
        await until(lambda: "LOST" in screen(app), pilot)
        await pilot.press("escape")
        await until(lambda: not isinstance(app.screen, ManualScreen), pilot)
        assert "NO PICTURE" in screen(app)


async def test_every_key_is_in_the_help_and_in_the_palette() -> None:
    from tui.keys import ACTIONS, bindings

    async with running(FakeWatch(snapshot(alarms=NEW))) as (app, pilot):
        titles = {command.title for command in app.get_system_commands(app.screen)}
        for action in ACTIONS:
            assert hasattr(app, f"action_{action.action}")
            assert action.action == "palette" or action.word.capitalize() in titles
        assert "Acknowledge highlights" in titles
        bound = {binding.action for binding in bindings()} | {"palette"}
        assert bound == {action.action for action in ACTIONS}
        await pilot.press("ctrl+p")
        await until(lambda: "Search" in screen(app), pilot)


async def test_one_alarm_can_be_acknowledged_by_name() -> None:
    watch = FakeWatch(snapshot(alarms=NEW))
    async with running(watch) as (app, _):
        command = next(c for c in app.get_system_commands(app.screen) if c.title == "Acknowledge highlights")
        command.callback()
    assert watch.asked == [("acknowledge", "highlights", 1)], "the rise that was seen, by its number"


@pytest.mark.parametrize("key", ["q", "ctrl+q", "ctrl+c"])
async def test_quitting(key: str) -> None:
    async with running(FakeWatch(snapshot())) as (app, pilot):
        await pilot.press(key)
        await until(lambda: not app.is_running or app._exit, pilot)
    assert app.fault is None
    assert not app.return_code


async def test_lost_blanks_the_figures_at_the_next_look() -> None:
    watch = FakeWatch(snapshot())
    async with running(watch) as (app, pilot):
        assert "█" in screen(app)
        watch.now = snapshot("lost", with_picture=False)
        await until(lambda: "NO PICTURE" in screen(app), pilot)
        shown = screen(app)
        assert "█" not in shown
        assert "▀" not in shown
        assert "LOST" in shown
        trace = [line[4:70] for line in lines(app)[4:20]]
        assert not any("⠀" < character <= "⣿" for line in trace for character in line)


async def test_a_watch_that_stops_answering_is_found_out() -> None:
    watch, clock = FakeWatch(snapshot()), Clock()
    async with running(watch, clock=clock) as (app, pilot):
        watch.answers = False
        watch.snapshot()
        await settle(app, pilot)
        clock.now += 1.5
        await settle(app, pilot)
        assert "picture 1.5 s old" in screen(app)
        clock.now += 1.5
        await settle(app, pilot)
        assert "THE WATCH DOES NOT ANSWER" in screen(app)
        assert "█" not in screen(app)


async def test_hold_keeps_the_trace_but_not_the_figures_and_not_over_a_loss() -> None:
    watch, clock = FakeWatch(snapshot()), Clock()
    async with running(watch, clock=clock) as (app, pilot):
        await pilot.press("space")
        clock.now += 3
        await settle(app, pilot)
        assert "PAUSED, 3.0 s old" in screen(app)
        watch.now = snapshot("lost", with_picture=False)
        await settle(app, pilot)
        assert "PAUSED" not in screen(app)
        watch.now = snapshot()
        await settle(app, pilot)
        assert "PAUSED" not in screen(app), "it does not come back by itself"
        await pilot.press("space")
        await settle(app, pilot)
        assert "PAUSED" in screen(app)
        await pilot.press("space")
        await settle(app, pilot)
        assert "PAUSED" not in screen(app)


async def test_nothing_can_be_held_where_there_is_nothing() -> None:
    async with running(FakeWatch(snapshot("lost", with_picture=False))) as (app, pilot):
        await pilot.press("space")
        await settle(app, pilot)
        assert "PAUSED" not in screen(app)


async def test_a_new_alarm_is_inverse_without_colour() -> None:
    look = Look(glyphs="braille", colours="mono")
    async with running(FakeWatch(snapshot(alarms=NEW)), look=look) as (app, _):
        assert all(style.reverse for style in styles_of(app, "NEW  "))
        seen = (alarm("highlights", "active-acknowledged"), *QUIET[1:])
    async with running(FakeWatch(snapshot(alarms=seen)), look=look) as (app, _):
        assert not any(style.reverse for style in styles_of(app, "seen"))


async def test_mono_uses_no_colour_at_all() -> None:
    async with running(FakeWatch(snapshot(alarms=NEW)), look=Look(glyphs="braille", colours="mono")) as (app, _):
        for strip in app.screen._compositor.render_strips():
            for segment in strip:
                for colour in (segment.style.color, segment.style.bgcolor):
                    assert colour is None or colour.is_default, segment


@pytest.mark.parametrize("state", ["live", "late", "lost"])
@pytest.mark.parametrize("size", [(120, 40), (40, 12)])
async def test_ascii_is_ascii(state: str, size: tuple[int, int]) -> None:
    watch = FakeWatch(snapshot(state, alarms=NEW, with_picture=state != "lost"))
    async with running(watch, size, Look(glyphs="ascii", colours="16")) as (app, _):
        assert screen(app).isascii()


async def test_nothing_flashes() -> None:
    # WCAG 2.2 SC 2.3.1: no more than three flashes in any second; ours is at most one.
    watch = FakeWatch(snapshot(alarms=NEW))
    async with running(watch) as (app, pilot):
        inverse = []
        for _ in range(20):
            inverse.append(all(style.bgcolor is not None for style in styles_of(app, "NEW  ")))
            await pilot.pause(0.04)
        changes = sum(a != b for a, b in pairwise(inverse))
        assert changes <= 1


async def test_bell_rings_once_for_each_time_it_is_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    watch = FakeWatch(snapshot())
    rung: list[int] = []
    monkeypatch.setattr(StopkeeperApp, "bell", lambda self: rung.append(1))
    async with running(watch) as (app, pilot):
        watch.change(bells=1)
        await until(lambda: rung, pilot)
        await settle(app, pilot)
        await settle(app, pilot)
        assert len(rung) == 1
        watch.change(bells=4)
        await until(lambda: len(rung) > 1, pilot)
        await settle(app, pilot)
        assert len(rung) == 2, "a bell rung four times in a tick is one bell"


async def test_still_picture_refreshes_nothing() -> None:
    watch = FakeWatch(snapshot())
    async with running(watch) as (app, pilot):
        await settle(app, pilot)
        for panel in app._main.board.panels.values():
            panel._dirty_regions.clear()
        app._draw_now()
        assert not any(panel._dirty_regions for panel in app._main.board.panels.values())
        watch.change(feed=msgspec.structs.replace(watch.now.feed, age=0.05))
        app._draw_now()
        dirty = [panel.id for panel in app._main.board.panels.values() if panel._dirty_regions]
        assert dirty == ["status"]


async def test_a_note_is_shown_for_a_while() -> None:
    clock = Clock()
    async with running(FakeWatch(snapshot()), note="No capture device found", clock=clock) as (app, pilot):
        assert "No capture device found" in lines(app)[1]
        clock.now += 20
        await settle(app, pilot)
        assert "No capture device found" not in screen(app)


async def test_a_fault_in_the_screen_ends_it_in_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    watch = FakeWatch(snapshot())
    app = StopkeeperApp(watch, LOOK)
    with pytest.raises(RuntimeError, match="broken"):
        async with app.run_test() as pilot:
            await pilot.pause()

            def broken() -> None:
                raise RuntimeError("broken\npicture")

            watch.snapshot = broken
            await asyncio.sleep(0.2)
            await pilot.pause()
    assert app.fault == "RuntimeError: broken picture"
    assert "Traceback" not in capsys.readouterr().err


async def test_clicking_a_key_hint_is_pressing_the_key() -> None:
    watch = FakeWatch(snapshot(alarms=NEW))
    async with running(watch) as (app, pilot):
        line = lines(app)[-1]
        await pilot.click(offset=(line.index("acknowledge"), 39))
        await until(lambda: watch.asked, pilot)
    assert watch.asked == [("acknowledge seen", ("highlights", 1))]
