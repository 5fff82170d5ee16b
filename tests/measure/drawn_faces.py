"""Faces drawn with NumPy in linear light, so that the light of their skin is known; nothing of the product in it.

The skin is one even reflectance under even light unless asked otherwise; eyes, brows, nose and mouth are darker and
the whites of the eyes lighter, as on any face.
"""

from __future__ import annotations

import cv2
import numpy as np

from analysis.model.frame import Encoding, Frame, FrameFormat
from analysis.model.instant import Instant

CHIPS = {
    "very light": (72.4, 58.2, 52.5),
    "light": (69.7, 54.4, 46.9),
    "intermediate": (66.2, 50.0, 41.5),
    "tan": (61.5, 45.2, 35.8),
    "brown": (53.4, 38.0, 28.0),
    "dark": (36.2, 24.8, 19.6),
}
"""R'G'B' in percent of BT.709 of median face skin by ITA class: International Skin Spectra Archive (Y. Lu et al.,
Scientific Data 2025), 4,603 cheeks and foreheads, D65, an 18 % card at 40.9 %."""

PUBLISHED = {
    "very light": (60.9, 1.08),
    "light": (57.0, 0.90),
    "intermediate": (52.8, 0.70),
    "tan": (48.0, 0.45),
    "brown": (40.6, 0.02),
    "dark": (26.8, -1.00),
}
"""Median BT.709 luma in percent and stops from 18 %, by class, computed from the spectra of the same archive."""

LUMA = np.array([0.2126, 0.7152, 0.0722])  # ITU-R BT.709-6 item 3.2


def bt709(linear: np.ndarray) -> np.ndarray:
    """ITU-R BT.709-6 item 1.2."""
    linear = np.maximum(linear, 0.0)
    return np.where(linear < 0.018, 4.5 * linear, 1.099 * linear**0.45 - 0.099)


def acescct(linear: np.ndarray) -> np.ndarray:
    """Academy S-2016-001, section 4.4."""
    safe = np.maximum(linear, 1e-10)
    return np.where(linear <= 0.0078125, 10.5402377416545 * linear + 0.0729055341958355, (np.log2(safe) + 9.72) / 17.52)


def reflectance(name: str) -> np.ndarray:
    """Linear R, G, B of a class: the chip through the inverse of BT.709-6 item 1.2."""
    signal = np.array(CHIPS[name]) / 100.0
    return np.where(signal < 0.081, signal / 4.5, ((signal + 0.099) / 1.099) ** (1 / 0.45))


def draw(
    skin: np.ndarray,
    *,
    height: float = 300.0,
    centre: tuple[float, float] = (960.0, 500.0),
    size: tuple[int, int] = (1920, 1080),
    ground: tuple[float, float, float] = (0.13, 0.15, 0.18),
    key: float = 0.0,
    on: np.ndarray | None = None,
) -> np.ndarray:
    """Linear light, shape (rows, columns, 3). ``height`` in pixels from hairline to chin.

    With ``key`` the right side of the face gets that many stops less light than the left, with a soft edge in the
    middle. ``on`` is a picture to draw onto.
    """
    picture = np.ones((size[1], size[0], 3), np.float32) * np.array(ground, np.float32) if on is None else on.copy()
    left, top = int(centre[0] - 1.3 * height), int(centre[1] - 1.0 * height)
    right, bottom = int(centre[0] + 1.3 * height), int(centre[1] + 2.0 * height)
    rows, columns = slice(max(0, top), min(size[1], bottom)), slice(max(0, left), min(size[0], right))
    y, x = np.mgrid[rows, columns].astype(np.float32)
    u, v = (x + 0.5 - centre[0]) / height, (y + 0.5 - centre[1]) / height
    part = picture[rows, columns]

    def lay(mask: np.ndarray, colour: np.ndarray | tuple[float, ...]) -> None:
        part[:] = part + (np.array(colour, np.float32) - part) * mask[..., None]

    def oval(across: float, down: float, a: float, b: float, soft: float = 0.04) -> np.ndarray:
        return np.clip(0.5 - (np.hypot((u - across) / a, (v - down) / b) - 1.0) / soft, 0.0, 1.0)

    hair = (0.03, 0.024, 0.02)
    lay(oval(0.0, 1.25, 0.85, 0.55), (0.03, 0.04, 0.07))
    lay(np.clip(0.5 - (np.maximum(np.abs(u) - 0.2, np.abs(v - 0.55) - 0.3)) / 0.02, 0.0, 1.0), 0.55 * skin)
    lay(oval(0.0, -0.10, 0.455, 0.56), hair)
    lay(oval(0.0, 0.02, 0.37, 0.50), skin)
    for side in (-1.0, 1.0):
        lay(0.35 * oval(0.155 * side, -0.06, 0.11, 0.07, 0.5), 0.30 * skin)
        lay(oval(0.155 * side, -0.055, 0.060, 0.024, 0.15), (0.60, 0.58, 0.56))
        lay(oval(0.155 * side, -0.055, 0.025, 0.025, 0.15), (0.015, 0.012, 0.01))
        lay(0.85 * oval(0.155 * side, -0.145, 0.085, 0.017, 0.3), np.minimum(0.3 * skin, hair))
        lay(0.6 * oval(0.036 * side, 0.165, 0.018, 0.011, 0.4), 0.1 * skin)
        lay(0.25 * oval(0.06 * side, 0.10, 0.02, 0.10, 0.7), 0.35 * skin)
    lay(0.25 * oval(0.0, 0.185, 0.075, 0.02, 0.6), 0.3 * skin)
    lay(0.85 * oval(0.0, 0.285, 0.115, 0.030, 0.25), skin * (0.75, 0.35, 0.40))
    lay(0.6 * oval(0.0, 0.285, 0.11, 0.006, 0.5), 0.1 * skin)
    lay(0.25 * oval(0.0, 0.345, 0.09, 0.02, 0.7), 0.35 * skin)
    if key:
        inside = oval(0.0, 0.0, 0.6, 0.8, 0.3)[..., None]
        fall = (2.0 ** (-key / (1.0 + np.exp(-u / 0.04))))[..., None]
        part[:] = part * (1.0 - inside * (1.0 - fall))
    return picture


def frame(
    linear: np.ndarray,
    *,
    layout: str = "yuv422p10le",
    curve: str = "bt709",
    noise: float = 0.0,
    seed: int = 0,
    most: float = 1.09,
) -> Frame:
    """The light as a narrow-range frame (ITU-R BT.709-6 items 3.2 to 3.4), ``noise`` in IRE on each of R'G'B'."""
    signal = {"bt709": bt709, "acescct": acescct}[curve](linear)
    if noise:
        signal = signal + np.float32(noise / 100.0) * np.random.default_rng(seed).standard_normal(
            signal.shape, np.float32
        )
    return coded(signal, layout=layout, curve=curve, most=most)


def coded(signal: np.ndarray, *, layout: str = "yuv422p10le", curve: str | None = "bt709", most: float = 1.09) -> Frame:
    """R'G'B' as a narrow-range frame; ``most`` is where the camera clips (narrow range can hold 1.09)."""
    bits = 10 if layout.endswith("10le") else 8
    scale = 2.0 ** (bits - 8)
    signal = np.clip(signal, -0.07, most)
    luma = signal @ LUMA.astype(signal.dtype)
    chroma = [(signal[..., 2] - luma) / 1.8556, (signal[..., 0] - luma) / 1.5748]
    if layout.startswith("yuv422p") or layout == "yuyv422":
        chroma = [plane[:, ::2] for plane in chroma]
    elif layout.startswith("yuv420p"):
        chroma = [plane[::2, ::2] for plane in chroma]
    y = np.floor((16.0 + 219.0 * luma) * scale + 0.5)
    cb, cr = (np.floor((128.0 + 224.0 * plane) * scale + 0.5) for plane in chroma)
    kind = np.uint16 if bits > 8 else np.uint8
    planes = tuple(np.ascontiguousarray(plane.astype(kind)) for plane in (y, cb, cr))
    if layout == "yuyv422":
        packed = np.stack([planes[0][:, ::2], planes[1], planes[0][:, 1::2], planes[2]], axis=-1)
        planes = (packed.reshape(signal.shape[0], -1),)
    shape = FrameFormat(
        layout=layout,
        width=signal.shape[1],
        height=signal.shape[0],
        rate=25.0,
        encoding=Encoding(bits=bits, range="narrow", matrix="bt709", curve=curve),
    )
    return Frame(planes=planes, format=shape, instant=Instant(0.0, 0.0), generation=1, sequence=0)


def photograph(
    picture: np.ndarray, *, stops: float = 0.0, curve: str = "bt709", size: tuple[int, int] = (1280, 720)
) -> Frame:
    """An sRGB photograph (uint8, RGB) with that many stops more light, fitted into a grey frame of ``size``.

    Linear by IEC 61966-2-1; what the photograph shows as white is light 1.0.
    """
    scale = min(size[0] / picture.shape[1], size[1] / picture.shape[0])
    fitted = cv2.resize(
        picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
    )
    coded_ = fitted.astype(np.float64) / 255.0
    linear = np.where(coded_ <= 0.04045, coded_ / 12.92, ((coded_ + 0.055) / 1.055) ** 2.4)
    whole = np.full((size[1], size[0], 3), 0.12)
    top, left = (size[1] - linear.shape[0]) // 2, (size[0] - linear.shape[1]) // 2
    whole[top : top + linear.shape[0], left : left + linear.shape[1]] = linear
    return frame(whole * 2.0**stops, layout="yuv422p", curve=curve, most=1.0)
