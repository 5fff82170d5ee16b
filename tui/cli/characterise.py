"""``stopkeeper characterise``: measure a camera's own curve, clip and noise from a bracket of a grey card."""

from __future__ import annotations

import contextlib
import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
import msgspec

from analysis.model.errors import UsageError
from tui.cli.bracket import LiveCard, ask_on_terminal, card_area, from_file, guided, planned, split_step
from tui.cli.options import feed_options, feed_options_from, settings_from
from tui.cli.say import say

if TYPE_CHECKING:
    from analysis.measure.card import StepReading
    from analysis.measure.characterise import Characterised


@click.command(
    "characterise",
    epilog="Example: stopkeeper characterise /dev/video0 --name lakecam --iso 800 --card 0.4,0.4,0.2,0.2",
)
@click.argument("feed", required=False)
@click.option("--name", required=True, metavar="NAME", help="What to call the camera; also the name of its curve.")
@click.option("--iso", type=float, required=True, metavar="N", help="ISO that the camera is set to.")
@click.option(
    "--step",
    "steps",
    multiple=True,
    metavar="STOPS=FEED",
    help="A step from a file, such as -2=minus2.mov; once for each step. 0 is the card at middle grey.",
)
@click.option(
    "--from", "lowest", type=float, default=-8, show_default=True, metavar="STOPS", help="Darkest step asked."
)
@click.option(
    "--to", "highest", type=float, default=8, show_default=True, metavar="STOPS", help="Brightest step asked."
)
@click.option("--every", type=float, default=1, show_default=True, metavar="STOPS", help="Stops from step to step.")
@click.option("--card", metavar="X,Y,W,H", help="Where the card is, in pixels or parts of 1; else the middle fifth.")
@click.option("--frames", type=click.IntRange(2, 100), default=8, show_default=True, metavar="N", help="Frames a step.")
@click.option(
    "--snr",
    type=float,
    default=2,
    show_default=True,
    metavar="R",
    help="Least usable signal-to-noise, R:1.",
)
@click.option("--without-noise", is_flag=True, help="Only curve and clip, for clips whose compression hides the noise.")
@click.option("--replace", is_flag=True, help="Measure a camera again; its ISO and ND steps are kept.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object instead of words.")
@feed_options
def command(
    feed: str | None,
    name: str,
    iso: float,
    steps: tuple[str, ...],
    lowest: float,
    highest: float,
    every: float,
    card: str | None,
    frames: int,
    snr: float,
    without_noise: bool,
    replace: bool,
    as_json: bool,
    config: Path | None,
    **given: Any,
) -> None:
    """Measure a camera from a bracket of an evenly lit 18 % grey card, and save it as a profile.

    Set the camera so that the card lies at middle grey: that is step 0. Then change only the light that
    reaches the sensor, by known stops (ND filters, or the shutter), not ISO. On a live FEED it asks for
    one step after another; from files, give each as --step.

    It finds the camera's own curve, the level where the signal stops rising, the noise, and how many
    stops are usable. The profile lies in cameras/ beside your settings; its curve goes by its name.
    """
    from analysis.settings.camera_files import camera_folder, load_camera, save_camera
    from analysis.settings.curve_files import adopt_curves

    adopt_curves()
    path = camera_folder() / f"{_checked(name)}.toml"
    if path.exists() and not replace:
        raise UsageError("this camera has a profile already", str(path), "add --replace, or give another --name")
    if not (0 < iso < math.inf and 0 < snr < math.inf):
        raise UsageError("--iso and --snr must be above zero", todo="use numbers such as 800 and 2")
    if bool(steps) == (feed is not None):
        raise UsageError("give either a live FEED or --step for each file", todo="see stopkeeper characterise --help")
    older = load_camera(path) if path.exists() else None
    options = feed_options_from(settings_from(config), given, realtime=feed is not None)
    area = card_area(card)
    if feed is not None:
        plan = planned(lowest, highest, every)
        with contextlib.closing(LiveCard(feed, options, area, frames)) as live:
            readings = guided(plan, live.views, ask_on_terminal, not without_noise)
    else:
        readings = [from_file(*split_step(text), options, area, frames, not without_noise) for text in steps]
    found = _judged(readings, path.stem, iso, snr)
    profile = found.profile if older is None else found.profile.with_kept(older)
    save_camera(profile, path)
    if as_json:
        say(msgspec.json.encode({"path": str(path), "notes": found.notes, "profile": profile}))
    else:
        say("\n".join(words(found, path)))


def _judged(readings: list[StepReading], name: str, iso: float, snr: float) -> Characterised:
    from analysis.feed.clock import SystemClock
    from analysis.measure.characterise import characterise
    from analysis.signal.curves import curve, names

    known = [curve(each) for each in names() if each != name]
    today = SystemClock().now().text()[:10]
    return characterise(readings, name=name, iso=iso, snr=snr, known=known, measured=today)


def _checked(name: str) -> str:
    from analysis.settings.curve_files import checked_name
    from analysis.signal.curves import built_in

    word = checked_name(name, f"--name {name}")
    if word in built_in():
        raise UsageError("this is the name of a built-in curve", f"--name {name}", "give the camera another one")
    return word


def words(found: Characterised, path: Path) -> list[str]:
    """What a person is told of a profile: where it lies, its ends in stops and IRE, its curve, and remarks."""
    profile, native = found.profile, found.profile.natives[0]
    clip = f"{profile.clip_percent:.1f} IRE at " if profile.clip_percent is not None else ""
    more, less = ("at least " if flag else "" for flag in (native.above_at_least, native.below_at_least))
    lines = [f"{profile.name}: saved in {path}"]
    if profile.response.snr:
        lines.append(
            f"usable {native.usable_stops:.1f} stops at ISO {native.iso:g}: clip {clip}{more}{native.stops_above:+.2f},"
            f" signal-to-noise {profile.snr:g}:1 at {less}{-native.stops_below:+.2f}"
        )
    else:
        lines.append(f"at ISO {native.iso:g}: clip {clip}{more}{native.stops_above:+.2f}; noise not measured")
    if profile.curve is not None:
        offset = profile.curve_offset or 0.0
        side = "above" if offset > 0 else "below"
        where = "as exposed" if abs(offset) < 0.05 else f"exposed {abs(offset):.2f} {side} it"
        lines.append(f"curve like {profile.curve} within {profile.curve_within:.2f} stops, {where}")
    else:
        lines.append(f"curve like none that is known; use it as --curve {profile.name}")
    return lines + [f"note: {note}" for note in found.notes]
