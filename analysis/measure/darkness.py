"""How much of a picture is dark, cheaply: the question behind "no signal, or a lens cap?"."""

from __future__ import annotations

from math import floor

import numpy as np

from analysis.model.frame import Frame, Picture
from analysis.signal.layouts import component, layout
from analysis.signal.levels import code

DARK_PERCENT = 10.0
"""At or below this level, in IRE, a pixel is dark."""

_SAMPLES = 128  # per direction: 16,384 samples resolve a share to well under one percent


def dark_share(picture: Picture | Frame) -> float:
    """Share (0 to 1) of pixels whose luma is at or below 10 IRE.

    Looks at a regular grid of at most 255 by 255 pixels, not at all of them: cheap enough for
    every frame of any size, exact up to 128 pixels on a side. In R'G'B' layouts a pixel is dark
    when its largest component is.
    """
    shape = picture.format
    how = layout(shape.layout)
    rows, columns = max(1, shape.height // _SAMPLES), max(1, shape.width // _SAMPLES)
    count = 3 if how.is_rgb else 1
    samples = component(how, picture.planes, 0, shape.width)[::rows, ::columns]
    for index in range(1, count):
        samples = np.maximum(samples, component(how, picture.planes, index, shape.width)[::rows, ::columns])
    limit = floor(code(DARK_PERCENT, how.depth, shape.encoding.range))
    return float(np.count_nonzero(samples >> how.shift <= limit) / samples.size)
