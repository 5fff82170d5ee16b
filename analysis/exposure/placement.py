"""Every sitter and spot of a reading held against its aim: what a screen draws and an alarm judges."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal

import msgspec

from analysis.exposure.aims import Band, Distance, aim_for, band, distance
from analysis.measure.zones import Aimed, Free
from analysis.model.reading import Reading
from analysis.model.sitter import Aim, Spot
from analysis.signal.curves import Curve


class Placement(msgspec.Struct, frozen=True, kw_only=True):
    """A sitter or spot and how it lies.

    ``x``, ``y``, ``width``, ``height`` are fractions of the active picture. ``level`` is IRE, ``stops`` from
    middle grey, None where nothing was measured. ``aim``, its ``band`` in IRE and the ``distance`` to it are None
    where it has none, or where the two cannot be compared.
    """

    name: str
    what: Literal["sitter", "spot"]
    main: bool
    may_clip: bool
    x: float
    y: float
    width: float
    height: float
    level: float | None
    stops: float | None
    aim: Aim | None
    band: Band | None
    distance: Distance | None


def placements(
    reading: Reading, spots: Sequence[Spot], aims: Iterable[Aim], curve: Curve | None
) -> tuple[Placement, ...]:
    """All sitters of a reading, the main one first, then all spots in their order.

    A spot that was not read yet, and a sitter that is too dark or clipped to be read, is there without a level.
    """
    known = tuple(aims)
    return (*_sitters(reading, known, curve), *_spots(reading, spots, known, curve))


def _sitters(reading: Reading, aims: tuple[Aim, ...], curve: Curve | None) -> list[Placement]:
    left, top, wide, high = reading.picture.active
    found = []
    for sitter in sorted(reading.sitters or (), key=lambda each: not each.main):
        x, y, width, height = sitter.box
        area = ((x - left) / wide, (y - top) / high, width / wide, height / high)
        aim = aim_for(sitter.name, aims)
        values = (sitter.level, sitter.stops, sitter.clipped or 0.0)
        found.append(_placed(sitter.name, "sitter", sitter.main, False, area, values, aim, curve))
    return found


def _spots(reading: Reading, spots: Sequence[Spot], aims: tuple[Aim, ...], curve: Curve | None) -> list[Placement]:
    found = []
    for spot in spots:
        read = (reading.spots or {}).get(spot.name)
        area = (spot.x, spot.y, spot.width, spot.height)
        values = (read.level, read.stops, read.clipped) if read is not None else (None, None, 0.0)
        aim = aim_for(spot.name, aims)
        found.append(_placed(spot.name, "spot", False, spot.kind == "let go", area, values, aim, curve))
    return found


def _placed(
    name: str,
    what: Literal["sitter", "spot"],
    main: bool,
    may_clip: bool,
    area: tuple[float, float, float, float],
    values: tuple[float | None, float | None, float],
    aim: Aim | None,
    curve: Curve | None,
) -> Placement:
    level, stops, clipped = values
    apart = None
    if aim is not None and level is not None:
        apart = distance(aim, level, curve, stops, clipped)
    return Placement(
        name=name,
        what=what,
        main=main,
        may_clip=may_clip,
        x=area[0],
        y=area[1],
        width=area[2],
        height=area[3],
        level=level,
        stops=stops,
        aim=aim,
        band=band(aim, curve) if aim is not None else None,
        distance=apart,
    )


def aimed_areas(placed: Iterable[Placement]) -> tuple[tuple[Aimed, ...], tuple[Free, ...]]:
    """The areas that have an aim, and those that may clip: for the zone map of what is outside the aims."""
    aimed, free = [], []
    for each in placed:
        if each.band is not None:
            edges = each.band
            aimed.append(
                Aimed(x=each.x, y=each.y, width=each.width, height=each.height, low=edges.low, high=edges.high)
            )
        if each.may_clip:
            free.append(Free(x=each.x, y=each.y, width=each.width, height=each.height))
    return tuple(aimed), tuple(free)
