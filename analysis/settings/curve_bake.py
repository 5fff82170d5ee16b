"""Bakes a log curve of the colour-science library into a small table, so that the watch never imports the library."""

from __future__ import annotations

import importlib
import inspect
import warnings
from collections.abc import Callable
from difflib import get_close_matches
from typing import Any, Literal

import msgspec
import numpy as np
import numpy.typing as npt

from analysis.model.errors import StopkeeperError, UsageError
from analysis.signal.curves.table import GREY
from analysis.signal.curves.written import CODE_OFFSET, CODE_SCALE, MOST_ROWS, parse_csv

INSTALL = "pip install 'stopkeeper[curves]'"
WITHIN = 1e-4
"""Signal by which a baked table may miss the library, from 8 stops below to 8 stops above an 18 % card."""
_SPLIT_AT = 3e-5
_STOPS = 8
_LOWEST_STOP, _HIGHEST_STOP, _PER_STOP = -14, 12, 128
_BELOW_BLACK = 0.05
_ENOUGH_SIGNAL = 1.2
_SHARE_OF_CODES = "out_normalised_code_value"
"""The library's own word for curves whose result is a share of all codes."""

Unit = Literal["auto", "code", "level"]
Doubles = npt.NDArray[np.float64]


class Baked(msgspec.Struct, frozen=True, kw_only=True):
    """A baked curve as CSV text: ``error`` is its largest miss of the library in signal, ``low`` to ``high`` stops.

    ``unit`` says what the library's number was taken for: ``code``, a share of all codes, turned into
    narrow-range signal, or ``level``, the signal itself.
    """

    library_name: str
    unit: Literal["code", "level"]
    text: str
    rows: int
    error: float
    low: float
    high: float


def offered() -> tuple[str, ...]:
    """Names of the log curves that the installed library has; raises StopkeeperError when it is not installed."""
    return tuple(_library()[0])


def bake(name: str, unit: Unit = "auto") -> Baked:
    """The library's log curve ``name`` as a table of light and signal.

    ``unit`` auto takes the library at its word: a curve whose function speaks of normalised code
    values is a share of all codes, every other one is the signal itself. Raises UsageError for an
    unknown name, StopkeeperError when the library is not installed or the curve is no rising one.
    """
    encodings, version = _library()
    known = {each.casefold(): each for each in encodings}
    found = known.get(name.strip().casefold())
    if found is None:
        near = get_close_matches(name.strip().casefold(), known, n=1, cutoff=0.5)
        todo = f'did you mean "{known[near[0]]}"?' if near else "stopkeeper curves list --library names them"
        raise UsageError("the library has no log curve of this name", name, todo)
    function = encodings[found]
    if unit == "auto":
        unit = "code" if _SHARE_OF_CODES in inspect.signature(function).parameters else "level"
    encode = _reader(function, unit)
    light, signal = _rising(encode, found)
    rows = _thin(light, signal)
    if len(rows) > MOST_ROWS:
        raise StopkeeperError("too crooked for a small table", found, "write it as a parametric log")
    meaning = "shares of all 10-bit codes, as narrow-range signal" if unit == "code" else "signal as the library has it"
    head = f"# source: colour-science {version}, log curve {found}; {meaning}\nlight,signal\n"
    text = head + "".join(f"{light[i]:.10g},{signal[i]:.10g}\n" for i in rows)
    low, high = _reach(light)
    return Baked(
        library_name=found, unit=unit, text=text, rows=len(rows), low=low, high=high,
        error=_miss(text, found, encode, low, high),
    )  # fmt: skip


def _library() -> tuple[dict[str, Callable[..., Any]], str]:
    try:
        with warnings.catch_warnings():
            # It warns of optional parts (plots, SciPy) that no log curve needs.
            warnings.simplefilter("ignore")
            models: Any = importlib.import_module("colour.models")
            version: str = importlib.import_module("colour").__version__
    except ImportError:
        raise StopkeeperError(
            "the colour-science library is not installed", todo=f"install it with {INSTALL}"
        ) from None
    encodings: dict[str, Callable[..., Any]] = {str(key): models.LOG_ENCODINGS[key] for key in models.LOG_ENCODINGS}
    return encodings, version


def _reader(function: Callable[..., Any], unit: Unit) -> Callable[[Doubles], Doubles]:
    scale, offset = (CODE_SCALE, CODE_OFFSET) if unit == "code" else (1.0, 0.0)

    def encode(light: Doubles) -> Doubles:
        with np.errstate(all="ignore"), warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return np.asarray(function(light), np.float64) * scale + offset

    return encode


def _rising(encode: Callable[[Doubles], Doubles], name: str) -> tuple[Doubles, Doubles]:
    """Light and signal on a fine grid, cut to the stretch around middle grey where the signal rises."""
    stops = np.arange(_LOWEST_STOP * _PER_STOP, _HIGHEST_STOP * _PER_STOP + 1) / _PER_STOP
    light = np.concatenate((np.linspace(-_BELOW_BLACK, 0.0, 256), GREY * 2.0**stops))
    signal = encode(light)
    middle = int(np.argmin(np.abs(light - GREY)))
    whole = np.flatnonzero(~np.isfinite(signal))
    first = int(whole[whole < middle].max(initial=-1)) + 1
    last = int(whole[whole > middle].min(initial=len(signal))) - 1
    kept = first + np.flatnonzero(_climbs(signal[first : last + 1]))
    # A stair or a dip of rounded constants is narrow; where the curve stands still for long it has ended.
    ends = np.flatnonzero(np.diff(kept) > _PER_STOP // 2)
    here = int(np.searchsorted(kept, middle))
    low, high = ends[ends < here].max(initial=-1) + 1, ends[ends >= here].min(initial=len(kept) - 1)
    kept = kept[low : high + 1]
    enough = np.flatnonzero((light[kept] > GREY * 2.0**_STOPS * 1.001) & (signal[kept] > _ENOUGH_SIGNAL))
    kept = kept[: enough[0] + 1] if enough.size else kept
    if len(kept) < _PER_STOP or not light[kept[0]] < GREY < light[kept[-1]]:
        raise StopkeeperError("the library's curve does not rise around middle grey", name, "choose another")
    return light[kept], signal[kept]


def _climbs(signal: Doubles) -> npt.NDArray[np.bool_]:
    """Where the signal is higher than ever before."""
    before = np.concatenate(([-np.inf], np.maximum.accumulate(signal)[:-1]))
    return signal > before + 1e-9


def _thin(light: Doubles, signal: Doubles) -> list[int]:
    """Rows that are needed for straight lines to stay close: split where a line is worst, until none is bad."""
    keep, open_parts = {0, len(light) - 1}, [(0, len(light) - 1)]
    while open_parts:
        first, last = open_parts.pop()
        if last - first < 2:
            continue
        inside = slice(first + 1, last)
        share = (light[inside] - light[first]) / (light[last] - light[first])
        gap = np.abs(signal[first] + share * (signal[last] - signal[first]) - signal[inside])
        worst = first + 1 + int(gap.argmax())
        if gap.max() > _SPLIT_AT:
            keep.add(worst)
            open_parts += [(first, worst), (worst, last)]
    return sorted(keep)


def _reach(light: Doubles) -> tuple[float, float]:
    low = -float(_STOPS) if light[0] <= 0.0 else max(-float(_STOPS), float(np.log2(light[0] / GREY)))
    return low, min(float(_STOPS), float(np.log2(light[-1] / GREY)))


def _miss(text: str, name: str, encode: Callable[[Doubles], Doubles], low: float, high: float) -> float:
    light = GREY * 2.0 ** np.linspace(low, high, 10_007)
    table = parse_csv(text, "baked", name)
    return float(np.abs(table.encode(light) - encode(light)).max())
