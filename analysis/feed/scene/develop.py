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
BAND = 40
"""Rows written at a time; even, so that chroma cells are never cut."""
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
    """Writes R'G'B' bands of a picture into one layout, with buffers that are used again.

    A picture is written in bands of rows that stay in a processor's cache: at 1280x720 and 25
    pictures a second the whole renderer then took 16 % of a core, against 25 % in whole planes.
    """

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
        full, part = (BAND, self.wide), (BAND // into.down, self.wide // into.across)
        self._y, self._difference = np.empty(full, np.float32), np.empty(full, np.float32)
        self._small = np.empty(part, np.float32)
        self._depth: npt.DTypeLike = np.uint8 if into.bits == 8 else np.uint16
        self._three = [_codes(full if into.packing == "rgb" else part, into.bits) for _ in range(3)]
        self._luma_codes = _codes(full, into.bits)
        self._pairs = _codes((*part, 2), into.bits)

    def planes(self, take: Take) -> tuple[Plane, ...]:
        """Planes for one picture, unwritten, from ``take``."""
        packing, width, height = self._into.packing, self.width, self.height
        rows, columns = self.high // self._into.down, self.wide // self._into.across
        shapes = {
            "gray": [(height, width)],
            "rgb": [(height, 3 * width)],
            "packed": [(height, 2 * width)],
            "semi": [(height, width), (rows, 2 * columns)],
            "planar": [(height, width), (rows, columns), (rows, columns)],
        }[packing]
        return tuple(take(shape, self._depth) for shape in shapes)

    def write(self, rgb: list[Floats], top: int, planes: tuple[Plane, ...]) -> None:
        """Write one band: three R'G'B' planes (V, rows x ``wide``) whose first row is ``top`` of the picture."""
        count = rgb[0].shape[0]
        rows = slice(top, min(top + count, self.height))
        packing = self._into.packing
        if packing == "rgb":
            self._write_rgb(rgb, planes[0][rows])
            return
        luma = self._make_luma(rgb)
        if packing == "packed":
            self._write_packed(rgb, luma, planes[0][rows])
            return
        self._write_luma(luma, planes[0][rows])
        cells = slice(top // self._into.down, (top + count) // self._into.down)
        if packing == "semi":
            self._write_pairs(rgb, luma, planes[1][cells])
            if self._into.shift:
                for plane in (planes[0][rows], planes[1][cells]):
                    np.left_shift(plane, self._into.shift, out=plane)
        elif packing == "planar":
            self._write_difference(rgb[2], luma, self._weights[2], planes[1][cells])
            self._write_difference(rgb[0], luma, self._weights[0], planes[2][cells])

    def _make_luma(self, rgb: list[Floats]) -> Floats:
        red, green, blue = self._weights
        luma = self._y[: rgb[0].shape[0]]
        cv2.addWeighted(rgb[0], red, rgb[1], green, 0.0, dst=luma)
        cv2.scaleAdd(rgb[2], blue, luma, dst=luma)
        return luma

    def _write_luma(self, luma: Floats, out: Plane) -> None:
        if luma.shape == out.shape:
            quantise(luma, self._luma, out)
        else:
            codes = self._luma_codes[: luma.shape[0]]
            quantise(luma, self._luma, codes)
            np.copyto(out, codes[: out.shape[0], : out.shape[1]])

    def _write_difference(self, colour: Floats, luma: Floats, weight: float, out: Plane) -> None:
        """Cb or Cr: the mean of the colour difference over each chroma cell, scaled and quantised."""
        plane = self._difference[: luma.shape[0]]
        cv2.subtract(colour, luma, dst=plane)
        if plane.shape != out.shape:
            small = self._small[: out.shape[0]]
            cv2.resize(plane, (small.shape[1], small.shape[0]), dst=small, interpolation=cv2.INTER_AREA)
            plane = small
        span, middle = self._chroma
        quantise(plane, (span / (2.0 * (1.0 - weight)), middle), out)

    def _make_chroma(self, rgb: list[Floats], luma: Floats) -> list[Plane]:
        """Codes of Cb and Cr of a band, in the order the layout interleaves them."""
        rows = luma.shape[0] // self._into.down
        blue, red = self._three[0][:rows], self._three[1][:rows]
        self._write_difference(rgb[2], luma, self._weights[2], blue)
        self._write_difference(rgb[0], luma, self._weights[0], red)
        return [blue, red] if self._into.order.index("u") < self._into.order.index("v") else [red, blue]

    def _write_pairs(self, rgb: list[Floats], luma: Floats, out: Plane) -> None:
        cv2.merge(self._make_chroma(rgb, luma), dst=out.reshape(out.shape[0], -1, 2))

    def _write_packed(self, rgb: list[Floats], luma: Floats, out: Plane) -> None:
        codes, pairs = self._luma_codes[: out.shape[0]], self._pairs[: out.shape[0]]
        quantise(luma, self._luma, codes)
        cv2.merge(self._make_chroma(rgb, luma), dst=pairs)
        chroma = pairs.reshape(codes.shape)
        both = [codes, chroma] if self._into.order[0] == "y" else [chroma, codes]
        cv2.merge(both, dst=out.reshape(out.shape[0], -1, 2))

    def _write_rgb(self, rgb: list[Floats], out: Plane) -> None:
        ordered: Any = [codes[: out.shape[0]] for codes in self._three]
        for plane, codes in zip(rgb if self._into.order == "rgb" else rgb[::-1], ordered, strict=True):
            quantise(plane, self._luma, codes)
        cv2.merge(ordered, dst=out.reshape(out.shape[0], -1, 3))


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
