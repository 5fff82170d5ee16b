"""A match as lines for a person, and as the JSON object for a program."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Any

import msgspec

from analysis.exposure.match_words import far
from analysis.model.frame import Encoding
from analysis.model.hold import Apart, BackgroundBy, Difference
from analysis.model.plan import Plan, Planned
from tui.cli.match_side import Side
from tui.cli.read import rounded
from tui.hold_words import controls_line

_WIDE = 100
_NAMES = ("sitter", "background", "highlights", "middle", "ratio", "side_ratio")
_BY: dict[BackgroundBy, str] = {
    "spot": "the spots of kind background",
    "surroundings": "the picture around the sitters",
    "rest": "the whole picture less the faces",
}
LABELS = {
    "sitter": "skin",
    "background": "background",
    "highlights": "highlights",
    "middle": "middle",
    "ratio": "ratio, skin over background",
    "side_ratio": "sides, left over right",
}
"""What each part of a difference is called."""


def words(
    hold: Side,
    other: Side,
    found: Difference,
    moves: Sequence[str],
    planned: Planned | None,
    trouble: str | None,
    cautions: Sequence[str],
) -> list[str]:
    """The match for a person: who is compared, how far apart they are, and what to move."""
    lines = [_who("A, to be matched", hold), _who("B, to be moved", other), ""]
    lines.append(f"{'stops':30}{'A':>8}{'B':>8}{'B - A':>8}")
    lines += [_row(name, getattr(found, name)) for name in _NAMES]
    for name in ("clipped", "crushed"):
        points = getattr(found, name)
        if points is not None:
            then, now = (getattr(side.light.reading, name).any for side in (hold, other))
            lines.append(f"{name + ', % of the picture':30}{then:8.2f}{now:8.2f}{_signed(points):>8}")
    if found.background_by is not None:
        lines.append(f"The background is read from {_BY[found.background_by]}.")
    lines += [f"Not told: {_of_a(note)}." for note in found.notes]
    lines += ["", "To match B to A:", *(f"  {_of_a(move)}" for move in moves)]
    if planned is not None:
        lines += ["", "With the controls as they are set:"]
        if planned.missing:
            lines.append(f"  No way reaches it: {planned.missing}.")
        for number, way in enumerate(planned.plans, 1):
            lines += _way("nearest" if planned.missing else f"{number}", way)
    if trouble is not None:
        lines += ["", f"No plan: {trouble}."]
    for caution in cautions:
        lines += ["", *textwrap.wrap(f"Caution: {_of_a(caution)}", _WIDE)]
    return lines


def _who(what: str, side: Side) -> str:
    line = f"{what}: {side.label} ({_encoding(side.light.reading.encoding, side)})"
    return line if side.controls is None else f"{line}, set to {controls_line(side.controls)}"


def _encoding(code: Encoding, side: Side) -> str:
    curve = side.light.curve
    return f"{code.bits} bit, {code.range} range, {'no curve' if curve is None else curve.name}"


def _row(name: str, apart: Apart | None) -> str:
    """One line of the table.

    >>> _row("sitter", Apart(stops=0.68, live=1.3, hold=0.62))
    'skin                             +0.62   +1.30   +0.68  2/3 stop over'
    >>> _row("highlights", None)
    'highlights                           -       -       -  not told'
    """
    if apart is None:
        return f"{LABELS[name]:30}{'-':>8}{'-':>8}{'-':>8}  {far(apart)}"
    then, now = (f"{value:+.2f}" if value is not None else "-" for value in (apart.hold, apart.live))
    return f"{LABELS[name]:30}{then:>8}{now:>8}{_signed(apart.stops):>8}  {far(apart)}"


def _signed(value: float) -> str:
    """A difference with its sign, none where it is nothing.

    >>> _signed(0.314), _signed(-0.002)
    ('+0.31', '0.00')
    """
    text = f"{value:+.2f}"
    return text[1:] if float(text) == 0.0 else text


def _of_a(text: str) -> str:
    """What is said of a hold, said of A: that is what a match of two pictures calls it.

    >>> _of_a("close 1 stop on everything: that brings the skin to the hold")
    'close 1 stop on everything: that brings the skin to A'
    """
    return text.replace("the hold", "A").replace("The hold", "A")


def _way(head: str, way: Plan) -> list[str]:
    first, *rest = way.moves
    lines = [f"  {head}. {first}", *(f"     {move}" for move in rest)]
    return lines + textwrap.wrap(_of_a(way.reason), _WIDE, initial_indent="     ", subsequent_indent="     ")


def as_object(
    hold: Side,
    other: Side,
    found: Difference,
    moves: Sequence[str],
    planned: Planned | None,
    trouble: str | None,
    cautions: Sequence[str],
) -> dict[str, Any]:
    """The match as its JSON object.

    ``a`` and ``b`` say what was compared: its name, bits, range, curve, and the main sitter's level and stops.
    ``difference`` is B minus A in stops (points of percent for ``clipped`` and ``crushed``), each part with what A
    (``hold``) and B (``live``) read and whether it is ``at_least``; null for what was not told, and ``notes`` why.
    ``moves`` are lines of words; ``plans`` the ways with the controls that were given, with ``missing`` where none
    reaches; null without controls. ``trouble`` says why there is no plan where one was asked for.
    """
    plans = None
    if planned is not None:
        plans = [
            {
                "controls": msgspec.to_builtins(way.controls),
                "moves": list(way.moves),
                "predicted": msgspec.to_builtins(way.predicted),
                "reason": way.reason,
            }
            for way in planned.plans
        ]
    whole = {
        "a": _side_object(hold),
        "b": _side_object(other),
        "difference": msgspec.to_builtins(found),
        "moves": list(moves),
        "plans": plans,
        "missing": None if planned is None else planned.missing,
        "trouble": trouble,
        "cautions": list(cautions),
    }
    made = rounded(whole)
    assert isinstance(made, dict)
    return made


def _side_object(side: Side) -> dict[str, Any]:
    code, skin, sitter = side.light.reading.encoding, side.light.skin(), side.light.main()
    curve = side.light.curve
    return {
        "name": side.label,
        "bits": code.bits,
        "range": code.range,
        "curve": None if curve is None else curve.name,
        "sitter_level": None if sitter is None else sitter.level,
        "sitter_stops": None if skin is None else skin.stops,
    }
