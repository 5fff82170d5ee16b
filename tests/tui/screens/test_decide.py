"""The decide view: sizes, keys, the ghost, what goes to the watch, and nothing told of a picture that is gone."""

from __future__ import annotations

from contextlib import asynccontextmanager

import msgspec
import pytest

from analysis.exposure.ghost import Ghost
from analysis.exposure.subject import MIDDLE
from analysis.model.controls import ControlLimits, Controls
from tests.tui.deciding import boathouse
from tests.tui.measured import complete
from tests.tui.screens.test_app import LOOK, lines, running, screen, settle
from tests.tui.synthetic import FakeWatch, snapshot
from tui.look import Look
from tui.palette import Ink
from tui.screens.decide import DecideScreen
from tui.widgets.ghost import SKIN, UPPER

DESIGNED = [(80, 24), (120, 40), (200, 60)]
FULL, PLAIN = Look(glyphs="braille", colours="full"), Look(glyphs="ascii", colours="mono")
LOOKS = [
    *((size, look) for size in DESIGNED for look in (FULL, PLAIN)),
    ((120, 40), Look(glyphs="braille", colours="16")),
    ((80, 24), Look(glyphs="braille", colours="mono")),
]


@asynccontextmanager
async def deciding(watch: FakeWatch, size=(120, 40), look: Look = LOOK, pinned: bool = False):
    """The view open over the main one; what was pinned is kept in ``pins``."""
    pins: list[Ghost | None] = []
    async with running(watch, size, look) as (app, pilot):
        view = DecideScreen(look, watch, pins.append, pinned)
        app.push_screen(view)
        await settle(app, pilot)
        await settle(app, pilot)
        yield app, pilot, view, pins


async def press(app, pilot, *keys: str) -> None:
    for key in keys:
        await pilot.press(key)
    await settle(app, pilot)


def set_last(watch: FakeWatch) -> Controls:
    """What the watch was last told is set."""
    return next(each[1] for each in reversed(watch.asked) if each[0] == "controls")


@pytest.mark.parametrize(("size", "look"), LOOKS)
async def test_designed_sizes_show_everything_with_any_colours(size: tuple[int, int], look: Look) -> None:
    async with deciding(boathouse(nd=1.0), size, look) as (app, _, _, _):
        shown = screen(app)
        for words in (
            "LIVE", "SET NOW", "ND 1", "ISO 800", "T2.8", "1/50", "n/N", "i/I", "t/T", "s/S", "k/K", "r/R", "locked",
            "GHOST", "WAYS by open-sky", "suggested", "sitter 1", "now", "1", "2", "3", "ND 2", "skin", "on aim",
            "clipped", "crushed", "headroom", "shadow S/N", "depth", "blur", "same", "Puts the sitter on the aim",
            "ALARMS", "Escape back", "Enter",
        ):  # fmt: skip
            assert words in shown, words
        assert [len(line) for line in lines(app)] == [size[0]] * size[1]
        if look.glyphs == "ascii":
            assert shown.isascii()
            assert "> 1" in shown
        else:
            assert UPPER in shown
            assert SKIN in shown
            assert "▶ 1" in shown
        if look.colours == "mono":
            for strip in app.screen._compositor.render_strips():
                for segment in strip:
                    assert segment.style.color is None or segment.style.color.is_default


async def test_it_asks_for_plans_while_it_is_open() -> None:
    watch = boathouse(nd=1.0)
    async with deciding(watch) as (app, pilot, _, _):
        assert ("plan", True) in watch.asked
        assert watch.asked[-1] == ("plan", True)
        # The key that opens it goes back too, and sets nothing on the way.
        await press(app, pilot, "d")
        assert not isinstance(app.screen, DecideScreen)
        assert watch.asked[-1] == ("plan", False)
        assert not any(each[0] == "controls" for each in watch.asked)


async def test_two_keys_tell_what_is_set() -> None:
    watch = boathouse(nd=1.0)
    before = watch.desk.file.controls
    async with deciding(watch) as (app, pilot, _, _):
        for key, field, after in (
            ("n", "nd_stops", 0.0),
            ("N", "nd_stops", 2.0),
            ("i", "iso", 640.0),
            ("I", "iso", 1000.0),
            ("t", "t_stop", 2.5),
            ("T", "t_stop", 3.2),
            ("s", "shutter_angle", 172.8),
            ("S", "shutter_angle", 216.0),
            ("K", "key_percent", 50.0),
            ("R", "key_distance", 2.0),
        ):
            watch.desk.set_controls(before)
            await settle(app, pilot)
            await press(app, pilot, key)
            assert set_last(watch) == msgspec.structs.replace(before, **{field: after}), key
            planned = watch.desk.planning.planned
            assert planned is not None
            assert getattr(planned.now.controls, field) == after


async def test_keys_faster_than_the_watch_lose_nothing() -> None:
    """The watch carries out what it is told a moment later; the next step starts from what was told."""
    watch = boathouse(nd=1.0)
    carried, watch.set_controls = (
        watch.set_controls,
        lambda controls, limits=None: watch.asked.append(  # type: ignore
            ("controls", controls, limits)
        ),
    )
    async with deciding(watch) as (app, pilot, view, _):
        await pilot.press("I", "I", "I", "N")
        assert set_last(watch).iso == 1600.0
        assert set_last(watch).nd_stops == 2.0
        await settle(app, pilot)
        assert "ISO 1600" in screen(app)
        carried(set_last(watch))
        await settle(app, pilot)
        assert view._pending == {}
        assert "ISO 1600" in screen(app)


async def test_what_the_watch_never_carries_out_is_not_shown_for_ever() -> None:
    watch = boathouse(nd=1.0)
    watch.set_controls = lambda controls, limits=None: None  # type: ignore[method-assign]
    async with deciding(watch) as (app, pilot, _, _):
        await press(app, pilot, "I")
        assert "ISO 1000" in screen(app)
        for _ in range(12):
            await settle(app, pilot)
        assert "ISO 1000" not in lines(app)[3]
        assert "ISO 800" in lines(app)[3]


async def test_the_last_step_is_said() -> None:
    async with deciding(boathouse(nd=0.0)) as (app, pilot, _, _):
        await press(app, pilot, "n")
        assert "ND 0 is the last step" in screen(app)
        await press(app, pilot, "N")
        assert "is the last step" not in screen(app)


async def test_arrows_choose_a_control_and_x_locks_it() -> None:
    watch = boathouse(nd=1.0)
    async with deciding(watch) as (app, pilot, _, _):
        await press(app, pilot, "right", "x")
        assert watch.desk.planning.limits.locked == ("iso", "t_stop", "shutter_angle")
        assert "iso stays" in screen(app)
        await press(app, pilot, "plus")
        assert set_last(watch).iso == 1000.0, "locks bind the planner alone"
        await press(app, pilot, "minus", "x")
        assert "iso may move" in screen(app)
        await press(app, pilot, "left", "left", "x")
        assert watch.desk.planning.limits.locked == ("t_stop", "shutter_angle", "key")


async def test_choosing_a_way_moves_the_ghost_and_the_sentences() -> None:
    async with deciding(boathouse(nd=1.0)) as (app, pilot, view, _):
        seen = {}
        for key in ("1", "2", "3"):
            await press(app, pilot, key)
            title = next(line for line in lines(app) if "GHOST OF" in line)
            seen[key] = (title[: title.index("WAYS")], [line[:44] for line in lines(app)[6:30]])
            assert f"▶ {key}" in screen(app)
        assert len({title for title, _ in seen.values()}) == 3
        assert seen["1"][1] != seen["2"][1]
        await press(app, pilot, "down")
        assert view.chosen == 0
        await press(app, pilot, "up")
        assert view.chosen == 2


async def test_the_chosen_way_stays_chosen_when_the_plan_reorders() -> None:
    watch = boathouse(nd=1.0)
    async with deciding(watch) as (app, pilot, view, _):
        await press(app, pilot, "2")
        planned = watch.desk.planning.planned
        assert planned is not None
        chosen = planned.plans[1].controls
        turned = msgspec.structs.replace(planned, plans=planned.plans[::-1])
        watch.desk._planning = msgspec.structs.replace(watch.desk.planning, planned=turned)
        await settle(app, pilot)
        await press(app, pilot, "enter")
        assert set_last(watch) == chosen
        assert view.planning.controls == chosen


async def test_enter_takes_a_way_over_as_what_is_set() -> None:
    watch = boathouse(nd=1.0)
    async with deciding(watch, pinned=True) as (app, pilot, view, pins):
        way = view.planning.planned.plans[1].controls
        await press(app, pilot, "2", "enter")
        assert set_last(watch) == way
        assert watch.desk.file.controls == way
        assert "set: ND" in screen(app)
        assert pins == [None], "the ghost has been reached"
        assert view.chosen == 0


async def test_the_ghost_can_be_kept_and_taken_away() -> None:
    async with deciding(boathouse(nd=1.0)) as (app, pilot, view, pins):
        await press(app, pilot, "g")
        assert isinstance(pins[-1], Ghost)
        assert pins[-1].label == "ND 2, ISO 640"
        assert view.pinned
        assert "the ghost stays" in screen(app)
        await press(app, pilot, "g")
        assert pins[-1] is None
        assert not view.pinned


async def test_policies_go_round_and_come_back_to_the_picture() -> None:
    watch = boathouse(nd=1.0)
    async with deciding(watch) as (app, pilot, _, _):
        seen = []
        for _ in range(4):
            await press(app, pilot, "p")
            seen.append(next(each[1] for each in reversed(watch.asked) if each[0] == "policy"))
        assert seen == ["built-light", "even-light", "open-sky", None]
        await press(app, pilot, "p", "p")
        assert "as you chose; the picture suggests open-sky" in screen(app)
        assert "WAYS by even-light" in screen(app)


async def test_for_whom_goes_round() -> None:
    watch = boathouse(nd=1.0)
    async with deciding(watch) as (app, pilot, _, _):
        await press(app, pilot, "f")
        assert watch.asked[-1] == ("plan for", "sitter 1")
        await press(app, pilot, "f")
        assert watch.asked[-1] == ("plan for", MIDDLE)
        assert "for the middle" in screen(app)
        await press(app, pilot, "f")
        assert watch.asked[-1] == ("plan for", None)


@pytest.mark.parametrize("size", DESIGNED)
async def test_what_nobody_said_is_told_in_steps_and_how_to_say_it(size) -> None:
    watch = boathouse(told=False, nd=1.0)
    async with deciding(watch, size) as (app, pilot, _, _):
        shown = screen(app)
        assert "NOT SAID WHAT IS SET" in shown
        assert "two keys each" in shown
        assert "watch --controls FILE" in shown
        assert "ISO 640" not in shown
        assert ("ND +" if size[0] == 80 else "more ND") in shown or "ISO" in shown
        await press(app, pilot, "enter")
        assert not any(each[0] == "controls" for each in watch.asked), "nobody knows from where"
        assert "say what is set first" in screen(app)
        await press(app, pilot, "N")
        assert set_last(watch).nd_stops == 2.0
        assert "SET NOW" in screen(app)
        assert "NOT SAID WHAT" not in screen(app)


@pytest.mark.parametrize("size", DESIGNED)
async def test_an_aim_out_of_reach_says_what_is_missing(size) -> None:
    watch = boathouse(nd=1.0)
    watch.desk.set_controls(
        watch.desk.file.controls, ControlLimits(nd_steps=(1.0,), iso_steps=(800.0,), iso_range=(800.0, 800.0))
    )
    async with deciding(watch, size) as (app, _, _, _):
        shown = " ".join(screen(app).split())
        assert "NO WAY REACHES THE AIM" in shown
        assert "1 1/3 stops over even at ND 1 and ISO 800" in shown
        assert "nearest" in shown


@pytest.mark.parametrize("size", DESIGNED)
async def test_cautions_stand_beside_advice_that_raises_a_lamp(size) -> None:
    watch = boathouse(nd=4.0)
    watch.desk.set_controls(msgspec.structs.replace(watch.desk.file.controls, key_percent=20.0))
    async with deciding(watch, size) as (app, _, _, _):
        shown = " ".join(screen(app).split())
        assert "WAYS by built-light" in shown
        assert "Lamps are hot, heavy and on mains" in shown
        assert "leave wiring to licensed people." in shown


async def test_no_face_says_what_to_do() -> None:
    watch = boathouse(nd=1.0)
    watch.change(reading=msgspec.structs.replace(watch.now.reading, sitters=()))
    async with deciding(watch) as (app, pilot, _, pins):
        shown = " ".join(screen(app).split())
        assert "NO PLAN" in shown
        assert "place a spot on the skin" in shown
        assert "GHOST OF" not in shown
        await press(app, pilot, "g", "enter", "2", "down")
        assert pins == []


async def test_nothing_stays_beside_a_picture_that_is_gone() -> None:
    watch = boathouse(nd=1.0)
    async with deciding(watch) as (app, pilot, view, _):
        assert "on aim" in screen(app)
        watch.now = msgspec.structs.replace(
            snapshot("lost", with_picture=False), planning=watch.desk.planning, aims=watch.now.aims
        )
        await settle(app, pilot)
        shown = screen(app)
        assert "NO PICTURE" in shown
        for words in ("on aim", "ISO 640", "Puts the sitter", "GHOST OF"):
            assert words not in shown, words
        await press(app, pilot, "enter", "1", "g")
        assert not any(each[0] == "controls" for each in watch.asked)
        assert view._plans(view._showing) == ()


async def test_a_late_picture_is_dim_and_called_late() -> None:
    watch = boathouse(nd=1.0)
    async with deciding(watch) as (app, pilot, view, _):
        watch.change(feed=snapshot("late").feed)
        await settle(app, pilot)
        assert "LATE" in screen(app)
        assert Ink.STALE in set(view._ways._sheet.inks.ravel().tolist())


async def test_rows_that_were_taken_are_not_given_back() -> None:
    """A caution that comes and goes moves nothing else on the screen more than once."""
    watch = boathouse(nd=4.0)
    lit = msgspec.structs.replace(watch.desk.file.controls, key_percent=20.0)
    async with deciding(watch, (80, 24)) as (app, pilot, view, _):
        low = view._why.size.height
        watch.set_controls(lit)
        await settle(app, pilot)
        await settle(app, pilot)
        high = view._why.size.height
        assert high > low
        watch.set_controls(msgspec.structs.replace(lit, key_percent=None))
        await settle(app, pilot)
        await settle(app, pilot)
        assert view._why.size.height == high


@pytest.mark.parametrize("size", [(20, 6), (40, 12), (60, 18), (59, 30), (100, 12), (300, 100)])
async def test_any_size_can_be_drawn(size) -> None:
    async with deciding(boathouse(nd=1.0), size) as (app, pilot, _, _):
        await press(app, pilot, "2", "N", "x")
        assert [len(line) for line in lines(app)] == [size[0]] * size[1]


async def test_a_watch_that_knows_of_no_plans_is_no_trouble() -> None:
    watch = FakeWatch(complete())
    async with deciding(watch) as (app, pilot, _, _):
        assert "PLANNING" in screen(app)
        await press(app, pilot, "enter", "g", "2", "p", "f", "N")
        assert set_last(watch).nd_stops == 2.0
        assert "ND 2" in screen(app)
