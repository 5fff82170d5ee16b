"""Holds and the distance from them as words."""

from __future__ import annotations

from analysis.exposure.aims import third_words, thirds
from analysis.model.controls import Controls
from analysis.model.hold import Apart, BackgroundBy, Hold
from analysis.model.instant import Instant
from tui.wording import share

NEAR = 1.0 / 6.0
"""Stops within which two pictures match."""
NO_MATTER = 0.05
"""Percent of the picture that makes no difference."""
OLD_SECONDS = 24 * 3600.0
"""A hold of another day is marked: the light may not be what it was."""

BACKGROUND_BY: dict[BackgroundBy, str] = {
    "spot": "background: the spots of that kind",
    "surroundings": "background: what lies around the sitters",
    "rest": "background: the picture less the faces",
}


def age(at: Instant, now: Instant) -> str:
    """How old a hold is, on the clock of people: sessions share no other.

    >>> [age(Instant(0.0, 0.0), Instant(9.0, utc)) for utc in (-5.0, 8.0, 130.0, 7300.0, 260000.0)]
    ['just now', 'just now', '2 min', '2 h', '3 days']
    """
    seconds = now.utc - at.utc
    if seconds < 60.0:
        return "just now"
    if seconds < 3600.0:
        return f"{seconds // 60:.0f} min"
    if seconds < OLD_SECONDS:
        return f"{seconds // 3600:.0f} h"
    days = int(seconds // OLD_SECONDS)
    return f"{days} day{'s' if days > 1 else ''}"


def called(name: str) -> str:
    """A hold in a sentence; a name that was made says already what it is.

    >>> called("bench"), called("hold 1 14.05")
    ('the hold bench', 'hold 1 14.05')
    """
    return name if name.casefold().startswith("hold ") else f"the hold {name}"


def is_old(at: Instant, now: Instant) -> bool:
    """Whether a hold is of another day."""
    return now.utc - at.utc >= OLD_SECONDS


def set_then(hold: Hold) -> str:
    """What was set when it was kept; empty where nobody had said."""
    return "" if hold.controls is None else controls_line(hold.controls)


def controls_line(now: Controls) -> str:
    """What was set, but for the shutter, which is a look.

    >>> controls_line(Controls(nd_stops=6, iso=800, t_stop=2.8))
    'ND 6, ISO 800, T2.8'
    """
    parts = [f"ND {now.nd_stops:g}", f"ISO {now.iso:g}"]
    if now.t_stop is not None:
        parts.append(f"T{now.t_stop:g}")
    if now.key_percent is not None:
        parts.append(f"key {now.key_percent:g} %")
    return ", ".join(parts)


def apart_figure(apart: Apart | None) -> str:
    """A distance in stops with one decimal; what the clip hides lies at least so far on its side.

    >>> apart_figure(Apart(stops=0.68)), apart_figure(Apart(stops=-1.2, at_least=True)), apart_figure(None)
    ('+0.7', '≤ -1.2', '–')
    >>> apart_figure(Apart(stops=-0.01))
    '0.0'
    """
    if apart is None:
        return "–"
    text = f"{apart.stops:+.1f}"
    text = "0.0" if text in {"+0.0", "-0.0"} else text
    return f"{'≥' if apart.stops >= 0.0 else '≤'} {text}" if apart.at_least else text


def apart_words(apart: Apart | None, more: str, less: str, whole: bool = True) -> str:
    """A distance in thirds and in the words for its two directions; shorter where there is less room.

    >>> apart_words(Apart(stops=0.68), "brighter", "darker")
    '2/3 stop brighter'
    >>> apart_words(Apart(stops=-1.3, at_least=True), "brighter", "darker", whole=False)
    '1 1/3 darker'
    >>> apart_words(Apart(stops=0.1), "brighter", "darker"), apart_words(None, "more", "less")
    ('alike', 'not told')
    """
    if apart is None:
        return "not told"
    count = thirds(apart.stops)
    if not count:
        return "alike"
    size = third_words(count)
    if not whole:
        size = size.removesuffix("s").removesuffix(" stop")
    least = "at least " if apart.at_least and whole else ""
    return f"{least}{size} {more if count > 0 else less}"


def points_words(points: float | None, what: str) -> tuple[str, str]:
    """A difference in percent of the picture as a figure and in words.

    >>> points_words(0.314, "clipped"), points_words(-12.0, "crushed"), points_words(0.0, "clipped")
    (('+0.31', 'more clipped'), ('-12.0', 'less crushed'), ('0', 'alike'))
    >>> points_words(0.03, "crushed"), points_words(0.008, "crushed"), points_words(None, "clipped")
    (('+0.03', 'alike'), ('0', 'alike'), ('–', 'not told'))
    """
    if points is None:
        return "–", "not told"
    if abs(points) < 0.01:
        return "0", "alike"
    sign, word = ("+", "more") if points > 0.0 else ("-", "less")
    return f"{sign}{share(abs(points))}", "alike" if abs(points) < NO_MATTER else f"{word} {what}"
