"""The boat-builder who is interviewed: head, hair, clothes, lit from the doors.

The head is shaded as a rounded body: the key comes from the lake on the left, what comes
back from the hull fills the right. Skin that faces the key has exactly the reflectance of
the chosen complexion times the key, so its true level is known.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from analysis.feed.scene.canvas import Canvas, Colour, Field, Patch, grain

FACE = 0.285
"""Height of the face from hairline to chin, in heights of the picture."""
CENTRE = (0.335, 0.405)
KEY = np.array((-0.74, -0.24, 0.628))
FILL = 0.36
"""Light on the side away from the key, as a share of it: about 1.5 stops down."""
RIM = 0.55
HAIR = (0.055, 0.047, 0.042)
GREY = (0.155, 0.145, 0.135)
WOOL = (0.048, 0.064, 0.092)
APRON = (0.205, 0.150, 0.088)
FOREHEAD_BOX = (-0.20, -0.30, 0.02, -0.20)
CHEEK_BOX = (-0.25, 0.06, -0.13, 0.16)
SHADE_BOX = (0.20, 0.06, 0.28, 0.16)
"""Patches of skin without features (left, top, right, bottom), in face heights from the middle of the face."""


def at(u: float, v: float) -> tuple[float, float]:
    """Canvas coordinates of a place given in face heights from the middle of the face."""
    return CENTRE[0] + u * FACE, CENTRE[1] + v * FACE


def paint(canvas: Canvas, skin: npt.NDArray[np.float32]) -> None:
    """Paint the sitter with skin of that linear reflectance, shape (3,)."""
    _body(canvas)
    _neck(canvas, skin)
    _hair(canvas)
    _head(canvas, skin)
    _features(canvas, skin)
    _fringe(canvas)


def _ellipse(canvas: Canvas, u: float, v: float, a: float, b: float, soft: float) -> Patch:
    x, y = at(u, v)
    return canvas.ellipse(x, y, a * FACE, b * FACE, soft)


def _polygon(canvas: Canvas, points: list[tuple[float, float]], soft: float = 0.0) -> Patch:
    return canvas.polygon([at(*p) for p in points], soft * FACE)


def _lit(nx: Field, ny: Field) -> tuple[Field, Field]:
    """Key-and-fill light and lamp light on a surface with that normal; the key side reaches exactly 1."""
    nz = np.sqrt(np.clip(1.0 - nx**2 - ny**2, 0.0, 1.0))
    facing = np.clip((nx * KEY[0] + ny * KEY[1] + nz * KEY[2]) + 0.14, 0.0, 1.0)
    smooth = np.clip(facing / 0.96, 0.0, 1.0)
    smooth = smooth * smooth * (3.0 - 2.0 * smooth)
    rim = np.clip(nx - 0.55, 0.0, 1.0) ** 1.5 * RIM * 3.0
    return np.asarray(FILL + (1.0 - FILL) * smooth, np.float32), np.asarray(0.06 + rim, np.float32)


def _round(patch: Patch, u: float, v: float, a: float, b: float) -> tuple[Field, Field]:
    x, y = at(u, v)
    nx = np.clip((patch.x - x) / (a * FACE), -0.98, 0.98) + 0.0 * patch.y
    ny = np.clip((patch.y - y) / (b * FACE), -0.98, 0.98) + 0.0 * patch.x
    length = np.maximum(np.sqrt(nx**2 + ny**2), 1.0)
    return _lit(np.asarray(nx / length, np.float32), np.asarray(ny / length, np.float32))


def _body(canvas: Canvas) -> None:
    outline = [
        (-0.20, 0.66),
        (-0.34, 0.76),
        (-0.62, 0.86),
        (-0.86, 0.99),
        (-1.00, 1.22),
        (-1.07, 1.60),
        (-1.12, 2.40),
        (1.12, 2.40),
        (1.06, 1.60),
        (0.98, 1.22),
        (0.84, 0.99),
        (0.60, 0.86),
        (0.34, 0.76),
        (0.20, 0.66),
    ]
    body = _polygon(canvas, outline, 0.006)
    sky, lamp = _round(body, 0.0, 1.55, 1.25, 1.9)
    wool = 1.0 + 0.10 * grain(body.mask.shape, 130, 110, 91)
    rib = 1.0 + 0.10 * np.sin(body.x / FACE * 95.0)
    cloth = np.asarray(wool * rib, np.float32)[:, :, None] * np.array(WOOL, np.float32)
    canvas.lay(body, cloth, sky=sky, sun=0.10, lamp=lamp)
    for side in (-1, 1):
        # Folds of the sleeve and the shadow where the arm meets the side.
        canvas.shade(
            _polygon(canvas, [(side * 0.70, 1.35), (side * 0.80, 1.25), (side * 0.86, 2.4), (side * 0.72, 2.4)], 0.04),
            0.62,
        )
        strap = _polygon(
            canvas, [(side * 0.34, 0.80), (side * 0.47, 0.83), (side * 0.44, 1.40), (side * 0.32, 1.40)], 0.004
        )
        canvas.lay(strap, APRON)
        canvas.tint(
            _polygon(
                canvas, [(side * 0.47, 0.83), (side * 0.50, 0.85), (side * 0.47, 1.40), (side * 0.44, 1.40)], 0.01
            ),
            0.6,
        )
    bib = _polygon(canvas, [(-0.47, 1.33), (0.47, 1.33), (0.53, 1.75), (0.55, 2.4), (-0.55, 2.4), (-0.53, 1.75)], 0.004)
    weave = np.asarray(1.0 + 0.08 * grain(bib.mask.shape, 120, 100, 92), np.float32)
    canvas.lay(bib, weave[:, :, None] * np.array(APRON, np.float32))
    canvas.tint(_polygon(canvas, [(-0.47, 1.33), (0.47, 1.33), (0.475, 1.365), (-0.475, 1.365)], 0.004), 0.72)
    pocket = _polygon(canvas, [(-0.22, 1.62), (0.20, 1.62), (0.20, 1.64), (-0.22, 1.64)], 0.004)
    canvas.tint(pocket, 0.6)
    pencil = _polygon(canvas, [(0.06, 1.46), (0.085, 1.46), (0.082, 1.63), (0.062, 1.63)], 0.002)
    canvas.lay(pencil, (0.46, 0.16, 0.06))
    for side in (-1, 1):
        canvas.lay(_ellipse(canvas, side * 0.39, 1.385, 0.030, 0.030, 0.12), (0.40, 0.28, 0.11))


def _neck(canvas: Canvas, skin: npt.NDArray[np.float32]) -> None:
    neck = _polygon(
        canvas,
        [(-0.215, 0.25), (0.215, 0.25), (0.215, 0.66), (0.26, 0.78), (0.0, 0.90), (-0.26, 0.78), (-0.215, 0.66)],
        0.008,
    )
    sky, lamp = _round(neck, 0.0, 0.5, 0.26, 1.2)
    canvas.lay(neck, skin * 0.92, sky=sky * 0.80, sun=0.06, lamp=lamp)
    canvas.shade(_ellipse(canvas, 0.03, 0.50, 0.27, 0.13, 0.25), 0.45)
    collar = _polygon(
        canvas,
        [
            (-0.30, 0.70),
            (-0.22, 0.655),
            (-0.10, 0.775),
            (0.0, 0.80),
            (0.10, 0.775),
            (0.22, 0.655),
            (0.30, 0.70),
            (0.22, 0.86),
            (0.0, 0.93),
            (-0.22, 0.86),
        ],
        0.005,
    )
    csky, clamp = _round(collar, 0.0, 0.75, 0.36, 0.5)
    rib = 1.0 + 0.22 * np.sin(collar.x / FACE * 120.0) + 0.0 * collar.y
    canvas.lay(
        collar,
        np.asarray(rib, np.float32)[:, :, None] * np.array(WOOL, np.float32) * 1.25,
        sky=csky,
        sun=0.08,
        lamp=clamp,
    )


def _hair(canvas: Canvas) -> None:
    hair = _ellipse(canvas, 0.0, -0.105, 0.418, 0.490, 0.018)
    sky, lamp = _round(hair, 0.0, -0.10, 0.46, 0.56)
    strand = np.asarray(1.0 + 0.16 * grain(hair.mask.shape, 70, 26, 93), np.float32)
    # Temples are greyer than the crown.
    grey = np.clip((hair.y - at(0, -0.32)[1]) / (0.25 * FACE), 0.0, 1.0)[:, :, None]
    colour = np.array(HAIR, np.float32) + grey * (np.array(GREY, np.float32) - np.array(HAIR, np.float32))
    canvas.lay(hair, np.asarray(strand[:, :, None] * colour, np.float32), sky=sky, sun=0.10, lamp=lamp * 1.4)


def _head(canvas: Canvas, skin: npt.NDArray[np.float32]) -> None:
    for side in (-1, 1):
        ear = _ellipse(canvas, side * 0.372, 0.03, 0.052, 0.105, 0.06)
        canvas.lay(
            ear, skin * np.array((0.95, 0.86, 0.84), np.float32), sky=0.80 if side < 0 else FILL, sun=0.08, lamp=0.3
        )
        canvas.shade(_ellipse(canvas, side * 0.372, 0.03, 0.024, 0.060, 0.3), 0.6)
    face = _polygon(canvas, _jaw(), 0.008)
    sky, lamp = _round(face, 0.0, 0.02, 0.395, 0.60)
    canvas.lay(face, skin, sky=sky, sun=0.10, lamp=lamp)


def _jaw() -> list[tuple[float, float]]:
    """Outline of the face: an ellipse above, a squarer jaw below."""
    points = []
    for angle in np.linspace(0.0, 2.0 * np.pi, 72, endpoint=False):
        u, v = np.sin(angle), -np.cos(angle)
        width = 0.358 * (1.0 - (0.05 if v > 0 else 0.0) * v)
        power = 0.86 if v > 0.1 else 1.0
        points.append((float(np.sign(u) * width * abs(u) ** power), float(0.02 + 0.49 * v)))
    return points


def _features(canvas: Canvas, skin: npt.NDArray[np.float32]) -> None:
    def dab(u: float, v: float, a: float, b: float, soft: float, colour: Colour | Field, strength: float = 1.0) -> None:
        canvas.lay(_ellipse(canvas, u, v, a, b, soft).faded(strength), colour)

    def shadow(u: float, v: float, a: float, b: float, soft: float, factor: float) -> None:
        canvas.tint(_ellipse(canvas, u, v, a, b, soft), factor)

    brow = np.minimum(np.array(GREY, np.float32) * 0.50, skin * 0.70)
    for s in (-1, 1):
        shadow(s * 0.150, -0.066, 0.100, 0.060, 0.30, 0.68)
        dab(s * 0.152, -0.054, 0.058, 0.0195, 0.10, (0.46, 0.44, 0.425))
        dab(s * 0.152 - 0.005, -0.056, 0.0225, 0.0215, 0.10, (0.042, 0.034, 0.029))
        dab(s * 0.152 - 0.013, -0.063, 0.0050, 0.0050, 0.25, (0.95, 0.97, 1.0))
        dab(s * 0.152, -0.077, 0.064, 0.0105, 0.25, skin * 0.34, 0.92)
        dab(s * 0.152, -0.096, 0.070, 0.0120, 0.40, skin * 0.88, 0.60)
        dab(s * 0.152, -0.031, 0.052, 0.0060, 0.50, skin * 0.58, 0.55)
        shadow(s * 0.150, -0.008, 0.062, 0.018, 0.50, 0.86)
        for part in range(7):
            p = part / 6.0
            dab(
                s * (0.082 + 0.150 * p),
                -0.132 - 0.020 * np.sin(np.pi * (0.15 + 0.70 * p)) + 0.012 * p,
                0.024,
                0.0150 - 0.005 * p,
                0.32,
                brow,
                0.80,
            )
        dab(s * 0.038, 0.160, 0.0180, 0.0105, 0.30, skin * 0.17, 0.75)
        shadow(s * 0.066, 0.137, 0.018, 0.040, 0.50, 0.82)
        # Lines from the nose to the corners of the mouth, and the corners, which go up a little.
        canvas.tint(
            _polygon(canvas, [(s * 0.088, 0.165), (s * 0.098, 0.165), (s * 0.148, 0.262), (s * 0.136, 0.266)], 0.016),
            0.84,
        )
        canvas.tint(
            _polygon(canvas, [(s * 0.070, 0.288), (s * 0.112, 0.274), (s * 0.116, 0.282), (s * 0.072, 0.296)], 0.005),
            0.55,
        )
    canvas.shade(_polygon(canvas, [(0.006, -0.04), (0.045, -0.02), (0.075, 0.145), (0.02, 0.15)], 0.020), 0.80)
    canvas.shade(_ellipse(canvas, -0.012, 0.060, 0.020, 0.105, 0.5), 1.05)
    shadow(0.0, 0.188, 0.075, 0.018, 0.50, 0.76)
    lips = skin * np.array((0.74, 0.50, 0.50), np.float32)
    dab(0.0, 0.277, 0.092, 0.0180, 0.20, lips * 0.86, 0.80)
    dab(0.0, 0.303, 0.078, 0.0215, 0.25, lips * 1.10, 0.80)
    dab(0.0, 0.289, 0.078, 0.0052, 0.35, skin * 0.22, 0.75)
    shadow(0.0, 0.350, 0.075, 0.018, 0.60, 0.84)
    # A day's beard darkens jaw and upper lip a little; cheeks and forehead stay clean skin.
    shadow(0.0, 0.44, 0.300, 0.125, 0.16, 0.86)
    for u in (-0.012, 0.012):
        shadow(u, -0.135, 0.006, 0.030, 0.5, 0.93)


def _fringe(canvas: Canvas) -> None:
    """The hairline over the forehead."""
    line = [
        (-0.375, -0.05),
        (-0.345, -0.22),
        (-0.26, -0.355),
        (-0.10, -0.405),
        (0.08, -0.395),
        (0.25, -0.350),
        (0.345, -0.215),
        (0.375, -0.05),
        (0.43, -0.2),
        (0.36, -0.43),
        (0.16, -0.565),
        (-0.14, -0.57),
        (-0.36, -0.43),
        (-0.43, -0.2),
    ]
    fringe = _polygon(canvas, line, 0.010)
    sky, lamp = _round(fringe, 0.0, -0.10, 0.46, 0.56)
    strand = np.asarray(1.0 + 0.22 * grain(fringe.mask.shape, 80, 20, 94), np.float32)
    grey = np.clip((fringe.y - at(0, -0.36)[1]) / (0.2 * FACE), 0.0, 1.0)[:, :, None]
    colour = np.array(HAIR, np.float32) + grey * (np.array(GREY, np.float32) - np.array(HAIR, np.float32))
    canvas.lay(fringe, np.asarray(strand[:, :, None] * colour, np.float32), sky=sky, sun=0.10, lamp=lamp * 1.4)
