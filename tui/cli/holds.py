"""``stopkeeper holds``: the holds that were kept, listed, forgotten, or kept from a file."""

from __future__ import annotations

import contextlib
import os
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click
import msgspec

from analysis.model.errors import StopkeeperError, UsageError
from tui.cli.options import feed_options, settings_from
from tui.cli.read import rounded
from tui.cli.say import say


@click.group("holds", invoke_without_command=True, epilog="Example: stopkeeper holds keep bench angle-1.mov")
@click.option("--json", "as_json", is_flag=True, help="One JSON object a line for each hold.")
@click.pass_context
def command(ctx: click.Context, as_json: bool) -> None:
    """List the holds, the newest first: readings that later pictures are matched against.

    They are kept with k in the watch, or from a feed or file with the command keep.
    """
    from analysis.settings.hold_files import hold_folder, load_holds

    if ctx.invoked_subcommand is not None:
        return
    found = load_holds(hold_folder())
    for hold in found.holds:
        skin = next((each.stops for each in hold.reading.sitters or () if each.main), None)
        if as_json:
            code = hold.reading.encoding
            one = {
                "name": hold.name, "at": hold.at.text(), "feed": hold.feed, "curve": code.curve, "bits": code.bits,
                "sitter_stops": skin, "controls": msgspec.to_builtins(hold.controls),
            }  # fmt: skip
            say(msgspec.json.encode(rounded(one)))
        else:
            told = "skin not read" if skin is None else f"skin {skin:+.2f} stops"
            kept = datetime.fromtimestamp(hold.at.utc, UTC).astimezone()
            say(f"{hold.name:24}  {kept:%Y-%m-%d %H:%M}  {told:17}  {hold.feed}")
    if not found.holds and not as_json:
        say("no holds yet: keep one with k in the watch, or with stopkeeper holds keep NAME FEED")
    for trouble in found.troubles:
        click.echo(f"stopkeeper: {trouble}", err=True)


@command.command("drop")
@click.argument("name")
def drop(name: str) -> None:
    """Forget a hold for good."""
    from analysis.settings.hold_files import hold_path, load_named

    path = hold_path(name)
    if not path.is_file():
        load_named(name)  # says which there are
    try:
        path.unlink()
    except OSError as error:
        raise StopkeeperError(
            f"cannot be deleted: {error.strerror}", os.fspath(path), "check its permissions"
        ) from None
    say(f"forgotten: {path.stem}")


@command.command("keep", epilog="Example: stopkeeper holds keep bench angle-1.mov --curve acescct")
@click.argument("name")
@click.argument("feed")
@click.option(
    "--controls", "controls_file", type=click.Path(path_type=Path), metavar="FILE", help="What was set, TOML."
)
@click.option(
    "--skin", metavar="X,Y,W,H", help="Where the skin is, in parts of the picture; else a face is looked for."
)
@click.option("--background", metavar="X,Y,W,H", help="Where the background is, in parts of the picture.")
@click.option("--frames", type=click.IntRange(1, 1000), default=12, show_default=True, metavar="N", help="Frames read.")
@click.option("--replace", is_flag=True, help="Put it in the place of a hold of that name.")
@feed_options
def keep(
    name: str, feed: str, controls_file: Path | None, frames: int, replace: bool, config: Path | None, **given: Any
) -> None:
    """Keep a picture of FEED (a live feed, a file, a rendered scene) as the hold NAME."""
    from analysis.engine.matching import MatchDesk
    from analysis.model.instant import Instant
    from analysis.settings.control_files import load_controls
    from analysis.settings.hold_files import hold_folder, hold_path, load_holds, save_hold
    from tui.cli.match_side import picture

    settings = settings_from(config)
    controls = load_controls(controls_file).controls if controls_file is not None else None
    desk = MatchDesk(load_holds(hold_folder()).holds)
    path = hold_path(name)
    if replace:
        with contextlib.suppress(StopkeeperError):
            desk.drop(name)  # there may be none yet
    elif path.exists():
        raise UsageError(f"there is a hold {path.stem} already", "holds keep", "choose another name, or add --replace")
    shot = picture(feed, settings, given, frames)
    made = desk.keep(name, shot.reading, shot.view, shot.label, Instant(0.0, time.time()), controls)
    save_hold(made, path)
    say(f"kept: {made.name} ({path})")
