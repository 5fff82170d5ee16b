"""Curves that an operator writes down: a parametric log or a table in TOML, a table in CSV.

A log, in TOML (``x`` is linear light, 0.18 for an 18 % card)::

    source = "where the numbers come from"
    signal = "level"   # the formula gives V: 0 at black, 1 at nominal white; or "code": a share of all codes

    [log]              # V = slope * log_base(gain * x + shift) + lift, from the cut up
    slope = 0.25
    gain = 5.0
    shift = 0.05
    lift = 0.4
    base = 10          # left out: 10

    [toe]              # V = slope * x + lift, below the cut
    cut = 0.01         # left out: 0
    slope = 5.4        # slope and lift left out: the tangent at the cut
    lift = 0.07

A table, in TOML: ``[table]`` with one list of light and one of signal, or in CSV two columns named in
the first line. Light is ``stops`` from an 18 % card, or ``light``, linear; signal is ``signal`` (V),
``ire``, or ``code8``, ``code10``, ``code12``, codes of narrow range. Lines that begin with # are
remarks; ``# source: ...`` names where the numbers come from.
"""

from __future__ import annotations

import difflib
import math
import tomllib
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np

from analysis.model.errors import SettingsError
from analysis.signal.curves.parametric import ParametricLog
from analysis.signal.curves.registry import Curve
from analysis.signal.curves.table import GREY, LightTable, StopsTable
from analysis.signal.levels import percent

FEWEST_ROWS, MOST_ROWS = 3, 4096
LONGEST_TEXT = 1 << 20
CODE_SCALE, CODE_OFFSET = 1023.0 / 876.0, -64.0 / 876.0
"""A share of all 10-bit codes to V in narrow range (ITU-R BT.709-6 item 3.4: black 64, white 940)."""
_LIGHT = {"stops": (-40.0, 40.0), "light": (-10.0, 1e6)}
_SIGNAL = ("signal", "ire", "code8", "code10", "code12")
_LOWEST_SIGNAL, _HIGHEST_SIGNAL = -2.0, 8.0
_LARGEST_NUMBER = 1e6


def parse_toml(text: str, name: str, where: str) -> Curve:
    """The curve ``name`` of a TOML text; ``where`` names the file in errors.

    Raises SettingsError in one line for anything that makes no rising curve.

    >>> wave = parse_toml("[log]\\nslope = 0.25\\ngain = 5\\nshift = 0.05\\nlift = 0.4", "wave", "wave.toml")
    >>> round(wave.middle, 4)
    0.3944
    """
    if len(text) > LONGEST_TEXT:
        raise SettingsError("too long for a curve", where, "check the path")
    try:
        raw = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        said = str(error) if isinstance(error, ValueError) else "nested too deeply"
        raise SettingsError(f"not valid TOML: {said}", where, "mend that line") from None
    _only(raw, ("source", "signal", "log", "toe", "table"), where, "")
    source = raw.get("source", "the operator's own")
    if not isinstance(source, str):
        raise SettingsError("source must be text", where, 'write source = "..."')
    if ("log" in raw) == ("table" in raw):
        raise SettingsError("a curve is either a log or a table", where, "write one of [log] and [table]")
    if "log" in raw:
        return _checked(_log(raw, where), name, source, where)
    for key in ("signal", "toe"):
        if key in raw:
            raise SettingsError(f"{key} belongs to a log", where, "a table names its columns instead")
    return _checked(_toml_table(raw["table"], where), name, source, where)


def parse_csv(text: str, name: str, where: str) -> Curve:
    """The curve ``name`` of a CSV text with a first line such as ``stops,ire``; errors name ``where`` and the line.

    >>> steps = parse_csv("# source: our own wedge\\nstops,ire\\n-1,30\\n0,40\\n1,50", "steps", "steps.csv")
    >>> steps.source, round(steps.middle, 3)
    ('our own wedge', 0.4)
    """
    if len(text) > LONGEST_TEXT:
        raise SettingsError("too long for a curve", where, "check the path")
    source, columns, rows = "the operator's own", None, []
    for number, line in enumerate(text.removeprefix("\ufeff").splitlines(), 1):
        content = line.strip()
        if content.startswith("#"):
            key, colon, value = content.lstrip("# ").partition(":")
            source = value.strip() if colon and key.strip() == "source" else source
        elif content and columns is None:
            columns = _columns(content, f"{where}: line {number}")
        elif content:
            rows.append(_row(content, f"{where}: line {number}"))
    if columns is None:
        raise SettingsError("there are no rows", where, "begin with a line such as stops,ire")
    light, signal = [row[0] for row in rows], [row[1] for row in rows]
    return _checked(_table(*columns, light, signal, where), name, source, where)


def _columns(line: str, where: str) -> tuple[str, str]:
    words = [word.strip().casefold() for word in line.split(",")]
    if len(words) == 2 and words[0] in _LIGHT and words[1] in _SIGNAL:
        return words[0], words[1]
    raise SettingsError(
        f'"{_short(line)}" names no two columns', where, f"use {' or '.join(_LIGHT)}, a comma, and {_listed(_SIGNAL)}"
    )


def _row(line: str, where: str) -> tuple[float, float]:
    cells = line.split(",")
    if len(cells) != 2:
        raise SettingsError(f'"{_short(line)}" is not two numbers', where, "write light, a comma, and signal")
    first, second = (_cell(cell.strip(), where) for cell in cells)
    return first, second


def _cell(text: str, where: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise SettingsError(f'"{_short(text)}" is not a number', where, "write it like 0.25")
    return value


def _log(raw: Mapping[str, Any], where: str) -> ParametricLog:
    unit = raw.get("signal", "level")
    if unit not in ("level", "code"):
        raise SettingsError(f"signal is {_short(str(unit))}", where, 'use "level" or "code"')
    log = _section(raw, "log", ("slope", "gain", "shift", "lift", "base"), ("slope", "gain", "shift", "lift"), where)
    toe = _section(raw, "toe", ("cut", "slope", "lift"), (), where) if "toe" in raw else {}
    if ("slope" in toe) != ("lift" in toe):
        raise SettingsError("the toe has only one of slope and lift", where, "give both, or neither for the tangent")
    scale, offset = (CODE_SCALE, CODE_OFFSET) if unit == "code" else (1.0, 0.0)
    given = {
        "slope": log["slope"] * scale, "lift": log["lift"] * scale + offset,
        "gain": log["gain"], "shift": log["shift"], "base": log.get("base", 10.0), "cut": toe.get("cut", 0.0),
    }  # fmt: skip
    try:
        if "slope" not in toe:
            return ParametricLog.with_tangent(**given)
        return ParametricLog(**given, toe_slope=toe["slope"] * scale, toe_lift=toe["lift"] * scale + offset)
    except ValueError as error:
        raise SettingsError(str(error), where, "check the numbers of [log] and [toe]") from None


def _section(
    raw: Mapping[str, Any], name: str, known: Iterable[str], needed: Iterable[str], where: str
) -> dict[str, float]:
    table = raw[name]
    if not isinstance(table, dict):
        raise SettingsError(f"{name} must be a table", where, f"write [{name}]")
    _only(table, known, where, f"{name}.")
    for key in needed:
        if key not in table:
            raise SettingsError(f"{name}.{key} is missing", where, f"a log needs {_listed(tuple(needed))}")
    return {key: _number(value, f"{name}.{key}", where) for key, value in table.items()}


def _toml_table(table: Any, where: str) -> StopsTable | LightTable:
    if not isinstance(table, dict):
        raise SettingsError("table must be a table", where, "write [table]")
    _only(table, (*_LIGHT, *_SIGNAL), where, "table.")
    light, signal = [key for key in table if key in _LIGHT], [key for key in table if key in _SIGNAL]
    if len(light) != 1 or len(signal) != 1:
        raise SettingsError(
            "the table needs one list of light and one of signal",
            where,
            f"use {' or '.join(_LIGHT)}, and one of {_listed(_SIGNAL)}",
        )
    lists = []
    for key in (light[0], signal[0]):
        if not isinstance(table[key], list):
            raise SettingsError(f"table.{key} must be a list", where, f"write {key} = [0.1, 0.2, 0.3]")
        lists.append([_number(value, f"table.{key}[{i}]", where) for i, value in enumerate(table[key])])
    if len(lists[0]) != len(lists[1]):
        said = f"table.{light[0]} has {len(lists[0])} numbers, table.{signal[0]} {len(lists[1])}"
        raise SettingsError(said, where, "give one signal for each light")
    return _table(light[0], signal[0], lists[0], lists[1], where)


def _table(
    light_by: str, signal_by: str, light: list[float], signal: list[float], where: str
) -> StopsTable | LightTable:
    if not FEWEST_ROWS <= len(light) <= MOST_ROWS:
        raise SettingsError(f"{len(light)} rows make no curve", where, f"use {FEWEST_ROWS} to {MOST_ROWS}")
    x, v = np.array(light), _signal(np.array(signal), signal_by)
    low, high = _LIGHT[light_by]
    for what, values, least, most in ((light_by, x, low, high), (signal_by, v, _LOWEST_SIGNAL, _HIGHEST_SIGNAL)):
        outside = np.flatnonzero((values < least) | (values > most))
        if outside.size:
            raise SettingsError(f"row {outside[0] + 1}: {what} is far from any picture", where, "check its unit")
        fallen = np.flatnonzero(np.diff(values) < 1e-9 * (1.0 if what == light_by else 0.01))
        if fallen.size:
            raise SettingsError(f"row {fallen[0] + 2}: {what} does not rise", where, "put the rows in rising order")
    return StopsTable(x, v) if light_by == "stops" else LightTable(x, v)


def _signal(values: np.ndarray[Any, np.dtype[np.float64]], unit: str) -> np.ndarray[Any, np.dtype[np.float64]]:
    if unit == "signal":
        return values
    if unit == "ire":
        return values / 100.0
    bits = int(unit.removeprefix("code"))
    return np.array([percent(code, bits, "narrow") / 100.0 for code in values])


def _checked(made: ParametricLog | StopsTable | LightTable, name: str, source: str, where: str) -> Curve:
    """The curve, if it puts an 18 % card somewhere inside a picture."""
    middle = float(made.encode(np.array(GREY)))
    if not -0.05 <= middle <= 1.1:
        raise SettingsError(
            f"it puts an 18 % card at {100 * middle:.4g} IRE", where, "check the units of light and signal"
        )
    return Curve(name=name, encode=made.encode, decode=made.decode, source=" ".join(source.split()))


def _number(value: Any, name: str, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise SettingsError(f"{name} is not a number", where, "write it like 0.25")
    if not abs(value) <= _LARGEST_NUMBER:
        raise SettingsError(f"{name} is no number that can be used", where, "write it like 0.25")
    return float(value)


def _only(table: Mapping[str, Any], known: Iterable[str], where: str, prefix: str) -> None:
    words = tuple(known)
    for key in table:
        if key not in words:
            near = difflib.get_close_matches(key, words, n=1, cutoff=0.5)
            hint = f'did you mean "{near[0]}"?' if near else f"known: {', '.join(words)}"
            raise SettingsError(f"unknown key {prefix}{_short(key)}", where, hint)


def _listed(words: tuple[str, ...]) -> str:
    return ", ".join(words[:-1]) + " or " + words[-1] if words[-1] in _SIGNAL else ", ".join(words)


def _short(text: str) -> str:
    line = " ".join("".join(char if char.isprintable() else " " for char in text).split())
    return line if len(line) <= 40 else line[:39] + "…"
