"""What is seen through the doors: sky, far shore, the lake and a moored boat."""

from __future__ import annotations

import numpy as np

from analysis.feed.scene.canvas import Canvas, grain

DOOR_LEFT, DOOR_TOP, DOOR_RIGHT, DOOR_BOTTOM = -0.80, 0.165, -0.215, 0.87
HORIZON = 0.455
SUN_COLUMN = -0.44


def paint(canvas: Canvas) -> None:
    """Paint the view inside the door opening, in units of the key light."""
    _sky(canvas)
    _shore(canvas)
    _water(canvas)
    _moored_boat(canvas)
    _slip(canvas)


def _sky(canvas: Canvas) -> None:
    sky = canvas.box(DOOR_LEFT, DOOR_TOP, DOOR_RIGHT, HORIZON + 0.02)
    cloud = grain(sky.mask.shape, 5, 4, 11) * 0.05 + grain(sky.mask.shape, 11, 9, 12) * 0.03
    height = (HORIZON - sky.y) / (HORIZON - DOOR_TOP)
    glow = np.exp(-(((sky.x - SUN_COLUMN) / 0.16) ** 2) - ((sky.y - 0.27) / 0.11) ** 2)
    bright = np.asarray(0.70 + 0.17 * height + cloud, np.float32)
    canvas.lay(sky, (0.90, 0.97, 1.06), sky=bright, sun=np.asarray(0.22 + 1.5 * glow, np.float32), lamp=0.0)


def _shore(canvas: Canvas) -> None:
    steps = np.linspace(DOOR_LEFT - 0.02, DOOR_RIGHT + 0.02, 40)
    for base, rise, colour, light, seed in (
        (0.402, 0.030, (0.30, 0.36, 0.40), 0.95, 21),
        (0.432, 0.018, (0.13, 0.17, 0.14), 0.85, 22),
    ):
        wave = grain((2, 40), 9, 2, seed)[0]
        ridge = [(float(x), float(base - rise * 0.5 * w)) for x, w in zip(steps, wave, strict=True)]
        hill = canvas.polygon([*ridge, (DOOR_RIGHT + 0.02, HORIZON), (DOOR_LEFT - 0.02, HORIZON)])
        texture = 1.0 + 0.12 * grain(hill.mask.shape, 60, 12, seed + 5)
        canvas.lay(hill, colour, sky=light * texture, sun=0.25, lamp=0.0)


def _water(canvas: Canvas) -> None:
    water = canvas.box(DOOR_LEFT, HORIZON, DOOR_RIGHT, DOOR_BOTTOM)
    depth = (water.y - HORIZON) / (DOOR_BOTTOM - HORIZON)
    shape = water.mask.shape
    fine = grain(shape, 26, 110, 31) * np.clip(1.0 - 1.3 * depth, 0.0, 1.0)
    broad = grain(shape, 11, 34, 32) * np.clip(0.2 + depth, 0.0, 1.0)
    ripple = fine + broad
    path = np.exp(-(((water.x - SUN_COLUMN) / (0.06 + 0.10 * depth)) ** 2))
    glitter = np.clip(ripple - 0.55, 0.0, 2.0) * path * 3.0
    light = 0.60 - 0.30 * depth + 0.06 * ripple + 0.10 * path * np.clip(ripple, 0.0, 1.5)
    canvas.lay(water, (0.80, 0.94, 1.02), sky=np.clip(light, 0.08, 2.0), sun=0.15 + glitter, lamp=0.0)


def _moored_boat(canvas: Canvas) -> None:
    hull = [(-0.70, 0.520), (-0.655, 0.532), (-0.58, 0.535), (-0.53, 0.524), (-0.54, 0.550), (-0.66, 0.552)]
    canvas.lay(canvas.polygon(hull), (0.10, 0.14, 0.18), sky=0.7, sun=0.3)
    canvas.lay(canvas.polygon([(-0.70, 0.518), (-0.53, 0.522), (-0.532, 0.530), (-0.695, 0.528)]), (0.7, 0.68, 0.6))
    canvas.lay(canvas.polygon([(-0.622, 0.36), (-0.617, 0.36), (-0.615, 0.526), (-0.622, 0.526)]), (0.20, 0.17, 0.13))
    reflection = canvas.polygon([(-0.68, 0.556), (-0.55, 0.556), (-0.57, 0.60), (-0.66, 0.60)], 0.006)
    canvas.tint(reflection, 0.55)
    for x, top in ((-0.30, 0.50), (-0.255, 0.53)):
        canvas.lay(canvas.box(x, top, x + 0.013, top + 0.17, 0.001), (0.09, 0.075, 0.06), sky=0.7, sun=0.2)


def _slip(canvas: Canvas) -> None:
    """The wet slipway that runs from the sill into the water."""
    slip = canvas.polygon([(-0.68, DOOR_BOTTOM), (-0.34, DOOR_BOTTOM), (-0.415, 0.745), (-0.535, 0.745)], 0.002)
    rungs = 0.85 + 0.3 * (np.sin(slip.y * 150.0) > 0.2)
    wet = 1.0 + 0.15 * grain(slip.mask.shape, 20, 40, 41)
    canvas.lay(slip, (0.26, 0.24, 0.21), sky=np.asarray(0.95 * rungs * wet, np.float32), sun=0.35)
