"""The boat on the stocks: planked hull, stem, gunwale, brass and the props that hold it."""

from __future__ import annotations

import numpy as np

from analysis.feed.scene.canvas import Canvas, Point, grain
from analysis.feed.scene.room import lamp_glow

STRAKES = 8
STERN_X = 2.0
BRASS_PLACE = (-0.072, 0.392)
_FALL = 0.62
"""Heights over which the lake light on the hull falls to 1/e."""


def _stem(t: float) -> Point:
    """A point of the stem, t from 0 at the sheer to 1 at the keel."""
    return -0.085 + 0.03 * t + 0.20 * t**2.6, 0.372 + 0.475 * t


def _seam(t: float) -> list[Point]:
    """One seam from the stem to the stern, t from 0 at the sheer to 1 at the keel."""
    x0, y0 = _stem(t)
    points = []
    for s in np.linspace(0.0, 1.0, 28):
        x = x0 + (STERN_X - x0) * s
        sag = 0.055 * np.sin(np.pi * min(1.0, s * 1.5)) * (1.0 - 0.9 * t)
        fan = 0.055 * (1.0 - np.exp(-5.0 * s)) * (t - 0.35)
        points.append((float(x), float(y0 + sag + fan - 0.10 * s * (1.0 - t))))
    return points


def paint(canvas: Canvas) -> None:
    """Paint the hull, lit from the doors on the left and, where it is on, by the lamp."""
    rise = np.random.default_rng(61).uniform(0.80, 1.18, STRAKES)
    seams = [_seam(k / STRAKES) for k in range(STRAKES + 1)]
    for k in range(STRAKES):
        strake = canvas.polygon([*seams[k], *reversed(seams[k + 1])], 0.0004)
        if not strake.mask.size:
            continue
        fibre = 1.0 + 0.10 * grain(strake.mask.shape, 22, 60, 62 + k) + 0.05 * grain(strake.mask.shape, 90, 120, 82 + k)
        wood = np.asarray(rise[k] * fibre, np.float32)[:, :, None] * np.array((0.300, 0.172, 0.085), np.float32)
        under = 1.0 - 0.62 * (k / (STRAKES - 1)) ** 1.2
        sky = (0.92 * np.exp(-np.clip(strake.x + 0.09, 0.0, None) / _FALL) + 0.03) * under + 0.0 * strake.y
        canvas.lay(strake, wood, sky=np.asarray(sky, np.float32), sun=np.asarray(0.10 * sky, np.float32),
                   lamp=lamp_glow(strake, 1.7 * under + 0.1, 0.27))  # fmt: skip
    for k in range(1, STRAKES):
        _lap(canvas, seams[k])
    _edges(canvas, seams[0])
    _props(canvas)


def _lap(canvas: Canvas, seam: list[Point]) -> None:
    """The shadow under the edge of a plank and the light that catches the edge itself."""
    shadow = canvas.polygon([*seam, *[(x, y + 0.0075) for x, y in reversed(seam)]], 0.0012)
    canvas.shade(shadow, 0.42)
    catch = canvas.polygon([*[(x, y - 0.004) for x, y in seam], *reversed(seam)], 0.0008)
    canvas.shade(catch, 1.35)


def _edges(canvas: Canvas, sheer: list[Point]) -> None:
    rail = canvas.polygon(
        [*[(x - 0.004, y - 0.020) for x, y in sheer], *[(x, y + 0.006) for x, y in reversed(sheer)]], 0.0006
    )
    fall = 0.95 * np.exp(-np.clip(rail.x + 0.10, 0.0, None) / _FALL) + 0.05 + 0.0 * rail.y
    canvas.lay(rail, (0.50, 0.33, 0.175), sky=np.asarray(fall, np.float32), sun=0.12, lamp=lamp_glow(rail, 2.2, 0.25))
    inner = [_stem(t) for t in np.linspace(0.0, 1.0, 24)]
    stem = canvas.polygon([(-0.112, 0.335), (-0.088, 0.335), *[(x + 0.012, y) for x, y in inner],
                           *[(x - 0.020, y + 0.004) for x, y in reversed(inner)]], 0.0008)  # fmt: skip
    canvas.lay(stem, (0.36, 0.235, 0.125), sky=0.98, sun=0.25, lamp=0.05)


def _props(canvas: Canvas) -> None:
    for x, lean in ((0.02, 0.05), (0.64, 0.05), (1.25, 0.05)):
        prop = canvas.polygon([(x, 0.98), (x + 0.036, 0.98), (x + lean + 0.030, 0.70), (x + lean, 0.70)], 0.001)
        fibre = np.asarray(1.0 + 0.10 * grain(prop.mask.shape, 4, 30, 71), np.float32)
        light = float(0.55 * np.exp(-max(0.0, x + 0.1) / _FALL) + 0.04)
        canvas.lay(prop, fibre[:, :, None] * np.array((0.30, 0.225, 0.150), np.float32), sky=light, sun=0.05, lamp=0.12)
    chock = canvas.polygon([(0.02, 0.86), (STERN_X, 0.835), (STERN_X, 0.90), (0.02, 0.92)], 0.001)
    canvas.lay(chock, (0.13, 0.098, 0.07), sky=0.16, sun=0.02, lamp=0.10)


def paint_brass(canvas: Canvas) -> None:
    """The brass fitting on the stem head with the one hard reflection of the sky in it."""
    x, y = BRASS_PLACE
    canvas.lay(canvas.ellipse(x, y, 0.021, 0.024, 0.06), (0.46, 0.31, 0.095), sky=0.75, sun=0.5, lamp=0.15)
    canvas.lay(canvas.ellipse(x + 0.002, y + 0.003, 0.011, 0.013, 0.10), (0.11, 0.07, 0.03), sky=0.5, sun=0.2)
    canvas.shine(canvas.ellipse(x - 0.011, y - 0.012, 0.0062, 0.0050, 0.25), sky=9.0, sun=30.0)
