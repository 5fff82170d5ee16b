"""Pictures to measure: a room with a window and a sitter, and the worst there is."""

from __future__ import annotations

import cv2
import numpy as np

from analysis.model.frame import Encoding, Frame, FrameFormat
from analysis.model.instant import Instant


def room(width: int, height: int) -> np.ndarray:
    """Y0 Cb Y1 Cr of a dim room, a bright window, a face and sensor noise; shape (height, width / 2, 4)."""
    rng = np.random.default_rng(1)
    cloudy = rng.integers(0, 256, (12, 20, 4), dtype=np.uint8)
    wall = cv2.resize(cloudy, (width // 2, height), interpolation=cv2.INTER_CUBIC).astype(np.float32) - 128
    down, along = np.mgrid[0:height, 0 : width // 2].astype(np.float32)
    down, along = down / height, along / (width // 2)
    light = 35 + 50 * np.exp(-6 * ((along - 0.4) ** 2 + (down - 0.6) ** 2)) + 0.06 * wall[:, :, 0]
    window = (along > 0.7) & (along < 0.95) & (down > 0.1) & (down < 0.75)
    light = np.where(window, 218 + 0.12 * wall[:, :, 2], light)
    light = np.where(down < 0.12, 19, light)
    face = 3 * (along - 0.4) ** 2 + (down - 0.5) ** 2 < 0.03
    light = np.where(face, 130 + 20 * np.sin(9 * along), light)
    picture = np.stack(
        [light, 128 + 0.08 * wall[:, :, 1] - 14 * face, light, 128 + 0.08 * wall[:, :, 3] + 18 * face], axis=-1
    )
    return np.clip(picture + rng.normal(0, 1.5, picture.shape), 1, 254).astype(np.uint8)


def noise(width: int, height: int) -> np.ndarray:
    """Random codes everywhere: every tile of the picture holds everything that must be counted."""
    return np.random.default_rng(2).integers(0, 256, (height, width // 2, 4), dtype=np.uint8)


def luma(picture: np.ndarray) -> np.ndarray:
    """The luma plane of such a picture."""
    return np.ascontiguousarray(picture[:, :, ::2]).reshape(picture.shape[0], -1)


def frame(picture: np.ndarray, layout: str) -> Frame:
    """The picture as a frame of layout ``yuyv422``, ``yuv422p``, ``nv12`` or ``yuv422p10le``."""
    height, width = picture.shape[0], picture.shape[1] * 2
    if layout == "yuyv422":
        planes = (picture.reshape(height, 2 * width),)
    elif layout == "nv12":
        planes = (luma(picture), np.ascontiguousarray(picture[::2, :, 1::2]).reshape(height // 2, width))
    elif layout == "yuv422p":
        planes = (luma(picture), np.ascontiguousarray(picture[:, :, 1]), np.ascontiguousarray(picture[:, :, 3]))
    else:
        low = np.random.default_rng(3).integers(0, 4, (height, width), dtype=np.uint16)
        deep = [4 * plane.astype(np.uint16) for plane in (luma(picture), picture[:, :, 1], picture[:, :, 3])]
        planes = tuple(np.ascontiguousarray(plane + low[:, : plane.shape[1]]) for plane in deep)
    bits = 10 if layout.endswith("10le") else 8
    shape = FrameFormat(
        layout=layout, width=width, height=height, encoding=Encoding(bits=bits, range="narrow", matrix="bt709")
    )
    return Frame(planes=planes, format=shape, instant=Instant(0.0, 0.0), generation=1, sequence=0)
