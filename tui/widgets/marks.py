"""What is drawn over the luma trace: sitters, spots and the aim, with lines of their own, told apart without colour."""

from __future__ import annotations

from typing import NamedTuple

from analysis.exposure.aims import Band
from analysis.model.reading import Reading
from analysis.model.sitter import SitterReading, Spot
from tui.arrange import Box
from tui.palette import Ink
from tui.sheet import BLANK, Sheet
from tui.widgets.frames import part_of, short_name
from tui.widgets.scale import Scale


class Sides(NamedTuple):
    """Characters of a bracket: upper left and right, side, level left and right, lower left and right."""

    upper: str
    side: str
    level: str
    lower: str


_MAIN, _OTHER = Sides("╔╗", "║", "╠╣", "╚╝"), Sides("┌┐", "│", "├┤", "└┘")
_MAIN_ASCII, _OTHER_ASCII = Sides("##", "#", ">>", "##"), Sides("++", "|", ">>", "++")


def columns_of(start: float, size: float, columns: int) -> tuple[int, int]:
    """First and last plot column of a part of the picture, at least two and none outside.

    >>> columns_of(0.5, 0.1, 80), columns_of(0.99, 0.2, 80)
    ((40, 47), (78, 79))
    """
    first = min(max(round(start * columns), 0), columns - 2)
    return first, min(max(round((start + size) * columns) - 1, first + 1), columns - 1)


def put_sitters(sheet: Sheet, plot: Box, scale: Scale, reading: Reading) -> None:
    """Brackets at the sitters' columns from their low to their high level, notched at the level of the skin."""
    for sitter in sorted(reading.sitters or (), key=lambda each: each.main):
        if sitter.level is None or sitter.low is None or sitter.high is None:
            continue
        part = part_of(sitter.box, reading.picture.active)
        first, last = columns_of(part.x, part.width, plot.width)
        rows = [_row(scale, value) for value in (sitter.high, sitter.level, sitter.low)]
        _put_bracket(sheet, plot, (first, last), rows, sitter)


def _put_bracket(sheet: Sheet, plot: Box, ends: tuple[int, int], rows: list[int], sitter: SitterReading) -> None:
    top, level, bottom = rows
    sides = (_MAIN_ASCII if sitter.main else _OTHER_ASCII) if sheet.ascii else (_MAIN if sitter.main else _OTHER)
    for number, column in enumerate(ends):
        x = plot.x + column
        for row in range(top, bottom + 1):
            sheet.put(x, plot.y + row, sides.side, Ink.SITTER)
        if bottom > top:
            sheet.put(x, plot.y + top, sides.upper[number], Ink.SITTER)
            sheet.put(x, plot.y + bottom, sides.lower[number], Ink.SITTER)
        sheet.put(x, plot.y + level, sides.level[number], Ink.SITTER)
    name = short_name(sitter.name)
    if ends[1] - ends[0] > len(name) and top < level:
        sheet.put(plot.x + ends[0] + 1, plot.y + top, name, Ink.SITTER)


def put_spots(sheet: Sheet, plot: Box, scale: Scale, reading: Reading, spots: tuple[Spot, ...]) -> None:
    """A bar with ends for every spot, at its columns and level, with its name where that fits."""
    for spot in spots:
        read = (reading.spots or {}).get(spot.name)
        if read is None:
            continue
        first, last = columns_of(spot.x, spot.width, plot.width)
        y = plot.y + _row(scale, read.level)
        left, bar, right = ("[", "-", "]") if sheet.ascii else ("├", "╌", "┤")
        for x in range(plot.x + first + 1, plot.x + last):
            if sheet.codes[y, x] == BLANK:
                sheet.put(x, y, bar, Ink.SPOT)
        sheet.put(plot.x + first, y, left, Ink.SPOT)
        sheet.put(plot.x + last, y, right, Ink.SPOT)
        room = last - first - 1
        if room >= len(spot.name):
            sheet.put(plot.x + first + 1 + (room - len(spot.name)) // 2, y, spot.name, Ink.SPOT)


def put_aim(sheet: Sheet, plot: Box, scale: Scale, band: Band) -> None:
    """The aim as a bar beside the scale, as high as its band."""
    mark = "|" if sheet.ascii else "┃"
    for row in range(_row(scale, band.high), _row(scale, band.low) + 1):
        sheet.put(plot.x - 1, plot.y + row, mark, Ink.AIM)


def _row(scale: Scale, ire: float) -> int:
    return min(max(int(scale.position(ire)), 0), scale.rows - 1)
