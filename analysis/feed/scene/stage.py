"""The boathouse put together at one size: an indexed picture for every pose of the sitter."""

from __future__ import annotations

from typing import TypeAlias

import cv2
import numpy as np
import numpy.typing as npt

from analysis.feed.scene import complexion, hull, key, outside, palette, room, shut, sitter
from analysis.feed.scene.canvas import Canvas, Field
from analysis.feed.scene.controls import Doors, LampPlace
from analysis.feed.scene.palette import Index

Box: TypeAlias = tuple[int, int, int, int]
"""Left, top, right, bottom in pixels, right and bottom not included."""

LARGEST_CANVAS = 1920 * 1088
"""Pictures with more pixels are painted smaller and enlarged pixel by pixel."""
OUT_OF_FOCUS = 0.0022
OPAQUE = 0.996
NAMES = ("boathouse",)


class Stage:
    """The painted scene: what every pixel sends to the camera, for any pose of the sitter.

    ``palette`` holds the light; :meth:`index` the picture. ``regions`` are boxes whose true
    levels are worth asking for, at rest; those in ``moving`` go with the sitter.
    """

    moving = frozenset({"forehead", "cheek", "shade-cheek"})

    def __init__(
        self, width: int, height: int, skin: str, *, lamp_at: LampPlace = "bench", doors: Doors = "open"
    ) -> None:
        self.width, self.height = width, height
        self.enlarged = 1
        while width * height > LARGEST_CANVAS * self.enlarged**2:
            self.enlarged += 1
        wide, high = -(-width // self.enlarged), -(-height // self.enlarged)
        room_canvas, sitter_canvas = _paint(wide, high, skin, lamp_at, doors)
        self._cover = sitter_canvas.cover
        rows, columns = np.nonzero(self._cover > 1e-3)
        around = _span(rows, high), _span(columns, wide)
        behind = palette.radiance(room_canvas)
        front = palette.radiance(sitter_canvas, around)
        del room_canvas.light, room_canvas.reflectance, sitter_canvas
        empty = behind[:, around[0], around[1]].copy()
        behind[:, around[0], around[1]] = _blend(empty, front, self._cover[around])
        self.palette, self._rest = palette.build(behind)
        self._empty = self._rest.copy()
        self._empty[around] = self.palette.index(empty)
        self._inner = np.zeros_like(self._rest)
        self._inner[around] = self.palette.index(front)
        self._edge = np.nonzero((self._cover > 1e-3) & (self._cover < OPAQUE))
        self._solid = (self._cover >= OPAQUE).astype(np.uint8)
        self._poses: dict[tuple[int, int], Index] = {}
        self.regions = _regions(room_canvas, width, height, self.enlarged)

    def reach(self) -> tuple[int, int]:
        """Size of the painted canvas (width, height); the picture is this times ``enlarged``, cut to size."""
        return self._cover.shape[1], self._cover.shape[0]

    def index(self, right: int = 0, down: int = 0) -> Index:
        """The indexed picture with the sitter moved by whole canvas pixels, shape (height, width).

        Poses are kept: the sitter only ever takes a few. The array is read-only.
        """
        found = self._poses.get((right, down))
        if found is None:
            found = self._pose(right, down)
            if self.enlarged > 1:
                big = cv2.resize(found, None, fx=self.enlarged, fy=self.enlarged, interpolation=cv2.INTER_NEAREST)
                found = np.ascontiguousarray(big[: self.height, : self.width])
            found.flags.writeable = False
            if sum(pose.nbytes for pose in self._poses.values()) > 64_000_000:
                self._poses.clear()
            self._poses[(right, down)] = found
        return found

    def box(self, name: str, right: int = 0, down: int = 0) -> Box:
        """Where a region lies in a pose, in picture pixels, cut to the picture."""
        x0, y0, x1, y1 = self.regions[name]
        if name in self.moving:
            dx, dy = right * self.enlarged, down * self.enlarged
            x0, y0, x1, y1 = x0 + dx, y0 + dy, x1 + dx, y1 + dy
        return max(0, x0), max(0, y0), min(self.width, x1), min(self.height, y1)

    def _pose(self, right: int, down: int) -> Index:
        if (right, down) == (0, 0):
            return self._rest.copy()
        high, wide = self._cover.shape
        picture = self._empty.copy()
        move = np.array([[1.0, 0.0, right], [0.0, 1.0, down]])
        solid = cv2.warpAffine(self._solid, move, (wide, high), flags=cv2.INTER_NEAREST)
        inner = cv2.warpAffine(self._inner, move, (wide, high), flags=cv2.INTER_NEAREST)
        cv2.copyTo(inner, solid, picture)
        rows, columns = self._edge[0] + down, self._edge[1] + right
        inside = (rows >= 0) & (rows < high) & (columns >= 0) & (columns < wide)
        rows, columns = rows[inside], columns[inside]
        own = self._edge[0][inside], self._edge[1][inside]
        light = np.moveaxis(self.palette.light, 1, 2)
        mixed = _blend(light[:, self._empty[rows, columns]], light[:, self._inner[own]], self._cover[own])
        picture[rows, columns] = self.palette.index(mixed)
        return picture


def _blend(behind: npt.NDArray[np.float32], front: npt.NDArray[np.float32], cover: Field) -> npt.NDArray[np.float32]:
    """Light of the front layer where it covers, of the one behind where it does not."""
    return np.asarray(behind + (front - behind) * cover[..., None], np.float32)


def _paint(width: int, height: int, skin: str, lamp_at: LampPlace, doors: Doors) -> tuple[Canvas, Canvas]:
    behind = Canvas(width, height, sitter.CENTRE[0])
    room.paint_shell(behind)
    outside.paint(behind)
    room.paint_doors(behind)
    if doors == "shut":
        shut.paint(behind)
    hull.paint(behind)
    room.paint_bench(behind)
    room.paint_lamp(behind)
    behind.soften(OUT_OF_FOCUS)
    hull.paint_brass(behind)
    front = Canvas(width, height, sitter.CENTRE[0])
    sitter.paint(front, complexion.reflectance(skin))
    if lamp_at == "key":
        key.light(behind, front)
    return behind, front


def _span(where: npt.NDArray[np.intp], size: int) -> slice:
    return slice(int(where.min()), int(where.max()) + 1) if where.size else slice(0, min(1, size))


def _regions(canvas: Canvas, width: int, height: int, enlarged: int) -> dict[str, Box]:
    faces = {"forehead": sitter.FOREHEAD_BOX, "cheek": sitter.CHEEK_BOX, "shade-cheek": sitter.SHADE_BOX}
    places = {name: (*sitter.at(u0, v0), *sitter.at(u1, v1)) for name, (u0, v0, u1, v1) in faces.items()}
    left, top, right, bottom = room.CARD_BOX
    places["card"] = (left + 0.012, top + 0.012, right - 0.012, bottom - 0.012)
    places["sky"] = (-0.70, 0.20, -0.32, 0.34)
    places["lake"] = (-0.50, 0.62, -0.34, 0.72)
    places["rafters"] = (-0.60, 0.01, 0.60, 0.11)
    places["hull"] = (0.00, 0.44, 0.10, 0.60)
    x, y = room.LAMP_PLACE
    places["lamp"] = (x - 0.012, y - 0.002, x + 0.012, y + 0.006)
    out = {}
    for name, (x0, y0, x1, y1) in places.items():
        c0, r0 = canvas.pixel(x0, y0)
        c1, r1 = canvas.pixel(x1, y1)
        out[name] = (
            round(c0) * enlarged,
            round(r0) * enlarged,
            max(round(c1), round(c0) + 1) * enlarged,
            max(round(r1), round(r0) + 1) * enlarged,
        )
    return out
