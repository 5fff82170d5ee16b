"""Takes a picture apart into plain arrays of codes, a tile at a time, without fresh memory.

A *group* is the luma pixels that share one chroma sample: 2x1 in 4:2:2, 2x2 in 4:2:0. Luma is handed
out as one array per place in the group, each the size of the chroma arrays, so that chroma never has
to be enlarged: every luma sample meets exactly the chroma sample that belongs to its group.
"""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from analysis.model.frame import Plane
from analysis.signal.layouts import Layout

_TILE_BYTES = 200 * 1024
"""Size of one working array: the ten or so in use at a time stay in a second-level cache of 2 MB (measured:
a whole 1080p frame at once takes 1.5 times as long in 8 bit and twice as long in 10 bit)."""

_TILES_ACROSS, _WIDE = 3, 256
"""Tiles nearer to square hold fewer kinds of light each, so that more of them need no counting."""

Area = tuple[int, int, int, int]
"""x, y, width, height."""


class Tile:
    """The codes of one tile: ``luma`` per place in the group, ``colour`` Cb and Cr or R', G' and B'.

    ``whole`` are arrays that together hold every luma sample exactly once. ``place`` is where the
    tile lies within the area, in groups.
    """

    __slots__ = ("colour", "luma", "place", "whole")

    def __init__(self, place: Area, luma: list[Plane], colour: list[Plane], whole: list[Plane]) -> None:
        self.place = place
        self.luma = luma
        self.colour = colour
        self.whole = whole


class Unpacker:
    """Takes pictures of one layout and size apart; its arrays are used again for every tile.

    ``wide`` hands out uint16 whatever the depth, for arithmetic that does not fit into 8 bits.
    """

    def __init__(self, how: Layout, width: int, height: int, wide: bool = False) -> None:
        self.how = how
        self.width, self.height = width, height
        self.across, self.down = 1 << how.log2_width, 1 << how.log2_height
        self.columns, self.rows = -(-width >> how.log2_width), -(-height >> how.log2_height)
        self.dtype: npt.DTypeLike = np.uint16 if wide else how.dtype
        self._widen = wide and how.dtype == np.uint8
        self._tile_columns = -(-self.columns // _TILES_ACROSS) if self.columns > _WIDE else self.columns
        per_row = self._tile_columns * np.dtype(self.dtype).itemsize
        self._tile_rows = min(self.rows, max(4, _TILE_BYTES // per_row))
        self._kept: dict[str, npt.NDArray[Any]] = {}

    def places(self, area: Area) -> list[Area]:
        """The tiles of an area given in groups; their x and y count from its corner."""
        return [
            (left, top, min(self._tile_columns, area[2] - left), min(self._tile_rows, area[3] - top))
            for top in range(0, area[3], self._tile_rows)
            for left in range(0, area[2], self._tile_columns)
        ]

    def tile(self, planes: tuple[Plane, ...], area: Area, place: Area) -> Tile:
        """The codes of the tile at ``place`` of ``area``, both in groups; good until the next is asked for."""
        rows = slice(area[1] + place[1], area[1] + place[1] + place[3])
        columns = slice(area[0] + place[0], area[0] + place[0] + place[2])
        if self.how.kind != "ycbcr":
            return self._colours(planes, rows, columns, place)
        if len(planes) == 1:
            return self._packed(planes[0], rows, columns, place)
        return self._separate(planes, rows, columns, place)

    def _packed(self, plane: Plane, rows: slice, columns: slice, place: Area) -> Tile:
        apart = self._split(plane.reshape(self.height, self.columns, 4)[rows, columns], "packed")
        luma_at, blue_at, red_at = (component.offset for component in self.how.components)
        odd = apart[luma_at + 2][:, : (self.width >> 1) - columns.start]
        luma = [array for array in (apart[luma_at], odd) if array.shape[1]]
        return Tile(place, luma, [apart[blue_at], apart[red_at]], luma)

    def _separate(self, planes: tuple[Plane, ...], rows: slice, columns: slice, place: Area) -> Tile:
        if len(planes) == 2:
            pair = self._split(planes[1].reshape(self.rows, self.columns, 2)[rows, columns], "chroma")
            colour = [pair[self.how.components[1].offset], pair[self.how.components[2].offset]]
        else:
            colour = [self._plain(planes[number][rows, columns], f"chroma{number}") for number in (1, 2)]
        pixels = slice(columns.start * self.across, min(columns.stop * self.across, self.width))
        luma: list[Plane] = []
        for row in range(self.down):
            top = rows.start * self.down + row
            lines = planes[0][top : min(rows.stop * self.down, self.height) : self.down, pixels]
            if lines.shape[0]:
                luma += self._places_of(lines, f"luma{row}")
        if self.how.shift or self._widen:
            return Tile(place, luma, colour, luma)
        whole = planes[0][rows.start * self.down : min(rows.stop * self.down, self.height), pixels]
        return Tile(place, luma, colour, [whole])

    def _colours(self, planes: tuple[Plane, ...], rows: slice, columns: slice, place: Area) -> Tile:
        samples = self.how.planes[0].samples
        if samples > 1:
            parts = self._split(planes[0].reshape(self.height, self.width, samples)[rows, columns], "packed")
            found = [parts[component.offset] for component in self.how.components]
        else:
            found = [
                self._plain(planes[component.plane][rows, columns], f"colour{component.plane}")
                for component in self.how.components
            ]
        if self.how.is_grey:
            return Tile(place, found, [], found)
        luma = self._luma_of(found)
        return Tile(place, [luma], found, [luma])

    def _luma_of(self, colours: list[Plane]) -> Plane:
        """Luma of R'G'B' by the weights of BT.709, to the nearest code, halves upwards."""
        rows, columns = colours[0].shape
        sums = self._array("sum", np.float32, rows, columns)
        part = self._array("part", np.float32, rows, columns)
        cv2.addWeighted(colours[0], 0.2126, colours[1], 0.7152, 0.0001, sums, dtype=cv2.CV_32F)
        cv2.addWeighted(colours[2], 0.0722, colours[2], 0.0, 0.0, part, dtype=cv2.CV_32F)
        cv2.add(sums, part, sums)
        luma = self._array("luma", self.dtype, rows, columns)
        np.rint(sums, out=sums)
        np.copyto(luma, sums, casting="unsafe")
        return luma

    def _places_of(self, lines: Plane, name: str) -> list[Plane]:
        """Luma of one row of the groups, one array per column in the group."""
        across = self.across
        if across == 1:
            return [self._plain(lines, name)]
        count, width = lines.shape
        full, odd = divmod(width, across)
        if not odd:
            return self._split(lines.reshape(count, full, across), name)
        found = [self._array(f"{name}.{place}", self.dtype, count, full + 1) for place in range(across)]
        for place, array in enumerate(found):
            samples = lines[:, place::across]
            np.right_shift(samples, self.how.shift, out=array[:, : samples.shape[1]], casting="unsafe")
            found[place] = array[:, : samples.shape[1]]
        return [array for array in found if array.shape[1]]

    def _split(self, groups: Plane, name: str) -> list[Plane]:
        """One array per place of the last axis of ``groups`` (rows, columns, places)."""
        rows, columns, places = groups.shape
        source = self.how.dtype
        apart = [self._array(f"{name}.{place}", source, rows, columns) for place in range(places)]
        cv2.split(groups, apart)
        return [self._codes(array, f"{name}.{place}") for place, array in enumerate(apart)]

    def _codes(self, samples: Plane, name: str) -> Plane:
        """Samples in one of our own arrays as codes: moved down in place, or widened."""
        if self.how.shift:
            return np.right_shift(samples, self.how.shift, out=samples)
        return self._plain(samples, name)

    def _plain(self, samples: Plane, name: str) -> Plane:
        """Samples of the picture itself: not touched where they already are codes."""
        if not self._widen:
            return samples
        wide = self._array(f"{name}.wide", np.uint16, *samples.shape)
        np.copyto(wide, samples)
        return wide

    def _array(self, name: str, dtype: npt.DTypeLike, rows: int, columns: int) -> npt.NDArray[Any]:
        kept = self._kept.get(name)
        if kept is None:
            kept = self._kept[name] = np.empty((self._tile_rows, self._tile_columns), dtype)
        return kept[:rows, :columns]
