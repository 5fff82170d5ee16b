"""``stopkeeper match``: how far two pictures lie apart, in stops, and what to move."""

from __future__ import annotations

from pathlib import Path
from typing import Any, TypeVar

import click
import msgspec

from analysis.model.errors import UsageError
from tui.cli.desks import controls_named
from tui.cli.options import feed_options, settings_from
from tui.cli.say import say

F = TypeVar("F", bound=Any)


def _of_each(function: F) -> F:
    """Adds ``--curve-a --curve-b``, and the same of range, matrix and skin: what one of the two has of its own."""
    for which in ("b", "a"):
        upper = which.upper()
        for option in (
            click.option(f"--skin-{which}", metavar="X,Y,W,H", help=f"Where the skin is in {upper}."),
            click.option(
                f"--matrix-{which}",
                type=click.Choice(["auto", "bt709", "bt601", "bt2020"]),
                help=f"Colour matrix of {upper}.",
            ),
            click.option(
                f"--range-{which}",
                f"range__{which}",
                type=click.Choice(["auto", "narrow", "full"]),
                help=f"Code range of {upper}.",
            ),
            click.option(f"--curve-{which}", metavar="NAME", help=f"Transfer curve of {upper}, where they differ."),
        ):
            function = option(function)
    return function


@click.command("match", epilog="Example: stopkeeper match angle-1.mov angle-2.mov --controls lakecam.toml")
@click.argument("a")
@click.argument("b")
@click.option(
    "--controls",
    "controls_file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="What is set at B and what may move, in TOML; without it what to move is told in stops.",
)
@click.option("--camera", metavar="NAME", help="Camera profile of B, such as large-sensor-log, or a path.")
@click.option("--lock", multiple=True, metavar="CONTROL", help="Leave nd, iso, t_stop, shutter_angle or key as it is.")
@click.option("--free", multiple=True, metavar="CONTROL", help="Let a locked control move.")
@click.option(
    "--skin", metavar="X,Y,W,H", help="Where the skin is in both, in parts of the picture; else faces are looked for."
)
@click.option("--background", metavar="X,Y,W,H", help="Where the background is in both, in parts of the picture.")
@click.option("--frames", type=click.IntRange(1, 1000), default=12, show_default=True, metavar="N", help="Frames read.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object instead of words.")
@_of_each
@feed_options
def command(
    a: str,
    b: str,
    controls_file: Path | None,
    camera: str | None,
    frames: int,
    as_json: bool,
    config: Path | None,
    **given: Any,
) -> None:
    """Say how far picture B lies from picture A, in stops, and what to move at B so that it matches.

    A and B are each a live feed, a file, a rendered scene, a reading saved from stopkeeper read --json (a .json file,
    its last line), or a hold of the watch, written hold:NAME. They may differ in curve, depth and range: everything
    is compared as stops from middle grey through each one's own curve.

    What the clip hides is told as at least so much, or not at all.
    """
    from analysis.exposure.match import difference
    from analysis.exposure.match_plan import to_match
    from analysis.exposure.match_words import match_cautions, what_to_move
    from analysis.exposure.policy import OPEN_SKY, suggest
    from analysis.settings.control_files import camera_named, load_controls
    from tui.cli.match_side import side
    from tui.cli.match_words import as_object, words
    from tui.cli.plan_asked import controls_asked

    settings = settings_from(config)
    named = controls_named(controls_file, settings)
    file = load_controls(named) if named is not None else None
    if file is None and (camera is not None or given["lock"] or given["free"]):
        raise UsageError("nobody said what is set", "match", "give --controls FILE too")
    name = camera or (file.camera if file is not None else None) or settings.meter.camera
    from_camera = "--camera" if camera else str(named) if file is not None and file.camera else "meter.camera"
    profile = camera_named(name, where=from_camera) if name and file is not None else None
    hold, other = side(a, "a", settings, given, frames), side(b, "b", settings, given, frames)
    found = difference(other.light, hold.light)
    moves, planned, trouble = what_to_move(found), None, None
    assert other.light.curve is not None
    told = [(each.light.reading, each.light.curve) for each in (hold, other) if each.light.curve is not None]
    sky = any(suggest(reading, curve).policy == OPEN_SKY for reading, curve in told)
    cautions = match_cautions(found, sky)
    if file is not None:
        controls, limits = controls_asked(file, given, other.rate)
        try:
            planned = to_match(other.light, hold.light, controls, limits=limits, camera=profile, found=found)
            cautions = planned.cautions
        except UsageError as error:
            trouble = f"{error.what}; {error.todo}" if error.todo else error.what
    if as_json:
        say(msgspec.json.encode(as_object(hold, other, found, moves, planned, trouble, cautions)))
    else:
        say("\n".join(words(hold, other, found, moves, planned, trouble, cautions)))
