"""Placing and changing spots: each operation takes the spots there are and gives new ones.

Places and sizes are fractions of the active picture. Whatever is asked for, a spot stays inside the
picture and at least :data:`SMALLEST` wide and tall; names stay unique whatever their capitals.
"""

from __future__ import annotations

import re
from math import isfinite
from typing import get_args

import msgspec

from analysis.model.errors import UsageError
from analysis.model.sitter import Spot, SpotKind

Spots = tuple[Spot, ...]

SMALLEST = 0.01
"""Least width and height: 19 by 11 pixels of a 1080p picture."""
MOST_SPOTS = 16
LONGEST_NAME = 24
KINDS: tuple[SpotKind, ...] = get_args(SpotKind)

_NAME = re.compile(r"\w(?:[\w .'+-]*\w)?")
_OF_SITTERS = re.compile(r"sitter(?: \d+)?")


def place(spots: Spots, name: str | None, kind: SpotKind, x: float, y: float, width: float, height: float) -> Spots:
    """One spot more, with its upper left corner at ``x``, ``y``; without a name it gets a free one.

    Raises UsageError for a name that is taken or cannot be used, and where there are :data:`MOST_SPOTS` already.

    >>> place((), "window", "let go", 0.95, 0.1, 0.2, 0.3)[0].x
    0.8
    """
    if len(spots) >= MOST_SPOTS:
        raise UsageError(f"there are {MOST_SPOTS} spots already", "spots", "remove one first")
    word = free_name(spots) if name is None else _fresh(spots, name)
    return (*spots, _inside(Spot(name=word, kind=_kind(kind), x=x, y=y, width=width, height=height)))


def place_between(
    spots: Spots, name: str | None, kind: SpotKind, one: tuple[float, float], other: tuple[float, float]
) -> Spots:
    """One spot more, between two corners in any order: what dragging a mouse gives.

    >>> spot = place_between((), None, "watch", (0.5, 0.5), (0.25, 0.75))[0]
    >>> spot.x, spot.y, spot.width, spot.height
    (0.25, 0.5, 0.25, 0.25)
    """
    (x, right), (y, bottom) = ((min(pair), max(pair)) for pair in zip(one, other, strict=True))
    return place(spots, name, kind, x, y, right - x, bottom - y)


def move(spots: Spots, name: str, right: float, down: float) -> Spots:
    """The spot moved; at the edge of the picture it stops and keeps its size."""
    spot = find(spots, name)
    return _put(spots, spot, x=spot.x + right, y=spot.y + down)


def move_to(spots: Spots, name: str, x: float, y: float) -> Spots:
    """The spot with its centre at ``x``, ``y``, or as near as the picture allows."""
    spot = find(spots, name)
    return _put(spots, spot, x=x - spot.width / 2, y=y - spot.height / 2)


def grow(spots: Spots, name: str, wider: float, taller: float) -> Spots:
    """The spot made larger (smaller, where negative) about its centre.

    >>> grown = grow(place((), "lamp", "let go", 0.4, 0.4, 0.2, 0.2), "lamp", 0.1, -1.0)[0]
    >>> [round(v, 3) for v in (grown.x, grown.y, grown.width, grown.height)]
    [0.35, 0.495, 0.3, 0.01]
    """
    spot = find(spots, name)
    width, height = _size(spot.width + wider), _size(spot.height + taller)
    x, y = spot.x + (spot.width - width) / 2, spot.y + (spot.height - height) / 2
    return _put(spots, spot, x=x, y=y, width=width, height=height)


def rename(spots: Spots, name: str, new: str) -> Spots:
    """The spot under another name. Raises UsageError for one that is taken or cannot be used."""
    spot = find(spots, name)
    others = tuple(each for each in spots if each is not spot)
    return _put(spots, spot, name=_fresh(others, new))


def turn_into(spots: Spots, name: str, kind: SpotKind) -> Spots:
    """The spot as another kind. Raises UsageError for a kind that does not exist."""
    return _put(spots, find(spots, name), kind=_kind(kind))


def next_kind(kind: SpotKind) -> SpotKind:
    """The kind after this one, for a key that goes round.

    >>> next_kind("watch"), next_kind("background")
    ('let go', 'watch')
    """
    return KINDS[(KINDS.index(kind) + 1) % len(KINDS)]


def remove(spots: Spots, name: str) -> Spots:
    """All spots but this one."""
    gone = find(spots, name)
    return tuple(spot for spot in spots if spot is not gone)


def find(spots: Spots, name: str) -> Spot:
    """The spot of that name, whatever its capitals. Raises UsageError where there is none."""
    key = _key(name)
    for spot in spots:
        if _key(spot.name) == key:
            return spot
    known = ", ".join(spot.name for spot in spots)
    raise UsageError(
        "no such spot", printable(name.strip()) or "(no name)", f"known: {known}" if known else "place one first"
    )


def at(spots: Spots, x: float, y: float) -> Spot | None:
    """The spot that lies there, the smallest where several do: what a click picks."""
    hit = [s for s in spots if s.x <= x <= s.x + s.width and s.y <= y <= s.y + s.height]
    return min(hit, key=lambda spot: spot.width * spot.height, default=None)


def after(spots: Spots, name: str | None) -> Spot | None:
    """The spot after that one, round and round; the first after None, None where there are no spots."""
    if not spots:
        return None
    names = [spot.name for spot in spots]
    return spots[(names.index(name) + 1) % len(spots)] if name in names else spots[0]


def free_name(spots: Spots) -> str:
    """A name nobody has yet.

    >>> free_name(place((), "Spot 1", "watch", 0, 0, 1, 1))
    'spot 2'
    """
    taken = {_key(spot.name) for spot in spots}
    return next(name for number in range(1, len(spots) + 2) if (name := f"spot {number}") not in taken)


def usable_name(name: str) -> str:
    """The name without outer and doubled spaces. Raises UsageError for one that could not be typed or told apart.

    ``sitter`` and ``sitter 2`` belong to the sitters: an aim is found by the name alone.
    """
    word = " ".join(name.split())
    if not _NAME.fullmatch(word) or len(word) > LONGEST_NAME:
        raise UsageError(
            "not a usable name for a spot",
            printable(word) or "(no name)",
            f"use 1 to {LONGEST_NAME} letters, digits, spaces",
        )
    if _OF_SITTERS.fullmatch(_key(word)):
        raise UsageError("this name belongs to a sitter", word, "give the spot another one")
    return word


def printable(text: str) -> str:
    """The beginning of a text somebody gave, with nothing in it that a terminal would obey.

    >>> printable("red\x1b[31m door")
    'red?[31m door'
    """
    return "".join(char if char.isprintable() else "?" for char in text[:40])


def _fresh(spots: Spots, name: str) -> str:
    word = usable_name(name)
    if any(_key(spot.name) == _key(word) for spot in spots):
        raise UsageError("there is a spot of that name already", word, "choose another name")
    return word


def _key(name: str) -> str:
    return " ".join(name.split()).casefold()


def _kind(kind: SpotKind) -> SpotKind:
    if kind not in KINDS:
        raise UsageError("no such kind of spot", printable(str(kind)), f"use {', '.join(KINDS)}")
    return kind


def _put(spots: Spots, old: Spot, **changes: object) -> Spots:
    fresh = _inside(msgspec.structs.replace(old, **changes))
    return tuple(fresh if spot is old else spot for spot in spots)


def _inside(spot: Spot) -> Spot:
    """The spot within the picture: first its size, then its place."""
    if not all(isfinite(value) for value in (spot.x, spot.y, spot.width, spot.height)):
        raise UsageError("a spot needs a place and a size in numbers", spot.name, "place it again")
    width, height = _size(spot.width), _size(spot.height)
    x, y = min(max(spot.x, 0.0), 1.0 - width), min(max(spot.y, 0.0), 1.0 - height)
    return msgspec.structs.replace(spot, x=x, y=y, width=width, height=height)


def _size(value: float) -> float:
    return min(max(value, SMALLEST), 1.0)
