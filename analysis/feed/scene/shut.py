"""The doors of the boathouse when they are shut: boards where the lake was, and nothing bright in the picture."""

from __future__ import annotations

import numpy as np

from analysis.feed.scene.canvas import Canvas, grain
from analysis.feed.scene.outside import DOOR_BOTTOM, DOOR_LEFT, DOOR_RIGHT, DOOR_TOP

EDGE = 0.02
"""How far the leaves reach over the frame, in heights: its white edges face the water and are not seen."""


def paint(canvas: Canvas) -> None:
    """Two leaves over the opening, lit by what the room gives back."""
    leaves = canvas.box(DOOR_LEFT - EDGE, DOOR_TOP - 0.012, DOOR_RIGHT + EDGE, DOOR_BOTTOM + EDGE, 0.001)
    gap = 1.0 - 0.5 * (np.abs(np.sin((leaves.x - DOOR_LEFT) * 62.0)) < 0.12)
    fibre = 1.0 + 0.10 * grain(leaves.mask.shape, 40, 60, 57)
    paint_ = np.asarray(gap * fibre, np.float32)[:, :, None] * np.array((0.20, 0.27, 0.25), np.float32)
    light = np.asarray(0.10 + 0.14 * (leaves.y - DOOR_TOP) + 0.0 * leaves.x, np.float32)
    canvas.lay(leaves, paint_, sky=light, sun=0.0, lamp=0.03)
    middle = (DOOR_LEFT + DOOR_RIGHT) / 2.0
    canvas.shade(canvas.box(middle - 0.003, DOOR_TOP, middle + 0.003, DOOR_BOTTOM, 0.001), 0.25)
    for y in (0.30, 0.76):
        canvas.lay(canvas.box(DOOR_LEFT, y, DOOR_RIGHT, y + 0.035, 0.001), (0.15, 0.20, 0.185), sky=0.16, lamp=0.03)
