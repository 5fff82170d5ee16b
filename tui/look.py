"""How the screen is to look, and what "auto" means on the terminal at hand. Imports no terminal library."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Literal

import msgspec

from analysis.model.errors import UsageError

if TYPE_CHECKING:
    from analysis.signal.tables import LookUpTable
else:
    LookUpTable = object

Glyphs = Literal["auto", "braille", "blocks", "shade", "ascii"]
Colours = Literal["auto", "full", "256", "16", "mono"]

MULTIPLEXER_CAP = 24_000.0
"""Bytes a second that are sent through tmux or screen when nobody asked for another cap.

A multiplexer answers our questions itself, so what lies behind it cannot be measured: the
flow is capped instead. 24 kB/s is a 200 kbit/s line.
"""


class Look(msgspec.Struct, frozen=True, kw_only=True):
    """Everything a person can choose about the screen.

    ``viewing`` is how the small picture is shown, ``table`` the look-up table for "table".
    ``rate`` is how often a second the screen looks at the watch, ``picture_rate`` how often
    the small picture changes at most, ``max_rate`` a cap in bytes a second (None: none,
    except inside a multiplexer). ``picture`` shows the small picture from the start.
    """

    glyphs: Glyphs = "auto"
    colours: Colours = "auto"
    rate: float = 8.0
    picture_rate: float = 2.0
    max_rate: float | None = None
    mouse: bool = True
    picture: bool = True
    viewing: Literal["auto", "signal", "table"] = "auto"
    table: LookUpTable | None = None

    def __post_init__(self) -> None:
        if not 0.5 <= self.rate <= 30:
            raise UsageError(f"{self.rate:g} updates a second is out of range", "rate", "choose 0.5 to 30")
        if not 0.1 <= self.picture_rate <= 30:
            raise UsageError(f"{self.picture_rate:g} pictures a second is out of range", "picture rate", "0.1 to 30")
        if self.max_rate is not None and self.max_rate < 1000:
            raise UsageError(f"{self.max_rate:g} bytes a second is too little", "max rate", "choose 1000 or more")


def resolve(look: Look, env: Mapping[str, str], encoding: str | None, is_tty: bool) -> Look:
    """``look`` with every "auto" decided for a terminal.

    ``encoding`` and ``is_tty`` are those of the stream the screen is drawn on, which is
    standard error. Raises UsageError where no screen can be drawn at all.

    >>> resolve(Look(), {"TERM": "xterm-256color"}, "utf-8", True).colours
    '256'
    >>> resolve(Look(), {"TERM": "linux"}, "utf-8", True).glyphs
    'ascii'
    """
    term = env.get("TERM", "")
    if not is_tty:
        raise UsageError("this is not a terminal", "screen", "use `stopkeeper read FEED` or `watch --plain`")
    if term in {"dumb", ""}:
        raise UsageError(f"terminal type {term or 'unset'!r} cannot draw", "screen", "use --plain, or set TERM")
    unicode = (encoding or "").lower().replace("-", "").replace("_", "") == "utf8"
    glyphs: Glyphs = look.glyphs
    if glyphs == "auto":
        glyphs = "braille" if unicode and term != "linux" else "ascii"
    elif not unicode:
        glyphs = "ascii"  # anything else would arrive as \u escapes
    cap = look.max_rate
    if cap is None and (env.get("TMUX") or env.get("STY")):
        cap = MULTIPLEXER_CAP
    colours = _colours(env, term) if look.colours == "auto" else look.colours
    return msgspec.structs.replace(look, glyphs=glyphs, colours=colours, max_rate=cap)


def _colours(env: Mapping[str, str], term: str) -> Colours:
    if env.get("NO_COLOR"):
        return "mono"
    if env.get("COLORTERM", "").lower() in {"truecolor", "24bit"}:
        return "full"
    if "256color" in term or "direct" in term:
        return "256"
    if term.startswith(("vt1", "vt2", "vt3", "vt5")):
        return "mono"
    return "16"
