"""What the words of ``stopkeeper reckon`` mean: filters, times, powers. Raises UsageError in one line."""

from __future__ import annotations

import math
import re
from itertools import pairwise
from typing import Any

import msgspec

from analysis.exposure.arithmetic import shutter_seconds
from analysis.exposure.series import filter_stops
from analysis.model.errors import UsageError

_STOPS = re.compile(r"([+-]?\d+(?:\.\d+)?)\s*(?:st|stops?)", re.IGNORECASE)
MOST_STOPS = 40.0


class KeyAsked(msgspec.Struct, frozen=True, kw_only=True):
    """What is asked of a key: powers in percent, distances in any one unit, stops that are wanted, a dimmer."""

    power: float | None = None
    to_power: float | None = None
    distance: float | None = None
    to_distance: float | None = None
    stops: float | None = None
    dimmer: tuple[tuple[float, float], ...] | None = None


def above_zero(value: float, where: str) -> float:
    """A number above zero that is one."""
    if not (math.isfinite(value) and 0.0 < value <= 1e9):
        raise UsageError(f"{value:g} cannot be", where, "give a number above zero")
    return value


def number(text: str, where: str) -> float:
    """A number above zero, from text; a leading f/ or T and a percent sign are passed over.

    >>> number("T2.8", "x"), number("50%", "x")
    (2.8, 50.0)
    """
    word = text.strip().removeprefix("f/").removeprefix("T").removeprefix("t").removesuffix("%")
    try:
        value = float(word)
    except ValueError:
        raise UsageError(f"{text} is not a number", where, "give a number such as 2.8") from None
    return above_zero(value, where)


def filter_given(text: str) -> float:
    """Stops of a filter: a density with its point, a factor without one, or stops said as such.

    >>> round(filter_given("0.9"), 2), filter_given("ND8"), filter_given("3st")
    (2.99, 3.0, 3.0)
    """
    in_stops = _STOPS.fullmatch(text.strip())
    try:
        stops = float(in_stops[1]) if in_stops else filter_stops(text)
    except ValueError:
        stops = math.nan
    if not 0.0 <= stops <= MOST_STOPS:
        raise UsageError(f"{text} is not a filter", "FILTER", "write a density as 0.9, a factor as 8 or stops as 3st")
    return stops


def time_given(text: str, where: str) -> float:
    """Seconds, from ``1/50`` or ``0.02s``.

    >>> time_given("1/50", "x"), time_given("0.02s", "x")
    (0.02, 0.02)
    """
    top, slash, bottom = text.strip().removesuffix("s").partition("/")
    try:
        return above_zero(float(top) / float(bottom) if slash else float(top), where)
    except (ValueError, ZeroDivisionError):
        raise UsageError(f"{text} is not a time", where, "write 1/50 or 0.02s") from None


def exposure_time(text: str, rate: float, where: str) -> float:
    """Seconds of a shutter that is said as an angle (a bare number) or as a time.

    >>> exposure_time("180", 25.0, "x"), exposure_time("1/50", 25.0, "x")
    (0.02, 0.02)
    """
    if "/" in text or text.strip().endswith("s"):
        return time_given(text, where)
    try:
        angle = float(text.strip().removesuffix("degrees"))
    except ValueError:
        raise UsageError(f"{text} is not a shutter", where, "write degrees as 180, or a time as 1/50") from None
    if not 0.0 < angle <= 360.0:
        raise UsageError(f"{angle:g} degrees cannot be", where, "use 0.1 to 360, or a time such as 1/50")
    return shutter_seconds(angle, rate)


def key_asked(given: dict[str, Any]) -> KeyAsked:
    """What the options of ``key`` ask."""
    said = {name: value for name, value in given.items() if value is not None}
    for name, value in said.items():
        if name == "stops":
            if not abs(value) <= MOST_STOPS:
                raise UsageError(f"{value:g} stops cannot be", "--stops", f"use -{MOST_STOPS:g} to {MOST_STOPS:g}")
        elif name != "dimmer":
            above_zero(value, f"--{name.replace('_', '-')}")
    for name in ("power", "to_power"):
        if said.get(name, 0.0) > 100.0:
            option = f"--{name.replace('_', '-')}"
            raise UsageError(f"{said[name]:g} percent is more than there is", option, "use 1 to 100")
    pairs = [("power", "to_power"), ("distance", "to_distance")]
    for before, after in pairs:
        if after in said and before not in said:
            raise UsageError(f"--{after.replace('_', '-')} needs to know from where", "key", f"give --{before} too")
    whole = any(before in said and after in said for before, after in pairs)
    if "stops" in said and whole:
        raise UsageError("--stops and where it would be say the same", "key", "keep one of them")
    if "stops" not in said and not whole:
        raise UsageError("nothing to reckon", "key", "give --stops, or where it is and where it would be")
    if "stops" in said and not {"power", "distance"} & set(said):
        raise UsageError("stops from where?", "key", "give --power or --distance")
    if "dimmer" in said:
        said["dimmer"] = _dimmer(said["dimmer"])
    return KeyAsked(**said)


def _dimmer(text: str) -> tuple[tuple[float, float], ...]:
    try:
        points = tuple((float(dial), float(light)) for dial, light in (each.split(":") for each in text.split(",")))
    except ValueError:
        points = ()
    rising = all(a[0] < b[0] and a[1] < b[1] for a, b in pairwise(points))
    if len(points) < 2 or not rising or points[0][0] < 0.0 or points[0][1] < 0.0 or points[-1][0] > 100.0:
        raise UsageError(f"{text} is not a dimmer", "--dimmer", "write rising pairs such as 0:0,50:25,100:100")
    return points
