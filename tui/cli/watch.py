"""``stopkeeper watch``: the main screen, or plain lines where there is none."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
import msgspec

from analysis.model.errors import SettingsError
from analysis.settings.schema import Settings
from tui.cli.options import feed_options, feed_options_from, settings_from, settled_options

if TYPE_CHECKING:
    from collections.abc import Callable

    from analysis.engine.listeners import TurnListener
    from analysis.feed.source import FeedOptions
    from analysis.model.sitter import Spot
    from analysis.output.heard import SpeechWish
    from analysis.output.notify import NotifyWish
    from analysis.settings.setup_files import SetUp
    from analysis.watch import Desks, Recorder, Watch
    from tui.cli.recording import Recording
    from tui.look import Look

SCENE = "scene:boathouse"
LAST = "last"
ARCHIVE_SECONDS = 1.0


@click.command("watch", epilog="Example: stopkeeper watch /dev/video0 --range narrow")
@click.argument("feed", required=False)
@click.option("--plain", is_flag=True, help="No screen: a line of words a second, and one for each alarm.")
@click.option("--seconds", type=float, metavar="S", help="With --plain: stop after S seconds.")
@click.option(
    "--sound",
    type=click.Choice(["auto", "speakers", "bell", "off"]),
    help="Where alarms are heard; auto takes the terminal's bell over SSH.",
)
@click.option(
    "--speech",
    type=click.Choice(["auto", "off", "asked", "alarms"]),
    help="What espeak-ng speaks: alarms, only what is asked for (n), or nothing; auto speaks where speakers sound.",
)
@click.option(
    "--notify",
    type=click.Choice(["auto", "off", "osc9", "osc777", "osc99"]),
    help="Notifications to your terminal; auto sends them where the bell is heard.",
)
@click.option("--glyphs", type=click.Choice(["auto", "braille", "blocks", "shade", "ascii"]), help="What to draw with.")
@click.option("--colours", type=click.Choice(["auto", "full", "256", "16", "mono"]), help="How many colours to use.")
@click.option("--updates", type=float, metavar="N", help="Screen updates a second (8).")
@click.option("--max-rate", type=float, metavar="BYTES", help="Most bytes a second to the terminal.")
@click.option(
    "--viewing",
    metavar="auto|signal|FILE",
    help="Small picture: for display, as it is, or through a .cube or .clf.",
)
@click.option("--set-up", metavar="NAME", help="Spots and aims kept under this name; they are saved when you leave.")
@click.option(
    "--controls",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="What is set on the camera and what may move, in TOML; for the plan (d).",
)
@click.option("--match", metavar="HOLD", help="Compare with this hold from the start.")
@click.option("--no-mouse", is_flag=True, help="Leave the mouse to the terminal.")
@feed_options
def command(feed: str | None, plain: bool, seconds: float | None, config: Path | None, **given: Any) -> None:
    """Open the watch on FEED.

    Without FEED it takes the one in your settings, else the first capture device, else the
    rendered scene scene:boathouse. Files play at their own pace, again and again.
    """
    settings = settings_from(config)
    options = feed_options_from(settings, given, realtime=True, loop=True)
    from tui.cli.desks import controls_named, open_desks

    if plain:
        from tui.cli.plain import PlainLines, run_plain
        from tui.cli.say import say

        address, note = choose_feed(feed, settings)
        options = settled_options(options, address, given)
        before = read_set_up(given["set_up"], settings)
        opened = open_desks(settings, address, controls_named(given["controls"], settings), given["match"])
        lines = PlainLines(say)
        watch = build(
            address, options, settings, given["sound"], given["speech"], lines.ring, (lines,),
            desks=opened.desks, listeners=(lines,),
        )  # fmt: skip
        watch.set_spots(before.spots)
        watch.set_aims(before.aims)
        try:
            run_plain(watch, lines, " ".join(filter(None, (note, opened.note))) or None, seconds)
        finally:
            opened.archive.close(ARCHIVE_SECONDS)
        return
    from analysis.feed.clock import SystemClock
    from tui.cli.recording import open_recording

    look = _look(settings, given)
    address, note = choose_feed(feed, settings)
    options = settled_options(options, address, given)
    before = read_set_up(given["set_up"], settings)
    opened = open_desks(settings, address, controls_named(given["controls"], settings), given["match"])
    recording = open_recording(settings, address, SystemClock())
    note = " ".join(filter(None, (note, opened.note, recording.note))) or None
    watch = build(
        address, options, settings, given["sound"], given["speech"], recording=recording, desks=opened.desks
    )
    watch.set_spots(before.spots)
    watch.set_aims(before.aims)
    try:
        watch.start()
        _show(watch, look, note, recording, given["notify"] or settings.sound.notify)
    finally:
        watch.close()
        opened.archive.close(ARCHIVE_SECONDS)
        recording.close()
        keep_set_up(given["set_up"], before, watch.snapshot().spots)
    if watch.failure is not None:
        raise watch.failure


def read_set_up(name: str | None, settings: Settings) -> SetUp:
    """The set-up of that name, new where there is none yet; aims of the settings hold where it has none of its own."""
    from analysis.settings.setup_files import SetUp, load_set_up, set_up_path

    found = SetUp(name=name or LAST)
    if name is not None:
        path = set_up_path(name)
        found = load_set_up(path) if path.exists() else SetUp(name=path.stem)
    return msgspec.structs.replace(found, aims={**settings.aims, **found.aims})


def keep_set_up(name: str | None, before: SetUp, spots: tuple[Spot, ...]) -> None:
    """Save spots that changed: under the set-up's name, or as ``last`` where nobody named one."""
    from analysis.settings.setup_files import save_set_up, set_up_path

    if spots != before.spots:
        save_set_up(msgspec.structs.replace(before, spots=spots), set_up_path(name or LAST))


def choose_feed(feed: str | None, settings: Settings) -> tuple[str, str | None]:
    """The feed to open, and a note when it is not what a bare call would expect."""
    chosen = feed or settings.feed.address
    if chosen:
        return chosen, None
    from analysis.feed.devices import first_capture_device

    device = first_capture_device()
    if device is not None:
        return device, None
    return SCENE, "No capture device found: this is the rendered boathouse, not a camera."


def build(
    address: str,
    options: FeedOptions,
    settings: Settings,
    sound: str | None,
    speech: SpeechWish | None = None,
    bell: Callable[[], None] | None = None,
    recorders: tuple[Recorder, ...] = (),
    recording: Recording | None = None,
    desks: Desks | None = None,
    listeners: tuple[TurnListener, ...] = (),
) -> Watch:
    """A watch wired to its feed and to where its alarms are heard."""
    from analysis.feed.clock import SystemClock
    from analysis.output.heard import open_heard
    from analysis.watch import Desks, open_watch

    clock, chosen = SystemClock(), settings.sound
    outlet, speaking = open_heard(
        sound or chosen.outlet, os.environ, speech=speech or chosen.speech, device=chosen.device, bell_writer=bell
    )
    recorders = (*recorders, *speaking)
    try:
        journal = recording.journal if recording is not None else None
        saved = recording.saved if recording is not None else None
        room = recording.room if recording is not None else None
        kept = (*recorders, journal) if journal is not None else recorders
        desks = desks or Desks()
        desks.listeners = (*listeners, journal) if journal is not None else listeners
        return open_watch(address, options, settings, outlet, clock, kept, journal, saved, room, desks)
    except BaseException:
        outlet.close()
        raise


def _look(settings: Settings, given: dict[str, Any]) -> Look:
    """The screen's look with every "auto" decided; refuses here, before anything is opened."""
    from tui.look import Look, resolve

    screen = settings.screen
    viewing, table = _viewing(settings, given["viewing"])
    asked = Look(
        viewing=viewing,
        table=table,
        glyphs=given["glyphs"] or screen.glyphs,
        colours=given["colours"] or screen.colours,
        rate=given["updates"] or screen.rate,
        max_rate=given["max_rate"] or screen.max_rate,
        mouse=screen.mouse and not given["no_mouse"],
    )
    # The screen is drawn on standard error (Textual's choice) and keys come from standard input.
    drawn_on = sys.__stderr__
    on_screen = drawn_on is not None and drawn_on.isatty() and sys.stdin is not None and sys.stdin.isatty()
    return resolve(asked, os.environ, drawn_on.encoding if drawn_on else None, on_screen)


def _viewing(settings: Settings, asked: str | None) -> tuple[Any, Any]:
    """How the small picture is shown, and the table it needs; a table that cannot be read is refused here."""
    choice, file = settings.screen.viewing, settings.screen.table
    if asked in ("auto", "signal"):
        return asked, None
    if asked is not None:
        choice, file = "table", asked
    if choice != "table":
        return choice, None
    if file is None:
        raise SettingsError("viewing is table and no table is named", "screen", 'write table = "FILE" beside it')
    from analysis.settings.table_files import load_table

    return "table", load_table(Path(file))


def _show(watch: Watch, look: Look, note: str | None, recording: Recording, notify: NotifyWish) -> None:
    from tui.journal_pages import pages_of
    from tui.start import run_screen

    journal = recording.journal.path if recording.journal is not None else None
    pages = pages_of(journal, recording.note or "the settings say to keep none")
    run_screen(watch, look, note, look.table, pages, notify)
