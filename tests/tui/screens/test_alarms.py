"""The alarms view: everything known of each, every order to the watch, refusals in words."""

from __future__ import annotations

import msgspec
import pytest

from analysis.alarm.defaults import DEFAULT_RULES
from analysis.model.hold import Matching
from analysis.model.instant import Instant
from analysis.model.snapshot import OutletStatus
from tests.tui.alarm_board import full_board
from tests.tui.holding import holds
from tests.tui.screens.test_app import LOOK, lines, running, screen, settle, until
from tests.tui.synthetic import QUIET, START, FakeWatch, alarm, snapshot
from tests.tui.test_steady import flashes_in_any_second
from tui.journal_pages import JournalPages
from tui.look import Look
from tui.palette import Ink
from tui.screens.alarms import AlarmsScreen
from tui.screens.ask import AskScreen
from tui.screens.history import HistoryScreen
from tui.widgets.alarm_list import facts, heard_words, mind

SIZES = [(80, 24), (120, 40), (200, 60)]
LOOKS = [LOOK, Look(glyphs="braille", colours="mono"), Look(glyphs="ascii", colours="16")]


def board_watch(**more) -> FakeWatch:
    return FakeWatch(snapshot(alarms=full_board(), **more))


async def opened(app, pilot, notices: str = "") -> tuple[AlarmsScreen, list[str | None]]:
    histories: list[str | None] = []
    app.push_screen(AlarmsScreen(app.look, app._source, histories.append, notices))
    await until(lambda: isinstance(app.screen, AlarmsScreen), pilot)
    await settle(app, pilot)
    return app.screen, histories


async def pick(view: AlarmsScreen, pilot, name: str) -> None:
    await pilot.press("home")
    for _ in range(40):
        if view.list.picked == name:
            return
        await pilot.press("down")
    raise AssertionError(f"{name} cannot be picked")


@pytest.mark.parametrize("look", LOOKS)
@pytest.mark.parametrize("size", SIZES)
async def test_every_state_and_every_quiet_way_is_in_sight(size: tuple[int, int], look: Look) -> None:
    async with running(board_watch(), size, look) as (app, pilot):
        await opened(app, pilot)
        shown = screen(app)
        for words in (
            "NEW", "seen", "was", "latched", "to reset", "shelved", "out", "highlights", "shelved for 15 min more",
            "out of service: the lamp", "p1", "p2", "p3", "LIVE", "to do", "a seen", "Escape back",
        ):  # fmt: skip
            assert words in shown, words
        assert [len(line) for line in lines(app)] == [size[0]] * size[1]
        if look.glyphs == "ascii":
            assert shown.isascii()


async def test_the_picked_one_is_told_in_full() -> None:
    async with running(board_watch()) as (app, pilot):
        view, _ = await opened(app, pilot)
        await pick(view, pilot, "highlights")
        shown = " ".join(screen(app).split())
        for words in (
            "highlights (highlights clipping): NEW for 0:40, priority 2, rise no. 1",
            "clipped 3.1 % of the picture; rises at 1 % or over after 1 s, returns under 0.6 %",
            "why clipped 3.1 % of the picture, at or over the limit 1.0 % for 1.0 s",
            "add ND, or take light off the bright part",
        ):
            assert words in shown, words


async def test_acknowledging_names_the_rise_that_was_seen() -> None:
    watch = board_watch()
    async with running(watch) as (app, pilot):
        view, _ = await opened(app, pilot)
        await pick(view, pilot, "highlights")
        await pilot.press("a")
        assert watch.asked[-1] == ("acknowledge", "highlights", 1)
        await pilot.press("A")
        _, *rises = watch.asked[-1]
        assert set(rises) == {
            (each.alarm, each.occurrence) for each in watch.now.alarms if each.state.endswith("-unacknowledged")
        }
        assert rises


async def test_the_pick_follows_its_alarm_when_the_order_changes() -> None:
    watch = board_watch()
    async with running(watch) as (app, pilot):
        view, _ = await opened(app, pilot)
        await pick(view, pilot, "shadows")
        first = next(line for line in lines(app) if "shadows" in line)
        watch.change(alarms=tuple(a for a in full_board() if a.alarm not in {"highlights", "feed"}))
        await settle(app, pilot)
        assert view.list.picked == "shadows"
        assert "▶" in first
        assert "▶" in next(line for line in lines(app) if "shadows" in line)


async def test_a_pick_that_is_gone_becomes_the_most_pressing() -> None:
    watch = board_watch()
    async with running(watch) as (app, pilot):
        view, _ = await opened(app, pilot)
        await pick(view, pilot, "shadows")
        watch.change(alarms=QUIET[:1])
        await settle(app, pilot)
        assert view.list.picked == "highlights"


async def test_shelving_asks_how_long_and_takes_an_hour_at_most() -> None:
    watch = board_watch()
    async with running(watch) as (app, pilot):
        view, _ = await opened(app, pilot)
        await pick(view, pilot, "highlights")
        await pilot.press("s")
        await until(lambda: isinstance(app.screen, AskScreen), pilot)
        assert "Shelve highlights" in screen(app)
        await pilot.press("6", "1", "enter")
        await pilot.pause()
        assert isinstance(app.screen, AskScreen), "an hour and a minute is refused here already"
        assert "Between 0.02 and 60" in screen(app)
        await pilot.press("backspace", "backspace", "3", "0", "enter")
        await until(lambda: app.screen is view, pilot)
        assert watch.asked[-1] == ("shelve", "highlights", 1800.0)


async def test_the_usual_shelf_is_a_quarter_of_an_hour_and_escape_shelves_nothing() -> None:
    watch = board_watch()
    async with running(watch) as (app, pilot):
        view, _ = await opened(app, pilot)
        await pick(view, pilot, "highlights")
        await pilot.press("s")
        await until(lambda: isinstance(app.screen, AskScreen), pilot)
        await pilot.press("escape")
        await until(lambda: app.screen is view, pilot)
        assert watch.asked == []
        await pilot.press("s", "enter")
        await until(lambda: bool(watch.asked), pilot)
        assert watch.asked == [("shelve", "highlights", 900.0)]


async def test_out_of_service_needs_a_reason() -> None:
    watch = board_watch()
    async with running(watch) as (app, pilot):
        view, _ = await opened(app, pilot)
        await pick(view, pilot, "noise")
        await pilot.press("x", "enter")
        await pilot.pause()
        assert isinstance(app.screen, AskScreen)
        assert "a few words are enough" in screen(app)
        await pilot.press(*"dusk")
        await pilot.press("enter")
        await until(lambda: app.screen is view, pilot)
        assert watch.asked[-1] == ("out of service", "noise", "dusk")


@pytest.mark.parametrize(
    ("name", "key", "order"),
    [
        ("shadows", "u", ("unshelve", "shadows")),
        ("one-channel", "r", ("reset", "one-channel")),
        ("drift-up", "i", ("in service", "drift-up")),
    ],
)
async def test_single_keys_order_single_things(name: str, key: str, order: tuple[str, str]) -> None:
    watch = board_watch()
    async with running(watch) as (app, pilot):
        view, _ = await opened(app, pilot)
        await pick(view, pilot, name)
        await pilot.press(key)
        assert watch.asked == [order]


async def test_a_refusal_of_the_watch_is_shown_in_one_line() -> None:
    watch = board_watch()
    async with running(watch, (80, 24)) as (app, pilot):
        await opened(app, pilot)
        assert "answer" not in screen(app)
        watch.change(refusal="highlights: acknowledge it before the reset")
        await settle(app, pilot)
        told = [line for line in lines(app) if "answer" in line]
        assert len(told) == 1
        assert "highlights: acknowledge it before the reset" in told[0]


async def test_where_it_sounds_can_be_changed_from_here() -> None:
    watch = board_watch()
    async with running(watch, (80, 24)) as (app, pilot):
        await opened(app, pilot)
        assert "f sound from" in screen(app)
        await pilot.press("f")
        await until(lambda: watch.asked, pilot)
    assert watch.asked == [("sound from", None)]


async def test_history_of_one_and_of_all_and_back() -> None:
    async with running(board_watch()) as (app, pilot):
        view, histories = await opened(app, pilot)
        await pick(view, pilot, "shadows")
        await pilot.press("h", "H")
        assert histories == ["shadows", None]
        await pilot.press("escape")
        await until(lambda: app.screen is not view, pilot)


async def test_the_mouse_picks() -> None:
    async with running(board_watch()) as (app, pilot):
        view, _ = await opened(app, pilot)
        row = next(y for y, line in enumerate(view.list.text_lines()) if "one-channel" in line)
        await pilot.click(view.list, offset=(30, row))
        assert view.list.picked == "one-channel"


async def test_keys_before_the_first_alarm_do_nothing() -> None:
    watch = FakeWatch(snapshot(alarms=()))
    async with running(watch) as (app, pilot):
        view, histories = await opened(app, pilot)
        await pilot.press("a", "s", "u", "r", "x", "i", "h", "down", "up")
        assert view.picked is None
        assert watch.asked == [] and histories == [None]
        assert "no alarms are set" in screen(app)


@pytest.mark.parametrize("size", [(80, 24), (80, 12), (60, 8), (300, 100)])
async def test_the_picked_one_is_always_in_the_list(size: tuple[int, int]) -> None:
    async with running(board_watch(), size) as (app, pilot):
        view, _ = await opened(app, pilot)
        for key in ("end", "home", "pagedown", "up", "end", "pageup"):
            await pilot.press(key)
            await settle(app, pilot)
            marked = [line for line in view.list.text_lines() if line.startswith("▶")]
            assert len(marked) == 1
            assert (view.list.picked or "")[:10] in marked[0]


async def test_where_it_is_heard_is_shown_with_the_mute_and_the_notices() -> None:
    outlet = OutletStatus(outlet="speakers", reason="speakers of this machine", muted_seconds=571.5)
    async with running(board_watch(outlet=outlet), (80, 24)) as (app, pilot):
        await opened(app, pilot, "terminal notifications by OSC 9")
        shown = " ".join(screen(app).split())
        assert "muted for 9:32 more; then speakers: speakers of this machine" in shown
        assert "terminal notifications by OSC 9" in shown


def test_a_reason_that_names_the_bell_is_not_named_twice() -> None:
    bell = OutletStatus(outlet="bell", reason="terminal bell: you are connected over SSH")
    assert heard_words(bell) == "terminal bell: you are connected over SSH"
    assert heard_words(OutletStatus(outlet="off", reason="sound is turned off")) == "sound is turned off"


def test_what_cannot_be_judged_tells_no_old_number() -> None:
    held = next(a for a in full_board() if a.alarm == "highlights")
    told = {fact.label: fact.text for fact in facts(msgspec.structs.replace(held, frozen=True), 5.0)}
    assert "%" not in told["now"]
    assert "no picture to judge" in told["now"]


async def test_without_a_hold_there_is_no_distance_from_it() -> None:
    drift = msgspec.structs.replace(
        next(a for a in full_board() if a.alarm == "drift-down"), measured="0.0 stops below the hold"
    )
    for beside, shown in ((None, False), (Matching(), False), (Matching(hold=holds()[0]), True)):
        async with running(FakeWatch(snapshot(alarms=(drift,), matching=beside))) as (app, pilot):
            await opened(app, pilot)
            assert ("0.0 stops below the hold" in screen(app)) == shown


async def test_the_keys_of_the_main_view_lead_here_to_the_history_and_back() -> None:
    pages = JournalPages(lambda alarm, before, limit: ())
    async with running(board_watch(), pages=pages) as (app, pilot):
        await pilot.press("o")
        await until(lambda: isinstance(app.screen, AlarmsScreen), pilot)
        view = app.screen
        await settle(app, pilot)
        await pick(view, pilot, "shadows")
        await pilot.press("h")
        await until(lambda: isinstance(app.screen, HistoryScreen), pilot)
        await settle(app, pilot)
        assert "only shadows" in screen(app)
        await pilot.press("escape")
        await until(lambda: app.screen is view, pilot)
        assert view.list.picked == "shadows"
        await pilot.press("escape")
        await until(lambda: app.screen is app._main, pilot)
        await pilot.press("j")
        await until(lambda: isinstance(app.screen, HistoryScreen), pilot)
        await settle(app, pilot)
        assert "everything" in screen(app)


async def test_while_a_question_is_asked_the_list_above_it_goes_on() -> None:
    watch = board_watch()
    async with running(watch) as (app, pilot):
        view, _ = await opened(app, pilot)
        await pilot.press("s")
        await until(lambda: isinstance(app.screen, AskScreen), pilot)
        watch.change(alarms=(alarm("feed", "active-unacknowledged"),))
        await until(lambda: "feed lost" in "".join(view.list.text_lines()), pilot)


async def test_the_bar_of_priority_one_changes_once_a_second_on_the_whole_screen() -> None:
    # WCAG 2.2 SC 2.3.1 allows three flashes in any second; ours is one at most.
    watch = FakeWatch(snapshot(alarms=(alarm("feed", "active-unacknowledged", START.monotonic),)))
    async with running(watch) as (app, pilot):
        view, _ = await opened(app, pilot)
        shown = []
        for tick in range(80):
            watch.change(at=Instant(START.monotonic + tick / 10, START.utc + tick / 10))
            app._draw_now()
            shown.append((tick / 10, Ink.NEW in view.list._sheet.inks[1].tolist()))
        assert flashes_in_any_second(shown) <= 1.0
        assert {bright for _, bright in shown} == {True, False}


def test_what_to_mind_stands_beside_advice_that_raises_lamps_or_opens() -> None:
    """Every alarm that ships: those that ask for more light say what to mind with lamps, those that open, the sun."""
    lamps = {"shadows", "skin-low", "spot-low", "drift-down", "noise"}
    opens = {"shadows", "skin-low", "drift-down", "noise"}
    told = {rule.name: mind(rule.advice) for rule in DEFAULT_RULES}
    assert {name for name, words in told.items() if "lamps: heat" in words} == lamps
    assert {name for name, words in told.items() if "the sun" in words} == opens


@pytest.mark.parametrize("size", SIZES)
async def test_it_is_in_sight_for_the_picked_alarm(size: tuple[int, int]) -> None:
    async with running(board_watch(), size) as (app, pilot):
        view, _ = await opened(app, pilot)
        await pick(view, pilot, "shadows")
        assert "lamps: heat, mains" in " ".join(screen(app).split())
        await pick(view, pilot, "highlights")
        assert "lamps: heat" not in screen(app)
