"""The match view: sizes, looks, its keys, what it asks of the watch, and what it shows when the feed goes."""

from __future__ import annotations

from contextlib import asynccontextmanager

import msgspec
import pytest

from analysis.exposure.plan_words import LAMPS
from tests.tui.holding import comparing, holds, matching
from tests.tui.screens.test_app import LOOK, running, screen, settle, until
from tests.tui.screens.test_app import lines as lines_of
from tests.tui.synthetic import FakeWatch, snapshot
from tui.app import StopkeeperApp
from tui.look import Look
from tui.screens.ask import AskScreen
from tui.screens.forget import ForgetScreen
from tui.screens.match import MatchScreen

DESIGNED = [(80, 24), (120, 40), (200, 60)]
LOOKS = [
    Look(glyphs="braille", colours="full"),
    Look(glyphs="braille", colours="16"),
    Look(glyphs="braille", colours="mono"),
    Look(glyphs="ascii", colours="mono"),
]


@asynccontextmanager
async def matching_on(watch: FakeWatch, size: tuple[int, int] = (120, 40), look: Look = LOOK):
    async with running(watch, size, look) as (app, pilot):
        app.push_screen(MatchScreen(app.look, watch))
        await until(lambda: isinstance(app.screen, MatchScreen), pilot)
        await settle(app, pilot)
        await settle(app, pilot)
        yield app, pilot


def asked(watch: FakeWatch, *kinds: str) -> list[object]:
    return [each for each in watch.asked if each[0] in kinds]


@pytest.mark.parametrize("look", LOOKS)
@pytest.mark.parametrize("size", DESIGNED)
async def test_designed_sizes_show_what_matters_with_any_colours(size: tuple[int, int], look: Look) -> None:
    async with matching_on(FakeWatch(comparing(0.7)), size, look) as (app, _):
        shown = screen(app)
        for words in (
            "HOLD bench", "12 min ago", "NOW", "HOLDS", "hold 1 9.01", "NOW AGAINST THE HOLD", "skin", "+0.7",
            "brighter", "middle", "sides" if size[0] < 200 else "left side over right", "clipped", "TO MATCH IT",
            "ND from 6", "ALARMS", "LIVE", "k keep", "Escape back", "ND 6, ISO 800",
        ):  # fmt: skip
            assert words in shown, words
        assert [len(line) for line in lines_of(app)] == [size[0]] * size[1]
        assert lines_of(app)[0].strip().startswith(("●", "*"))
        if look.glyphs == "ascii":
            assert shown.isascii()
        if look.colours == "mono":
            for strip in app.screen._compositor.render_strips():
                for segment in strip:
                    assert segment.style.color is None or segment.style.color.is_default


@pytest.mark.parametrize("size", [(40, 12), (60, 18), (64, 20), (100, 30), (300, 100)])
async def test_other_sizes_survive(size: tuple[int, int]) -> None:
    async with matching_on(FakeWatch(comparing(-1.0)), size) as (app, _):
        shown = screen(app)
        assert "skin" in shown and "-1.0" in shown
        assert ("TO MATCH IT" in shown) or size[1] < 16
        assert [len(line) for line in lines_of(app)] == [size[0]] * size[1]


@pytest.mark.parametrize("size", [(60, 18), (80, 24), (120, 40), (200, 60)])
async def test_what_to_mind_and_the_nearest_way_both_have_their_room(size: tuple[int, int]) -> None:
    usual = matching(0.7)
    assert usual.planned is not None
    short = msgspec.structs.replace(usual.planned, missing="1/3 stop short at ND 2, ISO 2500: more light")
    found = msgspec.structs.replace(usual, planned=short, cautions=(LAMPS,))
    watch = FakeWatch(msgspec.structs.replace(comparing(0.7), matching=found))
    async with matching_on(watch, size) as (app, pilot):
        shown = " ".join(screen(app).split())
        assert f"! {LAMPS}" in shown
        assert "no way reaches it: 1/3 stop" in shown and "nearest: ND from 6" in shown
        rows = lines_of(app)
        assert [len(line) for line in rows] == [size[0]] * size[1]
        at = next(y for y, line in enumerate(rows) if "! Lamps" in line)
        assert any(line.startswith("ALARMS") for line in rows[at + 1 : at + 5]), "just above the alarms"
        watch.change(matching=usual)
        await settle(app, pilot)
        assert "! Lamps" not in screen(app)
        after = lines_of(app)
        place = [y for y, line in enumerate(rows) if line.startswith("NOW AGAINST")]
        assert [y for y, line in enumerate(after) if line.startswith("NOW AGAINST")] == place, "nothing jumps"


async def test_it_has_plans_made_while_it_is_open() -> None:
    watch = FakeWatch(comparing())
    async with matching_on(watch) as (app, pilot):
        assert asked(watch, "plan") == [("plan", True)]
        await pilot.press("escape")
        await until(lambda: not isinstance(app.screen, MatchScreen), pilot)
        assert asked(watch, "plan") == [("plan", True), ("plan", False)]


@pytest.mark.parametrize("key", ["escape", "q", "b"])
async def test_ways_back(key: str) -> None:
    async with matching_on(FakeWatch(comparing())) as (app, pilot):
        await pilot.press(key)
        await until(lambda: not isinstance(app.screen, MatchScreen), pilot)


async def test_choosing_a_hold_with_the_arrows_and_enter() -> None:
    watch = FakeWatch(comparing())
    async with matching_on(watch) as (app, pilot):
        view = app.screen
        assert view.picked == "bench", "the keys begin on the one that is compared with"
        await pilot.press("down")
        assert view.picked == "hold 1 9.01"
        await pilot.press("down", "down")
        assert view.picked == "bench", "they go round"
        await pilot.press("up", "enter")
        assert asked(watch, "match") == [("match", "hold 2 9.02")]
        watch.change(matching=matching(0.7, chosen="hold 2 9.02"))
        await settle(app, pilot)
        assert "hold 2 9.02 ─" in screen(app) and "OLD: 2 days" in screen(app)
        await pilot.press("enter")
        assert asked(watch, "match")[-1] == ("match", None)
        watch.change(matching=matching(0.7, chosen=None))
        await settle(app, pilot)
        assert "NO HOLD IS CHOSEN" in screen(app) and view.picked == "hold 2 9.02"


async def test_keeping_with_a_made_name() -> None:
    watch = FakeWatch(comparing())
    async with matching_on(watch) as (app, pilot):
        await pilot.press("k")
        await until(lambda: isinstance(app.screen, AskScreen), pilot)
        await pilot.press("enter")
        await until(lambda: isinstance(app.screen, MatchScreen), pilot)
        assert asked(watch, "keep") == [("keep", None)]


async def test_keeping_with_a_name_of_ones_own() -> None:
    watch = FakeWatch(comparing())
    async with matching_on(watch) as (app, pilot):
        await pilot.press("k")
        await until(lambda: isinstance(app.screen, AskScreen), pilot)
        for letter in "a/b":
            await pilot.press("slash" if letter == "/" else letter)
        await pilot.press("enter")
        await pilot.pause()
        assert isinstance(app.screen, AskScreen) and "is not a usable name" in screen(app)
        await pilot.press("backspace", "backspace", "backspace", *"Bench", "enter")
        await pilot.pause()
        assert isinstance(app.screen, AskScreen) and "there is a hold Bench already" in screen(app)
        await pilot.press("space", "2", "enter")
        await until(lambda: isinstance(app.screen, MatchScreen), pilot)
        assert asked(watch, "keep") == [("keep", "Bench 2")]
        await pilot.press("k")
        await until(lambda: isinstance(app.screen, AskScreen), pilot)
        await pilot.press("escape")
        await until(lambda: isinstance(app.screen, MatchScreen), pilot)
        assert len(asked(watch, "keep")) == 1


async def test_a_new_hold_takes_the_keys() -> None:
    watch = FakeWatch(comparing(chosen=None))
    async with matching_on(watch) as (app, pilot):
        await pilot.press("down")
        fresh = msgspec.structs.replace(holds()[0], name="hold 4 15.20")
        watch.change(matching=matching(0.0, chosen="hold 4 15.20", kept=(fresh, *holds())))
        await settle(app, pilot)
        assert app.screen.picked == "hold 4 15.20"


async def test_forgetting_asks_first() -> None:
    watch = FakeWatch(comparing())
    async with matching_on(watch) as (app, pilot):
        for key, gone in (("escape", False), ("n", False), ("y", True), ("enter", True)):
            before = len(asked(watch, "drop"))
            await pilot.press("x")
            await until(lambda: isinstance(app.screen, ForgetScreen), pilot)
            assert "Forget the hold bench?" in screen(app)
            await pilot.press(key)
            await until(lambda: isinstance(app.screen, MatchScreen), pilot)
            assert (len(asked(watch, "drop")) > before) == gone, key
        assert asked(watch, "drop") == [("drop", "bench")] * 2
        watch.change(matching=matching(0.7, chosen=None, kept=holds()[1:]))
        await settle(app, pilot)
        assert app.screen.picked == "hold 1 9.01"


async def test_without_any_hold_the_keys_say_what_to_do() -> None:
    watch = FakeWatch(comparing(chosen=None, kept=()))
    async with matching_on(watch) as (app, pilot):
        assert "none yet: k keeps one" in screen(app)
        await pilot.press("enter", "x", "up", "down")
        await settle(app, pilot)
        assert asked(watch, "match", "drop") == []
        assert isinstance(app.screen, MatchScreen)


async def test_lost_blanks_everything_that_was_measured_and_nothing_can_be_kept() -> None:
    watch = FakeWatch(comparing())
    async with matching_on(watch, (200, 60)) as (app, pilot):
        lost = snapshot("lost", with_picture=False)
        watch.now = msgspec.structs.replace(lost, matching=watch.now.matching)
        await until(lambda: "NO PICTURE" in screen(app), pilot)
        shown = screen(app)
        for figure in ("+0.7", "ND from 6", "brighter", "stop on everything"):
            assert figure not in shown, figure
        assert "HOLD bench" in shown, "a hold is not the live picture and stays"
        await pilot.press("k")
        await settle(app, pilot)
        assert isinstance(app.screen, MatchScreen) and "there is no picture to keep" in screen(app)


async def test_both_pictures_are_shown_the_same_way() -> None:
    async with matching_on(FakeWatch(comparing())) as (app, pilot):
        view = app.screen
        assert view._live.seen == "eye" and not view._hold.plain
        await pilot.press("v")
        await settle(app, pilot)
        assert view._live.seen == "signal" and view._hold.plain and "plain signal" in screen(app)
        await pilot.press("v")
        assert view._live.seen == "eye" and not view._hold.plain


async def test_another_size_is_laid_out_anew() -> None:
    async with matching_on(FakeWatch(comparing()), (120, 40)) as (app, pilot):
        await pilot.resize_terminal(60, 18)
        await settle(app, pilot)
        await settle(app, pilot)
        shown = screen(app)
        assert "HOLD bench" not in shown and "skin" in shown and "TO MATCH IT" in shown
        await pilot.resize_terminal(120, 40)
        await settle(app, pilot)
        await settle(app, pilot)
        assert "HOLD bench" in screen(app) and "HOLDS" in screen(app)


def test_the_view_needs_nothing_but_look_and_watch() -> None:
    view = MatchScreen(LOOK, FakeWatch(comparing()))
    assert view.picked is None and StopkeeperApp is not None
