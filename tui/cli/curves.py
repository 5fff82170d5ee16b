"""``stopkeeper curves``: which transfer curves are known, what one does, and one more from a library."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
import msgspec

from tui.cli.say import say

if TYPE_CHECKING:
    from analysis.settings.curve_bake import Baked
    from analysis.settings.curve_files import CurveFile
    from analysis.signal.curves import Curve

_STOPS = range(-8, 9)


@click.group("curves", invoke_without_command=True, epilog="Example: stopkeeper curves show acescct")
@click.pass_context
def command(ctx: click.Context) -> None:
    """List transfer curves, show one in figures, or add one from a library. Alone, it lists them.

    A curve says how a camera writes light: built in, in a file of your own (a log by its numbers in
    TOML, a table in TOML or CSV, in curves/ beside your settings file), or measured by characterise.
    """
    if ctx.invoked_subcommand is None:
        ctx.invoke(list_)


@command.command("list", epilog="Example: stopkeeper curves list --json")
@click.option("--library", is_flag=True, help="The log curves that `curves add` could bake instead.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object a line for each curve.")
def list_(library: bool, as_json: bool) -> None:
    """List every curve that --curve takes, and every file that cannot be used."""
    if library:
        from analysis.settings.curve_bake import offered

        for name in offered():
            say(msgspec.json.encode({"name": name}) if as_json else name)
        return
    from analysis.settings.curve_files import adopt_curves
    from analysis.signal.curves import built_in, curve

    rows: list[dict[str, Any]] = [
        {"name": name, "from": "built in", "source": curve(name).source, "fault": None} for name in built_in()
    ]
    rows += [_row(file) for file in adopt_curves()]
    width = max(len(row["name"]) for row in rows)
    for row in rows:
        if as_json:
            say(msgspec.json.encode(row))
        elif row["fault"]:
            say(f"{row['name']:<{width}}  cannot be used: {row['fault']}")
        else:
            place = "" if row["from"] == "built in" else f"  ({row['from']})"
            say(f"{row['name']:<{width}}  {row['source']}{place}")


def _row(file: CurveFile) -> dict[str, Any]:
    return {
        "name": file.name,
        "from": str(file.path),
        "source": file.curve.source if file.curve else None,
        "fault": file.fault.line() if file.fault else None,
    }


@command.command("show", epilog="Example: stopkeeper curves show bt709 --json")
@click.argument("name")
@click.option("--json", "as_json", is_flag=True, help="One JSON object instead of a table.")
def show(name: str, as_json: bool) -> None:
    """Show curve NAME: the level of each stop from middle grey, in IRE and narrow-range codes."""
    from analysis.settings.curve_files import adopt_curves
    from analysis.signal.curves import curve

    adopt_curves()
    found = curve(name)
    rows = figures(found)
    if as_json:
        say(msgspec.json.encode({"name": found.name, "source": found.source, "steps": rows}))
        return
    say(f"{found.name}: {found.source}")
    say("stops      IRE   8 bit  10 bit   (from an 18 % card; codes of narrow range)")
    for row in rows:
        say(f"{row['stops']:+5d}  {row['ire']:7.2f}  {row['code8']:6d}  {row['code10']:6d}")


def figures(found: Curve) -> list[dict[str, Any]]:
    """Level and codes of whole stops from -8 to +8.

    >>> from analysis.signal.curves import curve
    >>> figures(curve("bt709"))[8]
    {'stops': 0, 'ire': 40.901, 'code8': 106, 'code10': 422}
    """
    import numpy as np

    from analysis.signal.curves import MIDDLE_GREY
    from analysis.signal.levels import code, quantise

    rows = []
    for stops in _STOPS:
        level = 100.0 * float(found.encode(np.array(MIDDLE_GREY * 2.0**stops)))
        codes = {f"code{bits}": quantise(code(level, bits, "narrow")) for bits in (8, 10)}
        rows.append({"stops": stops, "ire": round(level, 3), **codes})
    return rows


@command.command("add", epilog='Example: stopkeeper curves add "ERIMM RGB" --as wide-log')
@click.argument("name")
@click.option("--as", "own_name", metavar="NAME", help="Name to give it here; else the library's, in small letters.")
@click.option(
    "--signal",
    "unit",
    type=click.Choice(["auto", "code", "level"]),
    default="auto",
    show_default=True,
    help="What the library's number is: a share of all codes, as makers publish log curves, read in narrow range; "
    "or the level itself, which also serves a feed read in full range. auto: as the library says.",
)
@click.option("--replace", is_flag=True, help="Write over a curve of that name.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object instead of words.")
def add(name: str, own_name: str | None, unit: Any, replace: bool, as_json: bool) -> None:
    """Bake log curve NAME of the colour-science library into your configuration.

    The result is a small table: the library is needed now and never again. `curves list --library`
    lists the names.
    """
    from analysis.settings.curve_bake import bake
    from analysis.settings.curve_files import curve_folder
    from analysis.settings.text_files import write_text

    baked = bake(name, unit)
    word = _own(own_name or re.sub(r"[^A-Za-z0-9.]+", "-", baked.library_name).strip("-."))
    path = curve_folder() / f"{word}.csv"
    _refuse_taken(word, path, replace)
    write_text(path, baked.text)
    say(msgspec.json.encode(_told(baked, word, path)) if as_json else words(baked, word, path))


def _own(name: str) -> str:
    from analysis.model.errors import UsageError
    from analysis.settings.curve_files import checked_name
    from analysis.signal.curves import built_in

    word = checked_name(name, name)
    if word in built_in():
        raise UsageError("this curve is built in already", word, "use it as it is, or give another name with --as")
    return word


def _refuse_taken(word: str, path: Path, replace: bool) -> None:
    from analysis.model.errors import UsageError

    taken = next((other for ending in (".csv", ".toml") if (other := path.with_suffix(ending)).exists()), None)
    if taken is not None and (taken != path or not replace):
        todo = "add --replace, or give another name with --as" if taken == path else "give another name with --as"
        raise UsageError(f"you already have a curve {word}", str(taken), todo)


def _told(baked: Baked, word: str, path: Path) -> dict[str, Any]:
    return {
        "name": word, "path": str(path), "library_name": baked.library_name, "signal": baked.unit,
        "rows": baked.rows, "error": baked.error, "low": baked.low, "high": baked.high,
    }  # fmt: skip


def words(baked: Baked, word: str, path: Path) -> str:
    """What a person is told of a baked curve, in one line."""
    unit = "a share of all codes, read in narrow range" if baked.unit == "code" else "the level itself"
    return (
        f"{word}: {baked.rows} rows in {path}, within {100 * baked.error:.4f} IRE of the library"
        f" from {baked.low:+.1f} to {baked.high:+.1f} stops; its number was taken for {unit}"
    )
