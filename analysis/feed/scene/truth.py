"""What is true of a rendered frame, known before noise, curve and codes."""

from __future__ import annotations

import msgspec
import numpy as np
import numpy.typing as npt

from analysis.feed.scene.camera import Camera
from analysis.feed.scene.develop import LUMA
from analysis.feed.scene.lights import LUMINANCE, LightLevels
from analysis.feed.scene.palette import Index
from analysis.feed.scene.stage import Box
from analysis.signal.curves import MIDDLE_GREY


class RegionTruth(msgspec.Struct, frozen=True, kw_only=True):
    """The truth of one region, means over its pixels.

    ``box`` is left, top, right, bottom in pixels. ``scene`` is the linear light that comes
    from there, ``linear`` what the sensor caught of it after ISO, just before the curve
    (both R, G, B); ``stops`` is log2(luminance of ``linear`` / 0.18). ``level`` is luma in
    IRE of the undisturbed signal; ``saturated`` the percent of pixels where the sensor is full.
    """

    box: Box
    scene: tuple[float, float, float]
    linear: tuple[float, float, float]
    stops: float
    level: float
    saturated: float


class ShareTruth(msgspec.Struct, frozen=True, kw_only=True):
    """Percent of the picture at or beyond ``level`` IRE in each channel and in any of them."""

    level: float
    any: float
    luma: float
    r: float
    g: float
    b: float


class Truth(msgspec.Struct, frozen=True, kw_only=True):
    """Everything known of one frame before noise and rounding.

    ``sensor_stops`` and ``gain`` are the exposure against the reference and the factor of
    ISO; ``saturated`` is the percent of the picture where the sensor is full in any channel;
    ``skin`` is the cheek that faces the key, ``shade`` the other one.
    """

    seconds: float
    lights: LightLevels
    sensor_stops: float
    gain: float
    saturated: float
    clipped: ShareTruth
    crushed: ShareTruth
    mean_level: float
    regions: dict[str, RegionTruth]

    @property
    def skin(self) -> RegionTruth:
        """The cheek that faces the key."""
        return self.regions["cheek"]

    @property
    def key_over_fill(self) -> float:
        """Stops between the two cheeks."""
        return self.regions["cheek"].stops - self.regions["shade-cheek"].stops


class Frozen(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """A frame as kinds of light: the picture's index and the light of every kind, shape (3, kinds)."""

    index: Index
    light: npt.NDArray[np.float32]


def region(camera: Camera, frame: Frozen, box: Box) -> RegionTruth | None:
    """The truth of a box of the frame, None where it lies outside the picture."""
    left, top, right, bottom = box
    kinds = frame.index[top:bottom, left:right].ravel()
    if not kinds.size or right <= left or bottom <= top:
        return None
    light = frame.light[:, kinds].astype(np.float64)
    linear = camera.caught(light).astype(np.float64)
    mean = linear.mean(axis=1)
    luma = _luma(camera, camera.signal(light))
    return RegionTruth(
        box=box,
        scene=_triple(light.mean(axis=1)),
        linear=_triple(mean),
        stops=float(np.log2(max(float(np.dot(LUMINANCE, mean)), 1e-9) / MIDDLE_GREY)),
        level=100.0 * float(luma.mean()),
        saturated=100.0 * float(camera.full(light).any(axis=0).mean()),
    )


def shares(camera: Camera, frame: Frozen, clip: float, crush: float) -> tuple[float, ShareTruth, ShareTruth, float]:
    """Percent saturated, the clipped and crushed shares at those levels (IRE), and the mean level (IRE)."""
    count = np.bincount(frame.index.ravel(), minlength=frame.light.shape[1]).astype(np.float64)
    part = 100.0 * count / count.sum()
    rgb = camera.signal(frame.light)
    luma = _luma(camera, rgb)
    four = np.concatenate([rgb, luma[None]])
    return (
        float(part[camera.full(frame.light).any(axis=0)].sum()),
        _share(part, four >= clip / 100.0, clip),
        _share(part, four <= crush / 100.0, crush),
        float(np.dot(part, luma)),
    )


def _luma(camera: Camera, rgb: npt.NDArray[np.float32]) -> npt.NDArray[np.float64]:
    weights = np.array(LUMA.get(camera.controls.matrix, LUMA["bt709"]))
    return np.asarray(np.tensordot(weights, rgb.astype(np.float64), axes=1))


def _share(part: npt.NDArray[np.float64], beyond: npt.NDArray[np.bool_], level: float) -> ShareTruth:
    r, g, b, luma = (float(part[row].sum()) for row in beyond)
    return ShareTruth(level=level, any=float(part[beyond.any(axis=0)].sum()), luma=luma, r=r, g=g, b=b)


def _triple(values: npt.NDArray[np.float64]) -> tuple[float, float, float]:
    return float(values[0]), float(values[1]), float(values[2])
