"""``stopkeeper reckon``: the arithmetic of exposure as a tool of its own."""

from __future__ import annotations

from typing import Any

import click
import msgspec

from tui.cli.reckon_asked import above_zero, exposure_time, filter_given, key_asked
from tui.cli.say import say

_JSON = click.option("--json", "as_json", is_flag=True, help="One JSON object instead of words.")
_RATE = click.option("--rate", type=float, default=25.0, show_default=True, metavar="FPS", help="Frames a second.")
_T_STOP = click.option("--t-stop", type=float, required=True, metavar="T", help="Aperture.")
_ISO = click.option("--iso", type=float, required=True, metavar="N", help="Sensitivity.")
_SHUTTER = click.option(
    "--shutter", default="180", show_default=True, metavar="ANGLE|1/N", help="Degrees, or a time such as 1/50."
)


@click.group("reckon", epilog="Example: stopkeeper reckon filter 0.9 ND8")
def command() -> None:
    """Reckon in stops: filters, shutter, series, light on the subject, sun, and the key.

    Exact powers of two are reckoned with and the nominal names are shown. Needs no camera and no feed.
    """


def _tell(found: dict[str, Any], lines: list[str], as_json: bool) -> None:
    say(msgspec.json.encode(found) if as_json else "\n".join(lines))


@command.command("filter", epilog="Example: stopkeeper reckon filter 0.3 0.6 0.9")
@click.argument("filters", nargs=-1, required=True, metavar="FILTER...")
@_JSON
def filter_(filters: tuple[str, ...], as_json: bool) -> None:
    """Stops, density and factor of FILTERs, and of all of them one behind the other.

    A FILTER is written as on its ring: 0.9 is a density, 8 or ND8 a factor. 3st are stops.
    """
    from tui.cli.reckon_words import filters_told

    _tell(*filters_told([(text, filter_given(text)) for text in filters]), as_json)


@command.command("shutter", epilog="Example: stopkeeper reckon shutter 1/50 --rate 24 --mains 50")
@click.argument("shutter", metavar="ANGLE|1/N")
@_RATE
@click.option("--mains", type=click.Choice(["50", "60"]), help="Mains of the lamps in Hz: is this angle steady?")
@_JSON
def shutter_(shutter: str, rate: float, mains: str | None, as_json: bool) -> None:
    """Shutter angle to time and back, at a frame rate.

    A bare number is an angle in degrees; 1/50 or 0.02s is a time.
    """
    from tui.cli.reckon_words import shutter_told

    seconds = exposure_time(shutter, above_zero(rate, "--rate"), "SHUTTER")
    _tell(*shutter_told(seconds, rate, None if mains is None else float(mains)), as_json)


@command.command("series", epilog="Example: stopkeeper reckon series aperture --step half")
@click.argument("kind", type=click.Choice(["aperture", "iso", "time"]))
@click.option("--step", type=click.Choice(["whole", "half", "third"]), default="third", show_default=True)
@_JSON
def series_(kind: str, step: str, as_json: bool) -> None:
    """The series of f and T numbers, of ISO, or of times: nominal names beside exact values."""
    from tui.cli.reckon_words import series_told

    _tell(*series_told(kind, {"whole": 1, "half": 2, "third": 3}[step]), as_json)


@command.command("between", epilog="Example: stopkeeper reckon between iso 800 2000")
@click.argument("kind", type=click.Choice(["aperture", "iso", "time", "distance", "key", "light"]))
@click.argument("before")
@click.argument("after")
@_JSON
def between_(kind: str, before: str, after: str, as_json: bool) -> None:
    """Stops of light gained from BEFORE to AFTER.

    Of two apertures, ISO values, times (1/50), distances of a small lamp (inverse square), key powers in percent on
    a linear dimmer, or amounts of light (a ratio).
    """
    from tui.cli.reckon_words import between_told

    _tell(*between_told(kind, before, after), as_json)


@command.command("light", epilog="Example: stopkeeper reckon light --t-stop 2.8 --iso 800 --rate 24")
@_T_STOP
@_ISO
@_RATE
@_SHUTTER
@click.option("--nd", type=float, default=0.0, metavar="STOPS", help="ND before the lens.")
@click.option("--have", type=float, metavar="LUX", help="Light that is there: how far off is it?")
@_JSON
def light_(t_stop: float, iso: float, rate: float, shutter: str, nd: float, have: float | None, as_json: bool) -> None:
    """Light on the subject that a setting needs, in lux and footcandles.

    fc = 25 T^2 / (ISO t), times the factor of the filter. For a subject of average reflectance.
    """
    from tui.cli.reckon_words import light_told

    seconds = exposure_time(shutter, above_zero(rate, "--rate"), "--shutter")
    lens, speed = above_zero(t_stop, "--t-stop"), above_zero(iso, "--iso")
    there = None if have is None else above_zero(have, "--have")
    _tell(*light_told(lens, speed, seconds, nd, there), as_json)


@command.command("sun", epilog="Example: stopkeeper reckon sun --t-stop 2.8 --iso 800")
@_T_STOP
@_ISO
@_RATE
@_SHUTTER
@_JSON
def sun_(t_stop: float, iso: float, rate: float, shutter: str, as_json: bool) -> None:
    """How much ND a sunny day needs, by the rule "f/16 at one over the ISO"."""
    from tui.cli.reckon_words import sun_told

    seconds = exposure_time(shutter, above_zero(rate, "--rate"), "--shutter")
    _tell(*sun_told(above_zero(t_stop, "--t-stop"), above_zero(iso, "--iso"), seconds), as_json)


@command.command("key", epilog="Example: stopkeeper reckon key --power 50 --distance 2 --stops 1")
@click.option("--power", type=float, metavar="PERCENT", help="Power that is set.")
@click.option("--to-power", type=float, metavar="PERCENT", help="Power it would have.")
@click.option("--distance", type=float, metavar="D", help="Distance from the sitter, in any one unit.")
@click.option("--to-distance", type=float, metavar="D", help="Distance it would have.")
@click.option("--stops", type=float, metavar="N", help="Stops that are wanted: which power, which distance?")
@click.option("--dimmer", metavar="DIAL:LIGHT,...", help="The dimmer's curve in percent, such as 0:0,50:25,100:100.")
@_JSON
def key_(as_json: bool, **given: Any) -> None:
    """A key light: stops of another power and distance, or the power and distance for so many stops.

    On a linear dimmer stops are log2 of the ratio of powers; distance goes by the inverse square, as of a small lamp:
    a large soft source falls off slower near it.
    """
    from tui.cli.reckon_words import key_told

    _tell(*key_told(key_asked(given)), as_json)
