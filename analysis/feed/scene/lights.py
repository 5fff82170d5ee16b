"""The lights over time: lake light under passing clouds, the sun that breaks through, a lamp."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import numpy.typing as npt

from analysis.feed.scene.controls import REFERENCE_DISTANCE, SceneControls

LUMINANCE = np.array((0.2126, 0.7152, 0.0722), np.float32)

DRIFT = ((61.0, 0.065), (23.0, 0.035), (143.0, 0.055))
"""Periods (s) and heights (stops) of the slow changes of the lake light."""
FIRST_BREAK = 45.0
BREAK_EVERY = 180.0
BREAK_JITTER = 25.0
BREAK_SECONDS = 17.0
BREAK_RAMP = 3.0


class LightLevels(msgspec.Struct, frozen=True, kw_only=True):
    """How strong each light is now, against the lake light of a plain grey day (1.0)."""

    sky: float
    sun: float
    lamp: float


def levels(controls: SceneControls, seconds: float) -> LightLevels:
    """The lights at a time of the scene: a pure function of the controls and the time.

    >>> levels(SceneControls(clouds=False), 100.0)
    LightLevels(sky=1.0, sun=0.0, lamp=0.0)
    >>> levels(SceneControls(clouds=False, turns=((8.0, -2.0), (20.0, 1.0)), switch=(3.0,)), 25.0)
    LightLevels(sky=0.5, sun=0.0, lamp=0.5)
    """
    plain = _weather(controls, seconds)
    stops = sum(amount for at, amount in controls.turns if seconds >= at)
    if not stops:
        return plain
    factor = 2.0**stops
    return LightLevels(sky=factor * plain.sky, sun=factor * plain.sun, lamp=factor * plain.lamp)


def _weather(controls: SceneControls, seconds: float) -> LightLevels:
    """The lights before any turn of all of them."""
    on = controls.lamp != (sum(seconds >= at for at in controls.switch) % 2 == 1)
    lamp = controls.lamp_power if on else 0.0
    if controls.lamp_at == "key":
        # A small lamp: inverse square.
        lamp *= (REFERENCE_DISTANCE / controls.lamp_distance) ** 2
    shining = controls.lake if controls.doors == "open" else 0.0
    if not controls.clouds:
        return LightLevels(sky=controls.lake, sun=shining if controls.sun == "on" else 0.0, lamp=lamp)
    sun = {"on": 1.0, "off": 0.0}.get(controls.sun)
    if sun is None:
        sun = _sun(controls.seed, seconds)
    return LightLevels(sky=controls.lake * 2.0 ** _drift(controls.seed, seconds), sun=shining * sun, lamp=lamp)


def _drift(seed: int, seconds: float) -> float:
    """Stops by which the lake light has drifted."""
    total = 0.0
    for number, (period, height) in enumerate(DRIFT):
        phase = 2.0 * math.pi * _fraction(seed, number)
        total += height * math.sin(2.0 * math.pi * seconds / period + phase)
    return total


def _sun(seed: int, seconds: float) -> float:
    """The share of the sun that comes through, 0 to 1: about 17 s every three minutes."""
    number = math.floor((seconds - FIRST_BREAK + BREAK_JITTER) / BREAK_EVERY)
    if number < 0:
        return 0.0
    jitter = BREAK_JITTER * (2.0 * _fraction(seed, 100 + number) - 1.0) if number else 0.0
    since = seconds - (FIRST_BREAK + number * BREAK_EVERY + jitter)
    left = BREAK_SECONDS - since
    return max(0.0, min(1.0, since / BREAK_RAMP, left / BREAK_RAMP))


def _fraction(seed: int, number: int) -> float:
    """A number from 0 to 1 that depends on both and on nothing else (a small integer hash)."""
    value = (seed * 0x9E3779B1 + number * 0x85EBCA77 + 0x165667B1) & 0xFFFFFFFF
    value = ((value ^ (value >> 15)) * 0x2C1B3C6D) & 0xFFFFFFFF
    value = ((value ^ (value >> 12)) * 0x297A2D39) & 0xFFFFFFFF
    return (value ^ (value >> 15)) / 2.0**32


def sway(controls: SceneControls, seconds: float, height: int) -> tuple[int, int]:
    """How far the sitter has moved from rest, in whole pixels (right, down) of a picture of that height.

    A slow shift of weight and a breath: never more than 0.6 % of the picture's height.
    """
    if not controls.sway:
        return 0, 0
    right = 0.0038 * math.sin(2.0 * math.pi * seconds / 7.3) + 0.0020 * math.sin(2.0 * math.pi * seconds / 2.9)
    down = 0.0026 * math.sin(2.0 * math.pi * seconds / 4.1)
    return round(right * height), round(down * height)


def colours() -> dict[str, npt.NDArray[np.float32]]:
    """Linear R, G, B of each light at luminance 1: a cool sky, a low sun, a warm lamp."""
    tints = {"sky": (0.985, 1.0, 1.030), "sun": (1.12, 1.0, 0.80), "lamp": (1.32, 0.955, 0.54)}
    return {name: (np.array(c) / float(np.dot(LUMINANCE, c))).astype(np.float32) for name, c in tints.items()}
