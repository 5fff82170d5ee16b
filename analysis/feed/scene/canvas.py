"""A canvas that is painted with reflectance and with light, not with colours.

Coordinates are heights of the picture: y runs from 0 (top) to 1 (bottom), x from the
middle of the frame, positive to the right. Three lights are kept apart so that each can
change later: *sky* (the lake light through the doors), *sun* (what breaks through the
clouds) and *lamp*. An irradiance of 1 is the key light at the sitter's face.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TypeAlias

import cv2
import numpy as np
import numpy.typing as npt

Field: TypeAlias = npt.NDArray[np.float32]
Colour: TypeAlias = Sequence[float] | npt.NDArray[np.float32]
Point: TypeAlias = tuple[float, float]
LIGHTS = ("sky", "sun", "lamp")
SUBPIXEL_BITS = 4
NARROWEST = 1.2
"""Narrower pictures than this ratio of width to height move towards the sitter."""


class Patch:
    """A part of the canvas: a mask from 0 to 1 and where it lies. ``x`` and ``y`` are its coordinates."""

    def __init__(self, canvas: Canvas, top: int, left: int, mask: Field) -> None:
        self.area = (slice(top, top + mask.shape[0]), slice(left, left + mask.shape[1]))
        self.mask = mask
        rows = np.arange(top, top + mask.shape[0], dtype=np.float32)
        columns = np.arange(left, left + mask.shape[1], dtype=np.float32)
        self.y = ((rows + 0.5) / canvas.unit)[:, None]
        self.x = ((columns + 0.5 - canvas.middle) / canvas.unit)[None, :]

    def faded(self, strength: float | Field) -> Patch:
        """This patch with its mask multiplied."""
        twin = object.__new__(Patch)
        twin.area, twin.x, twin.y = self.area, self.x, self.y
        twin.mask = np.asarray(self.mask * strength, np.float32)
        return twin


class Canvas:
    """Reflectance (height, width, 3), three irradiance fields (height, width) and a cover from 0 to 1."""

    def __init__(self, width: int, height: int, centre: float = 0.0) -> None:
        self.width, self.height = width, height
        self.unit = float(height)
        aspect = width / height
        drift = centre * min(1.0, max(0.0, (NARROWEST - aspect) / NARROWEST * 2.0))
        self.middle = width / 2.0 - drift * self.unit
        self.reflectance = np.zeros((height, width, 3), np.float32)
        self.light: dict[str, Field] = {name: np.zeros((height, width), np.float32) for name in LIGHTS}
        self.cover = np.zeros((height, width), np.float32)

    def pixel(self, x: float, y: float) -> Point:
        """Pixel position (column, row) of a coordinate."""
        return x * self.unit + self.middle, y * self.unit

    def everything(self) -> Patch:
        """The whole canvas."""
        return Patch(self, 0, 0, np.ones((self.height, self.width), np.float32))

    def polygon(self, points: Sequence[Point], soft: float = 0.0) -> Patch:
        """A filled polygon with smooth edges, blurred by ``soft`` (in heights)."""
        corners = np.array([self.pixel(*p) for p in points]) - 0.5
        margin = 2 + int(3 * soft * self.unit)
        left = int(np.clip(np.floor(corners[:, 0].min()) - margin, 0, self.width))
        right = int(np.clip(np.ceil(corners[:, 0].max()) + margin + 1, left, self.width))
        top = int(np.clip(np.floor(corners[:, 1].min()) - margin, 0, self.height))
        bottom = int(np.clip(np.ceil(corners[:, 1].max()) + margin + 1, top, self.height))
        mask: npt.NDArray[Any] = np.zeros((bottom - top, right - left), np.uint8)
        if mask.size:
            fixed = np.round((corners - (left, top)) * (1 << SUBPIXEL_BITS)).astype(np.int32)
            cv2.fillPoly(mask, [fixed], 255, cv2.LINE_AA, SUBPIXEL_BITS)
            if soft * self.unit > 0.3:
                mask = cv2.GaussianBlur(mask, (0, 0), soft * self.unit)
        return Patch(self, top, left, mask.astype(np.float32) / 255.0)

    def box(self, left: float, top: float, right: float, bottom: float, soft: float = 0.0) -> Patch:
        """A filled rectangle."""
        return self.polygon([(left, top), (right, top), (right, bottom), (left, bottom)], soft)

    def ellipse(self, x: float, y: float, rx: float, ry: float, soft: float = 0.02) -> Patch:
        """A filled ellipse whose edge fades over ``soft`` of its radius, never sharper than a pixel."""
        column, row = self.pixel(x, y)
        reach = 1.0 + 6.0 * soft
        left = int(np.clip(column - rx * reach * self.unit - 2, 0, self.width))
        right = int(np.clip(column + rx * reach * self.unit + 3, left, self.width))
        top = int(np.clip(row - ry * reach * self.unit - 2, 0, self.height))
        bottom = int(np.clip(row + ry * reach * self.unit + 3, top, self.height))
        patch = Patch(self, top, left, np.empty((bottom - top, right - left), np.float32))
        distance = np.sqrt(((patch.x - x) / rx) ** 2 + ((patch.y - y) / ry) ** 2) - 1.0
        edge = max(soft, 0.35 / (min(rx, ry) * self.unit))
        patch.mask = np.asarray(1.0 / (1.0 + np.exp(np.clip(distance / edge, -30.0, 30.0))), np.float32)
        return patch

    def lay(self, patch: Patch, colour: Colour | Field | None = None, **light: float | Field) -> None:
        """Cover the patch: reflectance and the named lights there become these, in the share of its mask."""
        mask = patch.mask
        if not mask.size:
            return
        cover = self.cover[patch.area]
        cover += mask * (1.0 - cover)
        # Where nothing lay before, the new layer is all there is: no dark seam at soft edges.
        share = mask / np.maximum(cover, 1e-6)
        if colour is not None:
            target = self.reflectance[patch.area]
            target += (np.asarray(colour, np.float32) - target) * share[:, :, None]
        for name, value in light.items():
            field = self.light[name][patch.area]
            field += (value - field) * share

    def tint(self, patch: Patch, factor: float | Field) -> None:
        """Multiply the reflectance under the patch."""
        if patch.mask.size:
            self.reflectance[patch.area] *= (1.0 + (factor - 1.0) * patch.mask)[:, :, None]

    def shade(self, patch: Patch, factor: float | Field, names: Sequence[str] = LIGHTS) -> None:
        """Multiply the named lights under the patch."""
        for name in names:
            self.light[name][patch.area] *= 1.0 + (factor - 1.0) * patch.mask

    def shine(self, patch: Patch, **light: float | Field) -> None:
        """Add to the named lights under the patch."""
        for name, value in light.items():
            self.light[name][patch.area] += value * patch.mask

    def soften(self, radius: float) -> None:
        """Blur everything painted so far, as a lens does with what lies out of focus (radius in heights)."""
        sigma = radius * self.unit
        if sigma < 0.3:
            return
        for target in (self.reflectance, *self.light.values()):
            cv2.GaussianBlur(target, (0, 0), sigma, dst=target, borderType=cv2.BORDER_REPLICATE)


def grain(shape: tuple[int, ...], columns: float, rows: float, seed: int) -> Field:
    """Smooth noise of mean 0 and deviation about 1 with that many features across and down, shape ``shape``."""
    if 0 in shape:
        return np.zeros(shape, np.float32)
    few = (max(2, min(shape[0], round(rows))), max(2, min(shape[1], round(columns))))
    rough = np.random.default_rng(seed).standard_normal(few, np.float32)
    return np.asarray(cv2.resize(rough, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC), np.float32)
