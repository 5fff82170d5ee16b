"""The camera: light to electrons, electrons to signal.

Light frees electrons (shot noise), the sensor fills up (saturation), reading adds noise of
its own, ISO multiplies what was caught, the curve writes it as R'G'B'. Signal and noise
follow the photon-transfer form of EMVA 1288 R4.0: mean e, variance e + read_noise^2 in
electrons.
"""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt

from analysis.feed.scene.controls import SceneControls
from analysis.signal.curves import curve

Floats = npt.NDArray[np.float32]
Table = npt.NDArray[np.uint16]

STEPS_PER_SIGMA = 128
"""Steps of the stabilised scale to one standard deviation of noise."""
NOISE_REACH = 704
"""Largest noise in those steps: 5.5 standard deviations."""
TABLE = 65536


class Camera:
    """A camera set as the controls say."""

    def __init__(self, controls: SceneControls, lowest: float, highest: float) -> None:
        """``lowest`` and ``highest`` bound R'G'B' (V, 0 to 1): the end of the codes, or a ceiling before it."""
        self.controls = controls
        self._sensor = controls.sensor
        self._per_unit = controls.sensor.electrons_per_unit
        self._exposure = 2.0**controls.sensor_stops
        self._curve = curve(controls.curve)
        self._bounds = lowest, highest
        # With this constant the square root makes shot and read noise together exactly even:
        # f = 2 sqrt(e + c), f + n with n of variance 1, (f + n)^2 / 4 - 1/4 - c has mean e and variance e + c + 1/8.
        self._constant = controls.sensor.read_noise**2 - 0.125
        self.response = self._make_response()

    def electrons(self, light: npt.NDArray[np.floating]) -> Floats:
        """Mean electrons that scene-linear light frees, before the sensor is full."""
        return np.asarray(light * (self._exposure * self._per_unit), np.float32)

    def caught(self, light: npt.NDArray[np.floating]) -> Floats:
        """Linear signal of scene-linear light without noise: exposed, saturated, multiplied by ISO."""
        held = np.minimum(self.electrons(light), self._sensor.full_well)
        return np.asarray(held * (self.controls.gain / self._per_unit), np.float32)

    def full(self, light: npt.NDArray[np.floating]) -> npt.NDArray[np.bool_]:
        """Where the light fills the sensor."""
        return np.asarray(self.electrons(light) >= self._sensor.full_well)

    def signal(self, light: npt.NDArray[np.floating]) -> Floats:
        """R'G'B' (V) of scene-linear light without noise."""
        return self._encode(self.caught(light))

    def stabilised(self, light: npt.NDArray[np.floating]) -> Table:
        """Scene-linear light on the scale where noise has one size, ready for :attr:`response`."""
        held = np.clip(self.electrons(light), 0.0, self._sensor.full_well * 1.02)
        return np.asarray(2.0 * STEPS_PER_SIGMA * np.sqrt(held + self._constant) + 0.5, np.uint16)

    def noise_of(self, light: float) -> tuple[float, float]:
        """Mean and standard deviation of the linear signal of a lit patch, unless it is near saturation."""
        mean = float(self.electrons(np.array(light)))
        scale = self.controls.gain / self._per_unit
        return mean * scale, float(np.sqrt(mean + self._sensor.read_noise**2)) * scale

    def _make_response(self) -> Floats:
        """R'G'B' (V) of every value of the stabilised scale plus noise, shape (1, 65536)."""
        level = (np.arange(TABLE, dtype=np.float64) - NOISE_REACH) / STEPS_PER_SIGMA
        electrons = np.maximum(level, 0.0) ** 2 / 4.0 - 0.25 - self._constant
        held = np.minimum(electrons, self._sensor.full_well)
        return self._encode(held * (self.controls.gain / self._per_unit)).reshape(1, -1)

    def _encode(self, linear: npt.NDArray[np.floating]) -> Floats:
        return np.asarray(np.clip(self._curve.encode(linear), *self._bounds), np.float32)


class NoiseBank:
    """Even noise of one size, drawn once and used again at other places for every frame and channel."""

    ROWS, COLUMNS = 1080, 1920
    SPARE_ROWS, SPARE_COLUMNS = 64, 256

    def __init__(self, width: int, height: int, seed: int) -> None:
        self._rows, self._columns = min(height, self.ROWS), min(width, self.COLUMNS)
        self._blocks = -(-height // self._rows), -(-width // self._columns)
        shape = (self._rows + self.SPARE_ROWS, self._columns + self.SPARE_COLUMNS)
        drawn = np.random.default_rng([seed, 1]).standard_normal(shape, np.float32)
        drawn *= STEPS_PER_SIGMA
        drawn += NOISE_REACH + 0.5
        self._tile = np.clip(drawn, 0, 2 * NOISE_REACH, out=drawn).astype(np.uint16)
        self._seed = seed

    def places(self, sequence: int) -> npt.NDArray[np.int64]:
        """Where in the bank frame ``sequence`` reads: (3 channels, block rows, block columns, 2)."""
        draw = np.random.default_rng([self._seed, 2, sequence])
        return draw.integers((self.SPARE_ROWS, self.SPARE_COLUMNS), size=(3, *self._blocks, 2))

    def add(self, band: Table, top: int, places: npt.NDArray[np.int64]) -> None:
        """Add one channel's noise to a band of rows whose first is ``top``; a band lies within one block."""
        row, into = divmod(top, self._rows)
        for column in range(places.shape[1]):
            left = column * self._columns
            part = band[:, left : left + self._columns]
            y, x = int(places[row, column, 0]) + into, int(places[row, column, 1])
            cv2.add(part, self._tile[y : y + part.shape[0], x : x + part.shape[1]], dst=part)
