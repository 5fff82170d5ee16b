"""The lamp as a key: beside the camera, on the side of the lake, turned to the sitter."""

from __future__ import annotations

import numpy as np

from analysis.feed.scene.canvas import Canvas
from analysis.feed.scene.sitter import FILL

SPILL = 0.02
"""What reaches the room behind, as a part of what reaches the sitter."""


def light(behind: Canvas, front: Canvas) -> None:
    """Take the lamp from the bench and light the sitter with it, from where the lake light comes.

    The lit side reaches exactly what the lake gives it at full power; the side away gets nothing, as of a lamp in
    a dark room.
    """
    behind.light["lamp"][:] = SPILL
    lake = front.light["sky"]
    front.light["lamp"][:] = np.clip((lake - FILL) / (1.0 - FILL), 0.0, None)
