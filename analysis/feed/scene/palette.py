"""A scene as an indexed picture: each pixel names one of at most 65,536 kinds of light.

What a kind sends to the camera under each light is kept as exact linear numbers, so one
frame costs a few small tables and a look-up per pixel, whatever the curve and however the
lights change; and the truth of a frame is the tables themselves, not an estimate.
"""

from __future__ import annotations

import msgspec
import numpy as np
import numpy.typing as npt

from analysis.feed.scene.canvas import LIGHTS, Canvas, Field
from analysis.feed.scene.lights import LightLevels, colours

Index = npt.NDArray[np.uint16]
Keys = npt.NDArray[np.int32]
LARGEST = 65536
LOWEST_STOP, LEVEL_STEP, LEVEL_BITS = -13.0, 1.0 / 100.0, 11
HUE_SPAN = 3.2
RATIO_SPAN = 16.0
RATIO_LOWEST = -6.0
FAINTEST = 2.0**-13


class Steps(msgspec.Struct, frozen=True, kw_only=True):
    """How finely pixels are told apart: bits for each hue and for the second light against the sky."""

    hue: int
    ratio: int


FINER_FIRST = (
    Steps(hue=5, ratio=8),
    Steps(hue=5, ratio=7),
    Steps(hue=4, ratio=6),
    Steps(hue=3, ratio=5),
    Steps(hue=1, ratio=2),
)


class Palette(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """Linear R, G, B of every kind under each light at strength 1: (3 lights, 3 channels, kinds)."""

    light: npt.NDArray[np.float32]
    keys: Keys
    steps: Steps

    @property
    def kinds(self) -> int:
        """How many kinds of light there are."""
        return int(self.light.shape[2])

    def under(self, levels: LightLevels) -> npt.NDArray[np.float32]:
        """Scene-linear light of every kind with the lights at these levels, shape (3, kinds)."""
        sky, sun, lamp = self.light
        return np.asarray(sky * levels.sky + sun * levels.sun + lamp * levels.lamp, np.float32)

    def index(self, radiance: npt.NDArray[np.float32]) -> Index:
        """The nearest kinds of pixels (3 lights, ..., 3 channels), also of some that were not in the palette."""
        return _nearest(self.keys, _keys(radiance, self.steps))


def radiance(canvas: Canvas, area: tuple[slice, slice] = (slice(None), slice(None))) -> npt.NDArray[np.float32]:
    """Linear light of every pixel of an area under each light at strength 1: (3 lights, height, width, 3)."""
    tint = colours()
    reflectance = canvas.reflectance[area]
    out = np.empty((len(LIGHTS), *reflectance.shape), np.float32)
    for number, name in enumerate(LIGHTS):
        np.multiply(reflectance, tint[name], out=out[number])
        out[number] *= np.maximum(canvas.light[name][area], 0.0)[:, :, None]
    return out


def build(pixels: npt.NDArray[np.float32]) -> tuple[Palette, Index]:
    """Sort pixels (3 lights, height, width, 3 channels) into kinds; returns them and the index of each pixel.

    Pixels whose level, hue and mix of lights agree within one small step become one kind,
    which carries their mean. The level step is 1/100 stop; hue and mix get coarser steps if
    too many kinds result.
    """
    for steps in FINER_FIRST:
        keys = _keys(pixels, steps)
        ordered = np.sort(keys, axis=None)
        distinct = ordered[np.concatenate([[True], ordered[1:] != ordered[:-1]])]
        if distinct.size <= LARGEST:
            break
    distinct = distinct[:LARGEST]
    index = _nearest(distinct, keys)
    flat = index.ravel()
    count = np.bincount(flat, minlength=distinct.size)
    light = np.empty((len(LIGHTS), 3, count.size), np.float32)
    for number in range(len(LIGHTS)):
        for channel in range(3):
            total = np.bincount(flat, weights=pixels[number, ..., channel].ravel(), minlength=count.size)
            light[number, channel] = total / np.maximum(count, 1)
    return Palette(light=light, keys=distinct, steps=steps), index


def _nearest(keys: Keys, wanted: Keys) -> Index:
    """For each wanted key the place of the nearest one in ``keys`` (rising); levels are the lowest bits."""
    after = np.minimum(np.searchsorted(keys, wanted), keys.size - 1)
    before = np.maximum(after - 1, 0)
    closer = wanted - keys[before] < np.abs(keys[after] - wanted)
    return np.where(closer, before, after).astype(np.uint16)


def _keys(pixels: npt.NDArray[np.float32], steps: Steps) -> Keys:
    """The key of each pixel: second light and its ratio to the sky, two hues, and the sky's level lowest."""
    logs = np.log2(pixels[0] + FAINTEST)
    power = pixels @ np.array((0.25, 0.5, 0.25), np.float32)
    sky, sun, lamp = np.log2(power + FAINTEST)
    second = np.maximum(sun, lamp) - sky - RATIO_LOWEST
    key = (lamp > sun).astype(np.int32) << steps.ratio | _step(second, RATIO_SPAN, steps.ratio)
    for channel, centre in ((0, 0.4), (2, 0.7)):
        hue = logs[..., channel] - logs[..., 1] + HUE_SPAN * centre
        key = key << steps.hue | _step(hue, HUE_SPAN, steps.hue)
    level = _step(sky - LOWEST_STOP, LEVEL_STEP * (1 << LEVEL_BITS), LEVEL_BITS)
    return np.asarray(key << LEVEL_BITS | level, np.int32)


def _step(value: Field, span: float, bits: int) -> npt.NDArray[np.int32]:
    top = (1 << bits) - 1
    return np.asarray(np.clip(value * ((1 << bits) / span), 0, top), np.int32)
