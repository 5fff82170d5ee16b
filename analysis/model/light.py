"""The light of a scene as a coarse map: what turns of exposure are recognised in."""

from __future__ import annotations

import msgspec
import numpy as np
import numpy.typing as npt

from analysis.model.instant import Instant

ROWS, COLUMNS = 27, 48
"""Cells of a map, of the active picture: 40 pixels square at 1920 x 1080."""

Box = tuple[float, float, float, float]
"""Left, top, width and height in fractions of the active picture."""


class LightMap(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """How bright every cell of the active picture is; all arrays have shape (rows, columns).

    ``stops`` float32 is log2(mean linear luminance / 0.18). ``room`` float32 is how many stops the brightest
    channel of the cell lies below the clip. ``trusted`` says where neither clipped nor crushed pixels nor coarse codes
    spoil the mean, so that a change measured there is true. Where ``clipped``, the light is at least what ``stops``
    says; where ``crushed``, at most. ``area`` is the active picture in pixels. ``shift`` is by how many cells (down,
    right) the view has moved in the picture since the map was laid over it: a camera in the hand is followed, so that
    a cell stays on the same thing. What came in from outside is neither trusted nor anything else.
    """

    stops: npt.NDArray[np.float32]
    room: npt.NDArray[np.float32]
    trusted: npt.NDArray[np.bool_]
    clipped: npt.NDArray[np.bool_]
    crushed: npt.NDArray[np.bool_]
    at: Instant
    generation: int
    area: tuple[int, int, int, int]
    shift: tuple[float, float] = (0.0, 0.0)


class SeenSitter(msgspec.Struct, frozen=True, kw_only=True):
    """A face at the time of a map: its box in fractions of the active picture, and whether it is the main one."""

    box: Box
    main: bool = True
