"""Frames over the small picture: where sitters and spots are. Told apart without colour."""

from __future__ import annotations

from typing import NamedTuple

from analysis.model.reading import Reading
from analysis.model.sitter import Spot
from tui.arrange import Box
from tui.palette import Ink
from tui.sheet import Sheet


class Lines(NamedTuple):
    """The four corners of a frame, and the same in ASCII."""

    corners: str
    plain: str


SITTER, OTHER = Lines("╔╗╚╝", "####"), Lines("┌┐└┘", "++++")
SPOT, PICKED = Lines("╭╮╰╯", "/\\\\/"), Lines("┏┓┗┛", "@@@@")


class Part(NamedTuple):
    """A part of the picture in fractions of it."""

    x: float
    y: float
    width: float
    height: float


def part_of(box: tuple[int, int, int, int], active: tuple[int, int, int, int]) -> Part:
    """A box in picture pixels as a part of the active picture, which is what is drawn.

    >>> part_of((960, 270, 192, 108), (0, 0, 1920, 1080))
    Part(x=0.5, y=0.25, width=0.1, height=0.1)
    """
    x, y, width, height = active
    return Part((box[0] - x) / width, (box[1] - y) / height, box[2] / width, box[3] / height)


def cells_of(part: Part, place: Box) -> Box:
    """The cells of a part of a picture drawn at ``place``: at least one, and none outside."""
    left = min(max(round(part.x * place.width), 0), place.width - 1)
    top = min(max(round(part.y * place.height), 0), place.height - 1)
    right = min(max(round((part.x + part.width) * place.width), left + 1), place.width)
    bottom = min(max(round((part.y + part.height) * place.height), top + 1), place.height)
    return Box(place.x + left, place.y + top, right - left, bottom - top)


def put_frame(sheet: Sheet, box: Box, lines: Lines, name: str, ink: Ink) -> None:
    """The corners of a frame around a box of cells with a name in its upper edge; the picture stays in sight."""
    right, bottom = box.x + box.width - 1, box.y + box.height - 1
    if box.width < 2 or box.height < 2:
        sheet.put(box.x, box.y, name[:1], ink)
        return
    places = ((box.x, box.y), (right, box.y), (box.x, bottom), (right, bottom))
    for (x, y), corner in zip(places, lines.plain if sheet.ascii else lines.corners, strict=True):
        sheet.put(x, y, corner, ink)
    if box.width >= 3:  # a name that does not fit is told by its first letter
        sheet.put(box.x + 1, box.y, name if len(name) <= box.width - 2 else name[:1], ink)


def short_name(name: str) -> str:
    """A sitter's name where there is little room: their number.

    >>> short_name("sitter 2"), short_name("lamp")
    ('2', 'lamp')
    """
    return name.removeprefix("sitter ")


def put_frames(
    sheet: Sheet, place: Box, reading: Reading, spots: tuple[Spot, ...], picked: str | None = None
) -> None:
    """All sitters and spots over a picture drawn at ``place``; ``picked`` is the spot being changed."""
    for spot in spots:
        kind = PICKED if spot.name == picked else SPOT
        put_frame(sheet, cells_of(Part(spot.x, spot.y, spot.width, spot.height), place), kind, spot.name, Ink.SPOT)
    active = reading.picture.active
    for sitter in sorted(reading.sitters or (), key=lambda each: each.main):
        box = cells_of(part_of(sitter.box, active), place)
        name = sitter.name if box.width >= len(sitter.name) + 2 else short_name(sitter.name)
        put_frame(sheet, box, SITTER if sitter.main else OTHER, name, Ink.SITTER)
