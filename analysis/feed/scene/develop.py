"""R'G'B' planes to the codes of a pixel format: matrix, range, subsampling, packing."""

from __future__ import annotations

import difflib
from collections.abc import Callable
from typing import Any, Literal, TypeAlias

import cv2
import msgspec
import numpy as np
import numpy.typing as npt

from analysis.model.errors import UsageError
from analysis.model.frame import Matrix, Plane, Range

Floats: TypeAlias = npt.NDArray[np.float32]
Take: TypeAlias = Callable[[tuple[int, ...], npt.DTypeLike], Plane]
Packing = Literal["planar", "semi", "packed", "gray", "rgb"]

LUMA: dict[Matrix, tuple[float, float, float]] = {
    "bt709": (0.2126, 0.7152, 0.0722),
    "bt601": (0.299, 0.587, 0.114),
    "bt2020": (0.2627, 0.6780, 0.0593),
}
"""Luma weights: ITU-R BT.709-6 item 3.2, BT.601-7, BT.2020-2."""
TIE = 1.0 / 4096.0
"""Added before rounding to nearest, so that a tie goes up as in floor(x + 0.5)."""


class Layout(msgspec.Struct, frozen=True, kw_only=True):
    """One pixel format by FFmpeg's name. ``across`` and ``down`` are luma pixels to a chroma sample.

    ``order`` is the order of components: ``"yuyv"`` of a packed pair, ``"uv"`` or ``"vu"``,
    ``"rgb"``. ``shift`` moves codes up inside a 16-bit word.
    """

    name: str
    bits: int
    packing: Packing
    across: int = 1
    down: int = 1
    order: str = "uv"
    shift: int = 0


def _layouts() -> dict[str, Layout]:
    found = [
        Layout(name="yuyv422", bits=8, packing="packed", across=2, order="yuyv"),
        Layout(name="uyvy422", bits=8, packing="packed", across=2, order="uyvy"),
        Layout(name="yvyu422", bits=8, packing="packed", across=2, order="yvyu"),
        Layout(name="nv12", bits=8, packing="semi", across=2, down=2),
        Layout(name="nv21", bits=8, packing="semi", across=2, down=2, order="vu"),
        Layout(name="nv16", bits=8, packing="semi", across=2),
        Layout(name="p010le", bits=10, packing="semi", across=2, down=2, shift=6),
        Layout(name="rgb24", bits=8, packing="rgb", order="rgb"),
        Layout(name="bgr24", bits=8, packing="rgb", order="bgr"),
    ]
    for bits, ending in ((8, ""), (10, "10le"), (12, "12le")):
        found.append(Layout(name=f"gray{ending}", bits=bits, packing="gray"))
        for family, across, down in (("420", 2, 2), ("422", 2, 1), ("444", 1, 1)):
            found.append(Layout(name=f"yuv{family}p{ending}", bits=bits, packing="planar", across=across, down=down))
    return {layout.name: layout for layout in found}


LAYOUTS = _layouts()
USUAL_LAYOUT = {8: "yuyv422", 10: "yuv422p10le", 12: "yuv422p12le"}


def layout(name: str) -> Layout:
    """The layout of that name; raises UsageError naming the nearest one.

    >>> layout("nv12").down
    2
    """
    if name not in LAYOUTS:
        near = difflib.get_close_matches(name, LAYOUTS, n=1, cutoff=0.0)[0]
        raise UsageError("the scene cannot be written in this layout", name, f"did you mean {near}?")
    return LAYOUTS[name]


def bounds(bits: int, range_: Range) -> tuple[float, float]:
    """Lowest and highest V that a code can carry: narrow range leaves out the codes SDI reserves.

    >>> [round(100 * v, 2) for v in bounds(8, "narrow")]
    [-6.85, 108.68]
    """
    if range_ == "full":
        return 0.0, 1.0
    scale = 2 ** (bits - 8)
    low, high = (1.0, 254.0) if bits == 8 else (1.0 * scale, 255.0 * scale - 1.0)
    return (low / scale - 16.0) / 219.0, (high / scale - 16.0) / 219.0


class Developer:
    """Writes R'G'B' planes of one size into one layout, with buffers that are used again."""

    def __init__(self, width: int, height: int, into: Layout, range_: Range, matrix: Matrix) -> None:
        if into.packing == "packed" and width % 2:
            raise UsageError(f"{into.name} needs an even width, not {width}", "scene", "use a planar layout")
        self.width, self.height = width, height
        self._into = into
        self.wide = -(-width // into.across) * into.across
        self.high = -(-height // into.down) * into.down
        scale = float(2 ** (into.bits - 8))
        if range_ == "narrow":
            self._luma, self._chroma = (219.0 * scale, 16.0 * scale), (224.0 * scale, 128.0 * scale)
        else:
            top = 256.0 * scale - 1.0
            self._luma, self._chroma = (top, 0.0), (top, 128.0 * scale)
        self._weights = LUMA.get(matrix, LUMA["bt709"])
        full, part = (self.high, self.wide), (self.high // into.down, self.wide // into.across)
        self._y, self._difference = np.empty(full, np.float32), np.empty(full, np.float32)
        self._small = np.empty(part, np.float32)
        self.depth: npt.DTypeLike = np.uint8 if into.bits == 8 else np.uint16
        count = 3 if into.packing == "rgb" else 2
        self._codes: list[Plane] = [_codes(part, into.bits) for _ in range(count)]
        self._luma_codes = _codes(full, into.bits)
        self._pairs = _codes((*part, 2), into.bits)

    def write(self, rgb: list[Floats], take: Take) -> tuple[Plane, ...]:
        """Codes of three R'G'B' planes (V, each ``high`` x ``wide``), in planes from ``take``."""
        packing = self._into.packing
        if packing == "rgb":
            return (self._write_rgb(rgb, take),)
        self._make_luma(rgb)
        if packing == "gray":
            return (self._finished(self._y, self._luma, take),)
        if packing == "packed":
            return (self._write_packed(rgb, take),)
        luma = self._finished(self._y, self._luma, take)
        rows, columns = self._small.shape
        if packing == "semi":
            pairs = take((rows, 2 * columns), self.depth)
            first, second = (0, 1) if self._into.order == "uv" else (1, 0)
            self._chroma_codes(rgb)
            cv2.merge([self._codes[first], self._codes[second]], dst=pairs.reshape(rows, columns, 2))
            if self._into.shift:
                for plane in (luma, pairs):
                    np.left_shift(plane, self._into.shift, out=plane)
            return luma, pairs
        blue, red = take((rows, columns), self.depth), take((rows, columns), self.depth)
        self._difference_codes(rgb[2], self._weights[2], blue)
        self._difference_codes(rgb[0], self._weights[0], red)
        return luma, blue, red

    def _make_luma(self, rgb: list[Floats]) -> None:
        red, green, blue = self._weights
        cv2.addWeighted(rgb[0], red, rgb[1], green, 0.0, dst=self._y)
        cv2.scaleAdd(rgb[2], blue, self._y, dst=self._y)

    def _finished(self, plane: Floats, scale: tuple[float, float], take: Take) -> Plane:
        out = take((self.height, self.width), self.depth)
        if (self.high, self.wide) == (self.height, self.width):
            quantise(plane, scale, out)
        else:
            quantise(plane, scale, self._luma_codes)
            np.copyto(out, self._luma_codes[: self.height, : self.width])
        return out

    def _difference_codes(self, colour: Floats, weight: float, out: Plane) -> None:
        """Cb or Cr: the mean of the colour difference over each chroma cell, scaled and quantised."""
        cv2.subtract(colour, self._y, dst=self._difference)
        plane = self._difference
        if plane.shape != self._small.shape:
            size = self._small.shape[1], self._small.shape[0]
            cv2.resize(plane, size, dst=self._small, interpolation=cv2.INTER_AREA)
            plane = self._small
        span, middle = self._chroma
        quantise(plane, (span / (2.0 * (1.0 - weight)), middle), out)

    def _chroma_codes(self, rgb: list[Floats]) -> None:
        self._difference_codes(rgb[2], self._weights[2], self._codes[0])
        self._difference_codes(rgb[0], self._weights[0], self._codes[1])

    def _write_packed(self, rgb: list[Floats], take: Take) -> Plane:
        out = take((self.height, 2 * self.width), self.depth)
        quantise(self._y, self._luma, self._luma_codes)
        self._chroma_codes(rgb)
        order = self._into.order
        pair = self._codes if order.index("u") < order.index("v") else self._codes[::-1]
        cv2.merge(pair, dst=self._pairs)
        chroma = self._pairs.reshape(self.height, self.width)
        both = [self._luma_codes, chroma] if order[0] == "y" else [chroma, self._luma_codes]
        cv2.merge(both, dst=out.reshape(self.height, self.width, 2))
        return out

    def _write_rgb(self, rgb: list[Floats], take: Take) -> Plane:
        out = take((self.height, 3 * self.width), self.depth)
        for plane, codes in zip(rgb, self._codes, strict=True):
            quantise(plane, self._luma, codes)
        ordered: Any = self._codes if self._into.order == "rgb" else self._codes[::-1]
        cv2.merge(ordered, dst=out.reshape(self.height, self.width, 3))
        return out


def _codes(shape: tuple[int, ...], bits: int) -> Plane:
    return np.empty(shape, np.uint8) if bits == 8 else np.empty(shape, np.uint16)


def quantise(plane: Floats, scale: tuple[float, float], out: Plane) -> None:
    """Codes of a plane: floor(value * factor + offset + 0.5), held inside the type of ``out``.

    >>> codes = np.empty((1, 3), np.uint8)
    >>> quantise(np.array([[0.0, 0.409008, 1.0]], np.float32), (219.0, 16.0), codes)
    >>> codes.tolist()
    [[16, 106, 235]]
    """
    factor, offset = scale
    if out.dtype == np.uint8:
        cv2.convertScaleAbs(plane, dst=out, alpha=factor, beta=offset + TIE)
    else:
        cv2.addWeighted(plane, factor, plane, 0.0, offset + TIE, dst=out, dtype=cv2.CV_16U)
