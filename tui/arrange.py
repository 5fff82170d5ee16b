"""Where each panel lies on a terminal of a given size. Pure arithmetic on cells."""

from __future__ import annotations

from typing import Literal, NamedTuple

TraceKind = Literal["luma", "rgb", "both"]
PanelName = Literal["status", "trace", "parts", "numbers", "picture", "stops", "timeline", "alarms", "keys", "mini"]
Large = Literal["corner", "main", "full"]
"""Where the small picture goes: its corner, the trace's place (the trace takes the corner), nearly everything."""

SMALLEST = (60, 18)
"""Terminals narrower or lower than this get the few lines of the mini view."""


class Box(NamedTuple):
    """A rectangle of cells."""

    x: int
    y: int
    width: int
    height: int


class Choice(NamedTuple):
    """What the operator has chosen to see. ``trace`` and ``stops`` are None for what suits the size."""

    trace: TraceKind | None = None
    picture: bool = True
    wide: bool = False
    large: Large = "corner"
    stops: bool | None = None


def stops_shown(width: int, height: int, choice: Choice) -> bool:
    """Whether the picture in stops has a panel: where there is room for it, and where it was asked for."""
    return _has_room_for_stops(width, height) if choice.stops is None else choice.stops


def _has_room_for_stops(width: int, height: int) -> bool:
    return width >= 170 and height >= 50


def trace_kind(width: int, height: int, choice: Choice) -> TraceKind:
    """The trace that is shown: the chosen one, or luma and R G B together where they fit side by side."""
    if choice.trace is not None:
        return choice.trace
    return "both" if width >= 160 and height >= 30 else "luma"


def arrange(width: int, height: int, choice: Choice) -> dict[PanelName, Box]:
    """The box of every visible panel; boxes never overlap and never leave the terminal.

    >>> sorted(arrange(80, 24, Choice()))
    ['alarms', 'keys', 'numbers', 'picture', 'status', 'timeline', 'trace']
    >>> arrange(40, 12, Choice())
    {'mini': Box(x=0, y=0, width=40, height=12)}
    """
    if width <= 0 or height <= 0:
        return {}
    if width < SMALLEST[0] or height < SMALLEST[1]:
        return {"mini": Box(0, 0, width, height)}
    boxes: dict[PanelName, Box] = {"status": Box(0, 0, width, 2), "keys": Box(0, height - 1, width, 1)}
    roomy = height >= 32
    top = 3 if roomy else 2
    bottom = height - (2 if roomy else 1)
    large = choice.large if choice.picture else "corner"
    if choice.wide or large == "full":
        alarms = 4 if roomy else 2
        boxes["alarms"] = Box(0, bottom - alarms, width, alarms)
        boxes["numbers"] = Box(0, top, width, 1)
        top += 1 + roomy
        rest = Box(0, top, width, bottom - alarms - top - roomy)
        if large == "full":
            boxes["picture"] = rest
            return boxes
        return boxes | _traces(rest, width, height, choice)
    side = 27 if width < 110 else 35 if width < 170 else 46
    timeline, alarms = (4, 4) if height < 26 else (5, 4) if not roomy else (7, 5) if height < 50 else (10, 7)
    low = bottom - timeline - alarms - roomy
    main = Box(0, top, width - side - 2, low - top - roomy)
    boxes["numbers"] = Box(width - side, top, side, main.height)
    corner = Box(width - side, low, side, bottom - low)
    left = width
    stops = stops_shown(width, height, choice)
    apart = stops and _has_room_for_stops(width, height)
    if stops and not apart:
        boxes["stops"], left = corner, main.width
    elif choice.picture:
        boxes["picture"], left = corner, main.width
    if apart:
        left -= side + 2
        boxes["stops"] = corner._replace(x=left + 2)
    boxes["timeline"] = Box(0, low, left, timeline)
    boxes["alarms"] = Box(0, bottom - alarms, left, alarms)
    if large == "corner":
        return boxes | _traces(main, width, height, choice)
    boxes["picture"] = main
    if "stops" not in boxes or apart:
        small: PanelName = "parts" if choice.trace == "rgb" else "trace"
        boxes[small] = corner
    return boxes


def _traces(area: Box, width: int, height: int, choice: Choice) -> dict[PanelName, Box]:
    kind = trace_kind(width, height, choice)
    if kind == "luma":
        return {"trace": area}
    if kind == "rgb":
        return {"parts": area}
    if area.width >= 100:
        half = (area.width - 2) // 2
        return {
            "trace": area._replace(width=half),
            "parts": area._replace(x=area.x + half + 2, width=area.width - half - 2),
        }
    half = area.height // 2
    return {"trace": area._replace(height=half), "parts": area._replace(y=area.y + half, height=area.height - half)}
