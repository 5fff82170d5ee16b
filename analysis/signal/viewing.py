"""The viewing transform: how the small picture is shown, so that nobody has to look at log.

>>> from analysis.model.frame import Encoding
>>> log = Encoding(bits=10, range="narrow", matrix="bt709", curve="acescct")
>>> viewing_for(log, "auto").apply(np.full((1, 1, 3), 105, np.uint8)).tolist()  # 41.2 %: an 18 % card
[[[103, 103, 103]]]
"""

from __future__ import annotations

from itertools import pairwise
from typing import Literal

import cv2
import msgspec
import numpy as np
import numpy.typing as npt

from analysis.model.errors import SettingsError, StopkeeperError
from analysis.model.frame import Encoding
from analysis.signal.curves import Curve, curve
from analysis.signal.tables import LookUpTable, identity_cube
from analysis.signal.viewing_render import (
    between_primaries,
    display_level,
    scene_light,
    top_stops,
)

ViewingChoice = Literal["auto", "signal", "table"]
AS_IT_IS = ("bt709", "srgb")
"""Curves made for a screen: their pictures are shown code for code."""
BAKED = 65
"""Nodes along an axis where a formula is laid down as a 3-D table: steps of four 8-bit codes."""
_FARTHEST_APART, _MOST_LINES = 8.0, 86

Bytes = npt.NDArray[np.uint8]
Singles = npt.NDArray[np.float32]


class ViewingTransform(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """Turns the small picture of a feed into one for the eye.

    ``label`` says in words what is shown; ``trouble`` why it is not what was asked for, None when it is.
    Built once per format by :func:`viewing_for`; immutable, so any thread may use it.
    """

    label: str
    trouble: str | None = None
    levels: Bytes | None = None
    """Per-channel form: output codes of the 256 input codes, shape (256, 1, 3)."""
    sheets: Singles | None = None
    """3-D form: output levels in codes for every blue code, one sheet of (green, red) below the other."""
    places: Singles | None = None
    """3-D form: for each code the column of red, the row of green and the first row of blue, (256, 1, 3)."""

    def apply(self, small: Bytes) -> Bytes:
        """The picture as it is to be shown: uint8 R'G'B' of shape (height, width, 3) in and out.

        Never raises for such an array of any size and memory order; the input is not changed.
        """
        if not small.size:
            return small
        if self.levels is not None:
            return np.asarray(cv2.LUT(np.ascontiguousarray(small), self.levels), np.uint8)
        if self.sheets is None or self.places is None:
            return small
        place = cv2.LUT(np.ascontiguousarray(small), self.places)
        rows, columns = place[..., 1] + place[..., 2], np.ascontiguousarray(place[..., 0])
        # Blue has a sheet of its own for each code, so straight lines along two axes are enough.
        shown = np.asarray(cv2.remap(self.sheets, columns, rows, cv2.INTER_LINEAR))
        # A plain conversion that rounds and stops at 0 and 255.
        return np.asarray(cv2.addWeighted(shown, 1.0, shown, 0.0, 0.0, dtype=cv2.CV_8U), np.uint8)


def viewing_for(encoding: Encoding, choice: ViewingChoice, table: LookUpTable | None = None) -> ViewingTransform:
    """The transform for a feed of this encoding.

    ``auto`` shows a picture through the display transform of its curve, BT.709 and sRGB as they are;
    ``signal`` shows every picture as it comes; ``table`` through the operator's table, whose input is the
    signal (0 to 1 for 0 to 100 IRE). A curve that nobody named, or that cannot be had, is shown as it
    comes and ``trouble`` says so. Raises SettingsError only when a table is chosen and none is given.
    """
    if choice == "signal":
        return ViewingTransform(label="as it comes")
    if choice == "table":
        if table is None:
            raise SettingsError("no table is given to view through", "viewing", "name a .cube or .clf file")
        return through_table(table)
    if encoding.curve is None:
        return ViewingTransform(label="as it comes", trouble="nobody said which curve this picture has")
    try:
        known = curve(encoding.curve)
    except StopkeeperError as error:
        return ViewingTransform(label="as it comes", trouble=error.line())
    if encoding.matrix == "bt2020":
        return _from_wide(known)
    if known.name in AS_IT_IS:
        return ViewingTransform(label=f"{known.name}, as it is")
    signal = np.arange(256) / 255.0
    levels = display_level(scene_light(known, signal), top_stops(known))
    return ViewingTransform(label=f"{known.name} shown as bt709", levels=_codes(np.stack([levels] * 3, axis=-1)))


def through_table(table: LookUpTable) -> ViewingTransform:
    """The transform that shows the signal through a table."""
    label = f"table {table.title}" if table.title else "table"
    if table.is_cube:
        return _cube(label, table)
    signal = np.repeat(np.arange(256)[:, np.newaxis] / 255.0, 3, axis=1)
    return ViewingTransform(label=label, levels=_codes(table.apply(signal)))


def _from_wide(known: Curve) -> ViewingTransform:
    """A picture with BT.2020 primaries: light, matrix, display, laid down as a 3-D table."""
    light = scene_light(known, identity_cube(BAKED)) @ between_primaries().T
    light = np.maximum(light, 0.0)
    if known.name in AS_IT_IS:
        shown, label = np.asarray(known.encode(light)), f"{known.name}, bt2020 primaries to bt709"
    else:
        shown, label = display_level(light, top_stops(known)), f"{known.name} shown as bt709, primaries from bt2020"
    return _cube(label, LookUpTable(values=np.clip(shown, 0.0, 1.0).astype(np.float32)))


def _codes(levels: npt.NDArray[np.float64]) -> Bytes:
    """Levels of the 256 codes, shape (256, 3), as the nearest codes."""
    codes = np.clip(np.floor(levels * 255.0 + 0.5), 0.0, 255.0).astype(np.uint8)
    return codes.reshape(256, 1, 3)


def _cube(label: str, table: LookUpTable) -> ViewingTransform:
    lines = [_lines(table.nodes(channel)) for channel in range(3)]
    red, green = lines[0], lines[1]
    values = table.values.astype(np.float64)
    for axis, at in ((0, np.arange(256.0)), (1, green), (2, red)):
        values = _between(values, axis, at / 255.0, table.nodes(2 - axis))
    codes = np.arange(256.0)
    columns, rows = (np.interp(codes, line, np.arange(len(line))) for line in (red, green))
    places = np.stack((columns, rows, codes * len(green)), axis=-1).astype(np.float32)
    sheets = np.ascontiguousarray((values * 255.0).reshape(256 * len(green), len(red), 3), np.float32)
    return ViewingTransform(label=label, sheets=sheets, places=places.reshape(256, 1, 3))


def _lines(nodes: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Where to keep values along an axis, in codes from 0 to 255: at the nodes, and close enough together.

    Eight codes at most, because OpenCV interpolates in steps of 1/32 between two lines.
    """
    inside = nodes[(nodes > 0.0) & (nodes < 1.0)] * 255.0
    edges = np.concatenate(([0.0], inside, [255.0]))
    lines = [np.array([0.0])]
    for first, last in pairwise(edges.tolist()):
        pieces = int(np.ceil((last - first) / _FARTHEST_APART))
        lines.append(first + (last - first) * np.arange(1, pieces + 1) / pieces)
    together = np.concatenate(lines)
    return together if len(together) <= _MOST_LINES else np.linspace(0.0, 255.0, _MOST_LINES)


def _between(
    values: npt.NDArray[np.float64], axis: int, at: npt.NDArray[np.float64], nodes: npt.NDArray[np.float64]
) -> npt.NDArray[np.float64]:
    """Values along one axis at other inputs: linear between nodes, held beyond them."""
    place = np.interp(at, nodes, np.arange(len(nodes)))
    cell = np.minimum(place.astype(np.intp), len(nodes) - 2)
    shape = [1] * values.ndim
    shape[axis] = len(at)
    part = (place - cell).reshape(shape)
    below = np.take(values, cell, axis=axis)
    return below + part * (np.take(values, cell + 1, axis=axis) - below)
