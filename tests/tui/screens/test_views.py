"""The main view with all that is measured: sizes, keys for picture, stops, sitters and line-up."""

from __future__ import annotations

from itertools import pairwise

import msgspec
import pytest

from tests.tui.measured import FLICKER, complete, lined_up
from tests.tui.screens.test_app import lines, running, screen, settle, until
from tests.tui.synthetic import FakeWatch, snapshot
from tui.app import StopkeeperApp
from tui.look import Look
from tui.screens.lineup import LineupScreen
from tui.screens.manual import ManualScreen
from tui.screens.manual_text import SECTIONS

DESIGNED = [(80, 24), (120, 40), (200, 60)]
LOOKS = [
    Look(glyphs="braille", colours="full"),
    Look(glyphs="braille", colours="16"),
    Look(glyphs="braille", colours="mono"),
    Look(glyphs="ascii", colours="mono"),
]


def panel(app: StopkeeperApp, name: str):
    return app._main.board.panels[name]


@pytest.mark.parametrize("look", LOOKS)
@pytest.mark.parametrize("size", DESIGNED)
async def test_designed_sizes_show_what_matters_with_any_colours(size: tuple[int, int], look: Look) -> None:
    async with running(FakeWatch(complete(flicker=FLICKER)), size, look) as (app, _):
        shown = screen(app)
        for words in (
            "SITTER 1",
            "on aim",
            "skin",
            "headroom",
            "ceiling",
            "clip",
            "aim",
            "CLIPPED",
            "CRUSHED",
            "4.0 Hz",
        ):
            assert words.lower() in shown.lower(), words
        assert [len(line) for line in lines(app)] == [size[0]] * size[1]
        if look.glyphs == "ascii":
            assert shown.isascii()
        if look.colours == "mono":
            for strip in app.screen._compositor.render_strips():
                for segment in strip:
                    assert segment.style.color is None or segment.style.color.is_default


async def test_larger_sizes_show_more() -> None:
    more = {
        (120, 40): ("SPOTS", "footroom"),
        (200, 60): ("SPOTS", "SIGNAL", "shadow S/N", "safe 60 Hz", "R 103", "STOPS"),
    }
    for size, names in more.items():
        async with running(FakeWatch(complete()), size) as (app, _):
            for words in names:
                assert words in screen(app), (size, words)


async def test_the_picture_key_goes_round_its_ways() -> None:
    async with running(FakeWatch(complete())) as (app, pilot):
        seen = []
        for _ in range(5):
            seen.append(panel(app, "picture").text_lines()[0].split())
            await pilot.press("v")
            await settle(app, pilot)
        assert seen[0] == seen[4]
        assert [words[0] for words in seen] == ["PICTURE", "PICTURE", "ZONES", "OUTSIDE", "PICTURE"]
        assert "plain" in seen[1]


async def test_view_brings_a_hidden_picture_back() -> None:
    async with running(FakeWatch(complete())) as (app, pilot):
        await pilot.press("p")
        await settle(app, pilot)
        assert "PICTURE" not in screen(app)
        await pilot.press("v")
        await settle(app, pilot)
        assert "PICTURE" in screen(app)


@pytest.mark.parametrize("size", DESIGNED)
async def test_enlarging_goes_corner_main_full_and_back(size: tuple[int, int]) -> None:
    async with running(FakeWatch(complete()), size) as (app, pilot):
        sizes = []
        for _ in range(4):
            sizes.append(panel(app, "picture").size)
            await pilot.press("e")
            await settle(app, pilot)
        assert sizes[0] == sizes[3]
        assert sizes[0].area < sizes[1].area < sizes[2].area
        await pilot.press("e")
        await settle(app, pilot)
        shown = screen(app)
        assert "LUMA" not in shown
        assert "sitter 1" in shown
        assert "ALARMS" in shown


async def test_stops_take_the_pictures_corner_and_give_it_back() -> None:
    async with running(FakeWatch(complete())) as (app, pilot):
        await pilot.press("h")
        await settle(app, pilot)
        assert "STOPS" in screen(app)
        assert "from middle grey" in screen(app)
        await pilot.press("h")
        await settle(app, pilot)
        assert "PICTURE" in screen(app)


async def test_choosing_the_main_sitter_goes_round() -> None:
    watch = FakeWatch(complete())
    async with running(watch) as (app, pilot):
        await pilot.press("c", "c", "c", "c")
        await pilot.pause()
        assert watch.asked == [("choose", name) for name in ("sitter 1", "sitter 2", None, "sitter 1")]
        command = next(c for c in app.get_system_commands(app.screen) if c.title == "Choose sitter 2")
        command.callback()
    assert watch.asked[-1] == ("choose", "sitter 2")


async def test_choosing_where_nobody_is_asks_nothing_wrong() -> None:
    watch = FakeWatch(snapshot())
    async with running(watch) as (_, pilot):
        await pilot.press("c")
        await pilot.pause()
    assert watch.asked == [("choose", None)]


@pytest.mark.parametrize("size", [*DESIGNED, (40, 12)])
async def test_the_line_up_is_asked_for_while_its_view_is_open(size: tuple[int, int]) -> None:
    watch = FakeWatch(complete())
    async with running(watch, size) as (app, pilot):
        await pilot.press("l")
        await until(lambda: isinstance(app.screen, LineupScreen), pilot)
        assert watch.asked == [("line up", True)]
        await until(lambda: "LOOKING" in screen(app), pilot)
        watch.change(lineup=lined_up(true=False))
        await until(lambda: "NOT TRUE" in screen(app), pilot)
        watch.change(lineup=lined_up(true=True))
        await until(lambda: "[x] THE CHAIN IS TRUE" in screen(app), pilot)
        watch.now = snapshot("lost", with_picture=False, lineup=lined_up(true=True))
        await until(lambda: "NO PICTURE" in screen(app), pilot)
        assert "TRUE" not in screen(app)
        await pilot.press("escape")
        await until(lambda: not isinstance(app.screen, LineupScreen), pilot)
        assert watch.asked[-1] == ("line up", False)


async def test_help_explains_every_new_label() -> None:
    terms = {term for _, rows in SECTIONS for term, _ in rows}
    told = " ".join(words for _, rows in SECTIONS for pair in rows for words in pair)
    for label in (
        "HEADROOM",
        "footroom",
        "shadow S/N",
        "flicker",
        "safe 50 Hz",
        "R 103",
        "ZONES",
        "OUTSIDE AIMS",
        "STOPS",
    ):
        assert label in terms, label
    for words in ("no face", "TOO DARK", "held", "ceiling", "crush", "ASSUMED", "(tag)", "let go", "line-up", "skin"):
        assert words in told, words
    async with running(FakeWatch(complete()), (120, 60)) as (app, pilot):
        await pilot.press("question_mark")
        await until(lambda: isinstance(app.screen, ManualScreen), pilot)
        await settle(app, pilot)
        assert "crush" in screen(app)


async def test_help_is_ascii_where_nothing_else_may_be_sent() -> None:
    async with running(FakeWatch(complete()), (120, 120), Look(glyphs="ascii", colours="mono")) as (app, pilot):
        await pilot.press("f1")
        await until(lambda: isinstance(app.screen, ManualScreen), pilot)
        await settle(app, pilot)
        # The scroll bar at the right is the library's: the driver makes it plain.
        shown = "\n".join(line[:-4] for line in lines(app))
        assert shown.isascii()
        assert "?" not in shown.replace("Escape or ? goes back", "").replace("  ? ", ""), "no twin was missing"


async def test_lost_blanks_everything_that_was_measured() -> None:
    watch = FakeWatch(complete(flicker=FLICKER))
    async with running(watch, (200, 60)) as (app, pilot):
        watch.now = msgspec.structs.replace(watch.now, feed=snapshot("lost").feed)
        await until(lambda: "NO PICTURE" in screen(app), pilot)
        shown = screen(app)
        for figure in ("52.1", "4.0 Hz", "on aim", "97.0 IRE", "ceiling", "0.31 %", "any angle"):
            assert figure not in shown, figure
        assert "█" not in shown


async def test_a_wandering_face_moves_little_on_screen() -> None:
    watch = FakeWatch(complete())
    async with running(watch) as (app, pilot):
        rows = []
        for step in range(6):
            _, y, width, height = watch.now.reading.sitters[0].box
            moved = msgspec.structs.replace(watch.now.reading.sitters[0], box=(560 + step % 2, y, width, height))
            reading = msgspec.structs.replace(watch.now.reading, sitters=(moved,))
            watch.change(reading=reading)
            await settle(app, pilot)
            rows.append(lines(app))
        assert all(a == b for a, b in pairwise(rows)), "a pixel is much less than a cell"


@pytest.mark.parametrize("size", [(40, 12), (59, 30), (30, 6)])
async def test_small_terminals_show_the_sitter_first(size: tuple[int, int]) -> None:
    async with running(FakeWatch(complete()), size) as (app, _):
        shown = screen(app)
        assert "skin 52.1 ● on aim" in shown
        assert "clip" in shown
        if size[0] >= 40:
            assert "headroom 2.1" in shown


@pytest.mark.parametrize(
    "key,view,words",
    [
        ("d", "decide", "WHAT IS SET"),
        ("b", "match", "HOLDS"),
        ("o", "alarms-view", "ALARMS"),
        ("j", "history", "HISTORY"),
        ("s", "spots", "SPOTS"),
        ("l", "lineup", "LINE-UP"),
    ],
)
async def test_every_view_opens_by_its_key_and_escape_goes_back(key: str, view: str, words: str) -> None:
    async with running(FakeWatch(complete())) as (app, pilot):
        await pilot.press(key)
        await settle(app, pilot)
        assert app.screen.id == view
        await until(lambda: words in screen(app).upper(), pilot)
        await pilot.press("escape")
        await settle(app, pilot)
        assert app.screen.id == "main"


async def test_keeping_a_hold_and_asking_for_words_reach_the_watch() -> None:
    watch = FakeWatch(complete())
    async with running(watch) as (app, pilot):
        await pilot.press("k", "n")
        await settle(app, pilot)
        assert ("keep", None) in watch.asked and ("say",) in watch.asked


async def test_what_was_refused_is_said_on_the_main_view() -> None:
    watch = FakeWatch(msgspec.structs.replace(complete(), refusal="hold: there is no picture to keep"))
    async with running(watch) as (app, pilot):
        await settle(app, pilot)
        assert "there is no picture to keep" in screen(app)


async def test_a_pinned_ghost_goes_with_its_picture() -> None:
    watch = FakeWatch(complete())
    async with running(watch) as (app, pilot):
        app.pinned = object()  # type: ignore[assignment]
        feed = msgspec.structs.replace(watch.now.feed, generation=watch.now.feed.generation + 1)
        watch.change(feed=feed)
        app._draw_now()
        assert app.pinned is None
        await settle(app, pilot)
