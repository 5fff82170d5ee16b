"""The measurement done the plain way: whole pictures, whole numbers, NumPy only. Slow and obvious."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from analysis.model.frame import Encoding, Frame, FrameFormat
from analysis.model.instant import Instant
from analysis.signal.layouts import LAYOUTS, Layout, plane_shapes

WEIGHTS = {  # ITU-R BT.709-6 item 3.2, BT.601-7 2.5.1, BT.2020-2 table 4
    "bt709": (Fraction("0.2126"), Fraction("0.7152"), Fraction("0.0722")),
    "bt601": (Fraction("0.299"), Fraction("0.587"), Fraction("0.114")),
    "bt2020": (Fraction("0.2627"), Fraction("0.6780"), Fraction("0.0593")),
}


def frame_of(
    planes: tuple[np.ndarray, ...],
    name: str,
    width: int,
    height: int,
    span: str = "narrow",
    matrix: str = "bt709",
    sequence: int = 0,
    corrupt: bool = False,
) -> Frame:
    """A frame with these planes, made read-only."""
    how = LAYOUTS[name]
    for plane in planes:
        plane.flags.writeable = False
    return Frame(
        planes=planes,
        format=FrameFormat(
            layout=name,
            width=width,
            height=height,
            encoding=Encoding(bits=how.depth, range=span, matrix="rgb" if how.is_rgb else matrix),
        ),
        instant=Instant(1.0 + sequence / 25, 0.0),
        generation=1,
        sequence=sequence,
        corrupt=corrupt,
    )


def random_planes(how: Layout, width: int, height: int, rng: np.random.Generator) -> tuple[np.ndarray, ...]:
    """Any code at all, each in the bits where the layout keeps it."""
    shapes = plane_shapes(how, width, height)
    return tuple(
        np.ascontiguousarray(rng.integers(0, 1 << how.depth, shape).astype(how.dtype) << how.shift) for shape in shapes
    )


def components(frame: Frame) -> list[np.ndarray]:
    """Full-size int64 planes of codes: Y Cb Cr, R G B, or Y; chroma repeated to every pixel of its group."""
    how, shape = LAYOUTS[frame.format.layout], frame.format
    found = []
    for index, where in enumerate(how.components):
        samples = frame.planes[where.plane][:, where.offset :: where.step].astype(np.int64) >> how.shift
        if how.kind == "ycbcr" and index:
            samples = samples.repeat(1 << how.log2_height, axis=0).repeat(1 << how.log2_width, axis=1)
        found.append(samples[: shape.height, : shape.width])
    return found


def rgb_codes(frame: Frame) -> list[np.ndarray]:
    """R'G'B' rounded to the nearest code, halves upwards, in exact whole-number arithmetic."""
    return [rounded for rounded, _ in rgb_rounded(frame)]


def rgb_rounded(frame: Frame) -> list[tuple[np.ndarray, np.ndarray]]:
    """R'G'B' as nearest codes, and the exact values before rounding."""
    how = LAYOUTS[frame.format.layout]
    planes = components(frame)
    if how.is_rgb:
        return [(plane, plane.astype(float)) for plane in planes]
    y, cb, cr = planes
    narrow, bits = frame.format.encoding.range == "narrow", how.depth
    red, green, blue = WEIGHTS[frame.format.encoding.matrix]
    scale = Fraction(219, 224) if narrow else Fraction(1)
    u, v = cb - (1 << (bits - 1)), cr - (1 << (bits - 1))
    on_v, on_u = 2 * (1 - red) * scale, 2 * (1 - blue) * scale
    factors = [(Fraction(0), on_v), (-on_u * blue / green, -on_v * red / green), (on_u, Fraction(0))]
    rounded = []
    for of_u, of_v in factors:
        parts = np.lcm(of_u.denominator, of_v.denominator) * 2
        exact = y * int(parts) + u * int(of_u * int(parts)) + v * int(of_v * int(parts))
        rounded.append(((exact + int(parts) // 2) // int(parts), exact / int(parts)))
    return rounded


def luma_codes(frame: Frame) -> np.ndarray:
    """Luma; of R'G'B' by the weights of BT.709, to the nearest code, halves upwards."""
    planes = components(frame)
    if not LAYOUTS[frame.format.layout].is_rgb:
        return planes[0]
    return (2126 * planes[0] + 7152 * planes[1] + 722 * planes[2] + 5000) // 10000


def shares(frame: Frame, clip: int, crush: int) -> tuple[dict[str, float], dict[str, float]]:
    """Percent of pixels with a code of at least ``clip``, and of at most ``crush``."""
    luma = luma_codes(frame)
    planes = {"luma": luma}
    if not LAYOUTS[frame.format.layout].is_grey:
        planes |= dict(zip("rgb", rgb_codes(frame), strict=True))
    above = {name: plane >= clip for name, plane in planes.items()}
    below = {name: plane <= crush for name, plane in planes.items()}
    above["any"] = np.any(list(above.values()), axis=0)
    below["any"] = np.any(list(below.values()), axis=0)
    return (
        {name: 100.0 * float(found.mean()) for name, found in above.items()},
        {name: 100.0 * float(found.mean()) for name, found in below.items()},
    )


def undecided(frame: Frame, clip: int, crush: int) -> float:
    """Percent of pixels with R', G' or B' within 0.0001 of an 8-bit code of the halfway point that matters."""
    near = 1e-4 * 2 ** (LAYOUTS[frame.format.layout].depth - 8)
    close = [np.abs(exact - level) < near for _, exact in rgb_rounded(frame) for level in (clip - 0.5, crush + 0.5)]
    return 100.0 * float(np.any(close, axis=0).mean())


def percent(code: np.ndarray | float, bits: int, span: str) -> np.ndarray | float:
    """IRE, written out again here from BT.709-6 item 3.4."""
    if span == "narrow":
        return 100.0 * (code - 16 * 2 ** (bits - 8)) / (219 * 2 ** (bits - 8))
    return 100.0 * code / (2**bits - 1)
