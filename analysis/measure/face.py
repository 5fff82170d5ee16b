"""Finds faces on a small picture with a small neural network (YuNet, run by OpenCV).

Measured on about 520 faces: at 320 pixels of width 95 % of faces 20 pixels high and all of 40 are found in ordinary
light, the latter of every complexion alike; what is lost is lost by level, below 8 IRE and above 98.5, so that dark
skin is lost about a stop sooner in the dark and kept a stop longer in the light.
The network sees codes, so a flat (log) picture loses small faces; stretching it helps those, but costs half of
the faces of a noisy dark picture. So only a picture whose *black* is lifted is stretched.
"""

from __future__ import annotations

import cv2
import msgspec
import numpy as np
import numpy.typing as npt

from analysis.measure.shrunken import Shrunken
from analysis.model.errors import SettingsError

WIDTH, WIDE = 320, 640
"""Widths of the small picture: of every search, and of the one a second that is made while nobody is found."""

KEEP, START = 0.6, 0.7
"""Confidence that keeps a face that is followed, and that a new face must have."""

LIFTED_BLACK, FLAT_RANGE, MOST_GAIN = 20, 150, 2.5
"""The stretch: only where the 1st percentile is at least this 8-bit code and the 99th less than that much above it."""

_OVERLAP = 0.3
_MOST_FACES = 500
_COLUMNS = 15
_TOO_LARGE = 64 << 20

Box = tuple[float, float, float, float]
"""x, y, width, height in picture pixels; not whole."""

Bytes = npt.NDArray[np.uint8]


class Face(msgspec.Struct, frozen=True, kw_only=True):
    """One face as found: ``box`` from hairline to chin in picture pixels, ``confidence`` 0 to 1.

    ``turn`` is how far the nose lies off the middle between the eyes, in eye distances, along the line
    of the eyes: about 0 from the front, positive to the right as seen.
    """

    box: Box
    confidence: float
    turn: float = 0.0


class FaceFinder:
    """The detector. One thread may use it at a time; it holds no memory of earlier pictures."""

    def __init__(self, model: bytes, name: str = "face model") -> None:
        """``model`` is the content of an ONNX file. Raises SettingsError when it is not a model of this kind."""
        try:
            if len(model) > _TOO_LARGE:
                raise ValueError("too large")
            content = np.frombuffer(model, np.uint8)
            self._detector = cv2.FaceDetectorYN.create(
                "onnx", content, np.zeros(0, np.uint8), (WIDTH, 180), KEEP, _OVERLAP, _MOST_FACES
            )
            self._size = (WIDTH, 180)
            self._detector.detect(np.zeros((180, WIDTH, 3), np.uint8))
        except (cv2.error, ValueError) as mistake:
            raise SettingsError(
                "this file is not a face model that can be used", name, "point to another one, or leave it out"
            ) from mistake

    def find(self, small: Shrunken) -> tuple[Face, ...]:
        """Every face of at least confidence :data:`KEEP`, in picture pixels, the most certain first."""
        size = small.bgr.shape[1], small.bgr.shape[0]
        if size != self._size:
            self._detector.setInputSize(size)
            self._size = size
        _, rows = self._detector.detect(stretched(small.bgr, small.luma))
        if rows is None:
            return ()
        found = [
            _face(row, small) for row in np.asarray(rows, np.float64).reshape(-1, _COLUMNS) if np.isfinite(row).all()
        ]
        return tuple(sorted(found, key=lambda face: -face.confidence))


def stretched(bgr: Bytes, luma: Bytes) -> Bytes:
    """The picture with its codes spread out where its black is lifted and its range small; otherwise as it is.

    >>> flat = np.tile(np.linspace(60, 140, 100).astype(np.uint8), (50, 1))
    >>> wide = stretched(cv2.merge([flat, flat, flat]), flat)
    >>> int(wide.min()), int(wide.max())
    (0, 200)
    """
    counts = np.cumsum(cv2.calcHist([luma], [0], None, [256], [0, 256]).ravel())
    low, high = (int(np.searchsorted(counts, part * counts[-1])) for part in (0.01, 0.99))
    if low < LIFTED_BLACK or not 0 < high - low < FLAT_RANGE:
        return bgr
    gain = min(MOST_GAIN, 255.0 / (high - low))
    return np.asarray(cv2.addWeighted(bgr, gain, bgr, 0.0, -low * gain), np.uint8)


def _face(row: npt.NDArray[np.float64], small: Shrunken) -> Face:
    across, down = small.scale
    left, top = small.area[:2]
    box = (left + float(row[0]) * across, top + float(row[1]) * down, float(row[2]) * across, float(row[3]) * down)
    points = row[4:14].reshape(5, 2) * (across, down)
    return Face(box=box, confidence=min(1.0, float(row[14])), turn=_turn(points))


def _turn(points: npt.NDArray[np.float64]) -> float:
    """Offset of the nose along the line of the eyes; the first two points are the eyes, as seen left and right."""
    left, right, nose = points[0], points[1], points[2]
    between = right - left
    distance = float(between @ between)
    if distance < 1e-6:
        return 1.0
    return float((nose - (left + right) / 2.0) @ between) / distance
