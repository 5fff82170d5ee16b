"""The boathouse inside: roof, walls, doors, floor and bench."""

from __future__ import annotations

import numpy as np

from analysis.feed.scene.canvas import Canvas, Patch, grain
from analysis.feed.scene.outside import DOOR_BOTTOM, DOOR_LEFT, DOOR_RIGHT

WIDE = 2.4
"""How far to each side things are painted, in heights: enough for a picture of 4.8 to 1."""
LAMP_PLACE = (0.70, 0.262)
CARD_BOX = (-0.150, 0.668, -0.055, 0.800)
"""An 18 % grey card that faces the key (left, top, right, bottom)."""
CARD_REFLECTANCE = 0.18


def paint_shell(canvas: Canvas) -> None:
    """Walls, roof and floor, before anything stands in the room."""
    _wall(canvas)
    _roof(canvas)
    _floor(canvas)


def lamp_glow(patch: Patch, strength: float, reach: float) -> np.ndarray[tuple[int, ...], np.dtype[np.float32]]:
    """Irradiance of the work lamp on a surface behind it."""
    x, y = LAMP_PLACE
    square = ((patch.x - x) / reach) ** 2 + ((patch.y - y - 0.05) / (1.15 * reach)) ** 2
    return np.asarray(strength / (1.0 + square) ** 2, np.float32)


def _wall(canvas: Canvas) -> None:
    wall = canvas.everything()
    board = np.floor(wall.x / 0.075)
    tone = 1.0 + 0.22 * np.sin(board * 12.9898) + 0.0 * wall.y
    seam = 1.0 - 0.7 * (np.abs(wall.x / 0.075 - np.round(wall.x / 0.075)) < 0.035)
    fibre = 1.0 + 0.10 * grain(wall.mask.shape, 260, 9, 51)
    wood = np.asarray(tone * seam * fibre, np.float32)[:, :, None] * np.array((0.150, 0.112, 0.082), np.float32)
    away = np.clip(wall.x - DOOR_RIGHT, 0.0, None)
    sky = 0.22 * np.exp(-away / 0.55) * np.clip(1.15 - 0.4 * np.abs(wall.y - 0.55), 0.2, 1.2) + 0.018
    canvas.lay(wall, wood, sky=np.asarray(sky, np.float32), sun=0.02, lamp=lamp_glow(wall, 0.9, 0.30))


def _roof(canvas: Canvas) -> None:
    roof = canvas.box(-WIDE, -0.1, WIDE, 0.150, 0.004)
    lines = 1.0 - 0.5 * (np.abs(np.sin(roof.y * 95.0)) < 0.12)
    canvas.lay(roof, (0.075, 0.056, 0.042), sky=np.asarray((0.085 + 0.10 * roof.y) * lines, np.float32), lamp=0.05)
    for number in range(-12, 13):
        foot = 0.28 * number - 0.06
        head = foot * 0.52 + 0.03
        rafter = canvas.polygon([(head, -0.02), (head + 0.035, -0.02), (foot + 0.052, 0.155), (foot, 0.155)], 0.001)
        lit = np.clip(0.22 - 0.13 * (foot - DOOR_RIGHT), 0.07, 0.32)
        canvas.lay(rafter, (0.15, 0.112, 0.080), sky=float(lit), sun=0.02, lamp=0.12)
        canvas.shade(canvas.polygon([(head + 0.025, -0.02), (head + 0.035, -0.02), (foot + 0.052, 0.155),
                                     (foot + 0.036, 0.155)], 0.001), 0.45)  # fmt: skip
    beam = canvas.box(-WIDE, 0.118, WIDE, 0.172, 0.001)
    fibre = 1.0 + 0.12 * grain(beam.mask.shape, 30, 14, 52)
    under = np.clip((beam.y - 0.118) / 0.054, 0.0, 1.0)
    fall = np.clip(0.42 - 0.22 * (beam.x - DOOR_RIGHT), 0.10, 0.45)
    canvas.lay(beam, (0.17, 0.128, 0.092), sky=np.asarray(fall * (0.35 + 0.75 * under) * fibre, np.float32),
               sun=0.03, lamp=lamp_glow(beam, 0.6, 0.25))  # fmt: skip


def _floor(canvas: Canvas) -> None:
    floor = canvas.box(-WIDE, 0.855, WIDE, 1.1, 0.002)
    plank = 1.0 - 0.55 * (np.abs(np.sin(((floor.x + 0.5) / (floor.y - 0.55)) * 9.0)) < 0.10)
    wear = 1.0 + 0.16 * grain(floor.mask.shape, 40, 10, 53)
    spill = np.exp(-(((floor.x + 0.47 + 0.5 * (floor.y - 0.87)) / 0.30) ** 2))
    sky = (0.10 + 0.85 * spill) * plank * wear
    canvas.lay(floor, (0.215, 0.180, 0.145), sky=np.asarray(np.clip(sky, 0.02, 2.0), np.float32),
               sun=np.asarray(1.1 * spill * plank, np.float32), lamp=0.06)  # fmt: skip


def paint_doors(canvas: Canvas) -> None:
    """The frame and the two leaves, painted after the view so that they cut into it."""
    leaf = canvas.polygon([(DOOR_LEFT - 0.20, 0.10), (DOOR_LEFT + 0.012, 0.185), (DOOR_LEFT + 0.012, 0.885),
                           (DOOR_LEFT - 0.20, 0.985)], 0.001)  # fmt: skip
    gap = 1.0 - 0.5 * (np.abs(np.sin((leaf.x - DOOR_LEFT) * 62.0)) < 0.12)
    paint = np.asarray(gap * (1.0 + 0.10 * grain(leaf.mask.shape, 20, 60, 54)), np.float32)
    canvas.lay(leaf, paint[:, :, None] * np.array((0.20, 0.27, 0.25), np.float32), sky=0.42, sun=0.2, lamp=0.03)
    canvas.lay(
        canvas.box(DOOR_LEFT - 0.002, 0.165, DOOR_LEFT + 0.014, 0.885, 0.001), (0.72, 0.72, 0.68), sky=0.85, sun=0.5
    )
    post = canvas.box(DOOR_RIGHT - 0.004, 0.165, DOOR_RIGHT + 0.048, 0.885, 0.001)
    fibre = np.asarray(1.0 + 0.10 * grain(post.mask.shape, 6, 40, 55), np.float32)
    canvas.lay(post, fibre[:, :, None] * np.array((0.20, 0.155, 0.115), np.float32), sky=0.30, sun=0.05, lamp=0.05)
    # The bright edge: old white paint on the side that faces the water.
    canvas.lay(
        canvas.box(DOOR_RIGHT - 0.010, 0.172, DOOR_RIGHT + 0.004, 0.885, 0.001), (0.80, 0.80, 0.77), sky=1.02, sun=0.7
    )
    canvas.lay(canvas.box(DOOR_LEFT, 0.158, DOOR_RIGHT, 0.176, 0.001), (0.16, 0.122, 0.09), sky=0.30, sun=0.05)
    for y in (0.27, 0.74):
        canvas.lay(
            canvas.box(DOOR_RIGHT + 0.002, y, DOOR_RIGHT + 0.040, y + 0.022, 0.001), (0.06, 0.06, 0.065), sky=0.5
        )
    canvas.lay(canvas.box(DOOR_LEFT + 0.01, DOOR_BOTTOM - 0.012, DOOR_RIGHT, DOOR_BOTTOM + 0.01, 0.001),
               (0.34, 0.31, 0.27), sky=0.9, sun=0.6)  # fmt: skip


def paint_bench(canvas: Canvas) -> None:
    """The bench with its tools and the grey card, which faces the doors as the sitter's face does."""
    canvas.lay(canvas.box(-0.205, 0.835, 0.125, 1.1, 0.002), (0.11, 0.085, 0.062), sky=0.22, sun=0.03, lamp=0.05)
    top = canvas.polygon([(-0.185, 0.797), (0.115, 0.797), (0.140, 0.842), (-0.222, 0.842)], 0.001)
    fibre = np.asarray(1.0 + 0.13 * grain(top.mask.shape, 12, 26, 56), np.float32)
    canvas.lay(top, fibre[:, :, None] * np.array((0.34, 0.255, 0.17), np.float32), sky=0.62, sun=0.10, lamp=0.08)
    tin = canvas.box(0.020, 0.715, 0.085, 0.812, 0.001)
    round_ = np.asarray(0.25 + 0.75 * np.clip(1.0 - np.abs((tin.x - 0.038) / 0.050) ** 1.6, 0.0, 1.0) + 0.0 * tin.y)
    canvas.lay(tin, (0.33, 0.075, 0.055), sky=np.asarray(0.85 * round_, np.float32), sun=0.08, lamp=0.10)
    canvas.lay(canvas.ellipse(0.0525, 0.715, 0.033, 0.010, 0.05), (0.50, 0.48, 0.44), sky=0.75, sun=0.1)
    for x, lean in ((0.038, -0.020), (0.058, 0.016)):
        brush = canvas.polygon([(x, 0.716), (x + 0.007, 0.716), (x + lean + 0.007, 0.640), (x + lean, 0.640)], 0.001)
        canvas.lay(brush, (0.42, 0.30, 0.17), sky=0.7)
    left, upper, right, lower = CARD_BOX
    canvas.lay(
        canvas.box(left - 0.012, upper - 0.012, right + 0.012, lower + 0.006), (0.035,) * 3, sky=0.9, sun=0.0, lamp=0.0
    )
    canvas.lay(canvas.box(left - 0.006, upper - 0.006, right + 0.006, lower), (CARD_REFLECTANCE,) * 3, sky=1.0)


def paint_lamp(canvas: Canvas) -> None:
    """The work lamp on its cable; its bulb is a light source of its own, far beyond the clip when lit."""
    x, y = LAMP_PLACE
    canvas.lay(canvas.box(x - 0.003, -0.05, x + 0.003, y - 0.06), (0.03, 0.03, 0.03), sky=0.2, lamp=0.05)
    shade = canvas.polygon(
        [(x - 0.016, y - 0.070), (x + 0.016, y - 0.070), (x + 0.058, y - 0.004), (x - 0.058, y - 0.004)]
    )
    side = np.asarray(0.30 * np.clip(1.2 - (shade.x - x + 0.03) / 0.07, 0.15, 1.4) + 0.0 * shade.y, np.float32)
    canvas.lay(shade, (0.10, 0.17, 0.14), sky=side, sun=0.02, lamp=0.10)
    canvas.lay(canvas.ellipse(x, y - 0.002, 0.056, 0.011, 0.08), (0.62, 0.60, 0.55), sky=0.12, lamp=6.0)
    canvas.lay(canvas.ellipse(x, y + 0.002, 0.020, 0.011, 0.15), (0.75, 0.73, 0.68), sky=0.20, lamp=26.0)
