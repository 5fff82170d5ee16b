"""Placing spots: every key and the mouse; each change reaches the watch at once; what is refused is said."""

from __future__ import annotations

import msgspec
import pytest

from tests.tui.measured import BENCH, WINDOW, complete
from tests.tui.screens.test_app import LOOK, NEW, lines, running, screen, settle, until
from tests.tui.synthetic import FakeWatch, snapshot
from tui.look import Look
from tui.screens.rename import RenameScreen
from tui.screens.spots import STEP, SpotsScreen


async def opened(app, pilot) -> SpotsScreen:
    await pilot.press("s")
    await until(lambda: isinstance(app.screen, SpotsScreen), pilot)
    await settle(app, pilot)
    await until(lambda: app.screen.picture.place is not None, pilot)
    return app.screen


def sent(watch: FakeWatch):
    """The spots the watch was last given."""
    return next(spots for name, spots in reversed(watch.asked) if name == "spots")


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (200, 60)])
async def test_the_editor_shows_picture_list_health_alarms_and_keys(size: tuple[int, int]) -> None:
    async with running(FakeWatch(msgspec.structs.replace(complete(), alarms=NEW)), size) as (app, pilot):
        await opened(app, pilot)
        shown = screen(app)
        for words in ("LIVE", "PICTURE", "SPOTS", "window", "97.0 IRE", "bench", "NEW", "arrows move", "Escape back"):
            assert words in shown, words


async def test_new_goes_to_the_watch_and_is_the_one_the_keys_change() -> None:
    watch = FakeWatch(snapshot())
    async with running(watch) as (app, pilot):
        editor = await opened(app, pilot)
        assert "none yet" in screen(app)
        await pilot.press("n")
        assert [spot.name for spot in sent(watch)] == ["spot 1"]
        assert editor.picked == "spot 1"
        await pilot.press("right", "right", "down", "left", "up")
        assert sent(watch)[0].x == pytest.approx(0.4 + STEP)
        assert sent(watch)[0].y == pytest.approx(0.4)


async def test_size_kind_and_removal() -> None:
    watch = FakeWatch(complete())
    async with running(watch) as (app, pilot):
        editor = await opened(app, pilot)
        assert editor.picked == "window"
        await pilot.press("shift+right", "shift+down")
        assert sent(watch)[0].width == pytest.approx(WINDOW.width + 2 * STEP)
        assert sent(watch)[0].height == pytest.approx(WINDOW.height + 2 * STEP)
        await pilot.press("s", "g", "g")
        assert sent(watch)[0].width == pytest.approx(WINDOW.width + 4 * STEP)
        await pilot.press("k")
        assert sent(watch)[0].kind == "background"
        await pilot.press("tab")
        assert editor.picked == "bench"
        await pilot.press("d")
        assert [spot.name for spot in sent(watch)] == ["window"]
        assert editor.picked == "window"
        await pilot.press("delete")
        assert sent(watch) == ()
        await pilot.press("left", "k", "d", "r", "tab")
        assert editor.picked is None


async def test_renaming_refuses_what_cannot_be_a_name() -> None:
    watch = FakeWatch(complete())
    async with running(watch) as (app, pilot):
        editor = await opened(app, pilot)
        await pilot.press("r")
        await until(lambda: isinstance(app.screen, RenameScreen), pilot)
        for character in "sitter":
            await pilot.press(character)
        await pilot.press("enter")
        await pilot.pause()
        assert "belongs to a sitter" in screen(app)
        for character in " lamp":
            await pilot.press("space" if character == " " else character)
        await pilot.press("enter")
        await until(lambda: isinstance(app.screen, SpotsScreen), pilot)
        assert sent(watch)[0].name == "sitter lamp"
        assert editor.picked == "sitter lamp"


async def test_a_name_that_is_taken_is_refused_in_words() -> None:
    watch = FakeWatch(complete())
    async with running(watch) as (app, pilot):
        await opened(app, pilot)
        await pilot.press("r")
        await until(lambda: isinstance(app.screen, RenameScreen), pilot)
        await pilot.press(*"bench", "enter")
        await until(lambda: isinstance(app.screen, SpotsScreen), pilot)
        await settle(app, pilot)
        assert "there is a spot of that name" in screen(app)
        assert "already" in screen(app)
        assert not any(asked[0] == "spots" for asked in watch.asked)


async def test_dragging_draws_a_spot_and_drags_one() -> None:
    watch = FakeWatch(snapshot())
    async with running(watch) as (app, pilot):
        editor = await opened(app, pilot)
        place = editor.picture.place
        start = (place.x + place.width // 4, place.y + place.height // 4)
        end = (place.x + place.width // 2, place.y + place.height // 2)
        await pilot.mouse_down(editor.picture, offset=start)
        await pilot.hover(editor.picture, offset=end)
        await pilot.mouse_up(editor.picture, offset=end)
        await until(lambda: watch.asked, pilot)
        spot = sent(watch)[0]
        assert spot.x == pytest.approx(0.25, abs=1.5 / place.width)
        assert spot.y == pytest.approx(0.25, abs=1.5 / place.height)
        assert spot.x + spot.width == pytest.approx(0.5, abs=1.5 / place.width)
        inside = (start[0] + 3, start[1] + 2)
        await pilot.mouse_down(editor.picture, offset=inside)
        await pilot.hover(editor.picture, offset=(inside[0] + 10, inside[1]))
        await pilot.mouse_up(editor.picture, offset=(inside[0] + 10, inside[1]))
        await until(lambda: sent(watch)[0].x > spot.x, pilot)
        assert sent(watch)[0].x == pytest.approx(spot.x + 10 / place.width, abs=0.5 / place.width)
        assert sent(watch)[0].width == pytest.approx(spot.width)
        assert len(sent(watch)) == 1


async def test_a_click_picks_and_a_click_on_nothing_places_nothing() -> None:
    watch = FakeWatch(complete())
    async with running(watch) as (app, pilot):
        editor = await opened(app, pilot)
        place = editor.picture.place
        inside = (place.x + round((BENCH.x + 0.1) * place.width), place.y + round((BENCH.y + 0.1) * place.height))
        await pilot.click(editor.picture, offset=inside)
        await until(lambda: editor.picked == "bench", pilot)
        await pilot.click(editor.picture, offset=(place.x + place.width // 2, place.y + 1))
        await pilot.click(editor.picture, offset=(place.x + 5, 0))
        await pilot.pause()
        assert not any(asked[0] == "spots" for asked in watch.asked)


async def test_sixteen_are_the_most() -> None:
    watch = FakeWatch(snapshot())
    async with running(watch) as (app, pilot):
        await opened(app, pilot)
        await pilot.press(*["n"] * 17)
        assert len(sent(watch)) == 16
        await settle(app, pilot)
        assert "16 spots already" in screen(app)


async def test_view_goes_on_while_editing_and_escape_leaves() -> None:
    watch = FakeWatch(complete())
    async with running(watch) as (app, pilot):
        await opened(app, pilot)
        await pilot.press("v", "v")
        await settle(app, pilot)
        assert "ZONES" in screen(app)
        watch.now = snapshot("lost", with_picture=False)
        await until(lambda: "LOST" in screen(app), pilot)
        await pilot.press("n")
        await pilot.press("escape")
        await until(lambda: not isinstance(app.screen, SpotsScreen), pilot)


@pytest.mark.parametrize("size", [(40, 12), (80, 24)])
async def test_ascii_is_ascii(size: tuple[int, int]) -> None:
    async with running(FakeWatch(complete()), size, Look(glyphs="ascii", colours="mono")) as (app, pilot):
        await pilot.press("s")
        await until(lambda: isinstance(app.screen, SpotsScreen), pilot)
        await settle(app, pilot)
        assert screen(app).isascii()
        assert len(lines(app)) == size[1]


async def test_keys_of_the_main_view_do_not_open_a_second_editor() -> None:
    async with running(FakeWatch(complete()), look=LOOK) as (app, pilot):
        await opened(app, pilot)
        app.action_spots()
        app.action_lineup()
        app.action_manual()
        await pilot.pause()
        assert len(app.screen_stack) == 2
