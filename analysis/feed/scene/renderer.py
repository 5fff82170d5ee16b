"""The renderer: scene, lights and camera to the codes of one frame."""

from __future__ import annotations

from typing import Any, TypeAlias

import cv2
import numpy as np
import numpy.typing as npt

from analysis.feed.pool import FramePool
from analysis.feed.scene import truth
from analysis.feed.scene.camera import Camera, NoiseBank
from analysis.feed.scene.controls import SceneControls
from analysis.feed.scene.develop import BAND, Developer, Floats, bounds, layout
from analysis.feed.scene.lights import LightLevels, levels, sway
from analysis.feed.scene.palette import Index
from analysis.feed.scene.stage import Stage
from analysis.model.frame import Encoding, FrameFormat, Matrix, Picture
from analysis.signal.curves import curve

Table: TypeAlias = npt.NDArray[np.float32] | npt.NDArray[np.uint16]


class Renderer:
    """Renders frames of the boathouse with one set of controls, and knows what is true of them.

    Every frame is a pure function of the controls, its time and its sequence number.

    >>> renderer = Renderer(SceneControls(width=64, height=36, noise=False, clouds=False, sway=False))
    >>> renderer.picture(0.0, 0).planes[0].shape
    (36, 128)
    >>> round(renderer.truth(0.0).regions["card"].stops, 2)
    0.0
    """

    def __init__(self, controls: SceneControls, pool: FramePool | None = None, stage: Stage | None = None) -> None:
        """``stage`` is a scene painted before, for the same size and complexion: new controls need no new paint.

        Raises UsageError for controls that cannot be.
        """
        self.controls = controls = controls.checked()
        self._pool = pool or FramePool()
        into = layout(controls.layout)
        lowest, highest = bounds(into.bits, controls.range)
        if controls.ceiling is not None:
            highest = min(highest, controls.ceiling / 100.0)
        self._camera = Camera(controls, lowest, highest)
        self._developer = Developer(controls.width, controls.height, into, controls.range, controls.matrix)
        self._stage = stage or Stage(
            controls.width, controls.height, controls.complexion, lamp_at=controls.lamp_at, doors=controls.doors
        )
        self._noise = NoiseBank(self._developer.wide, self._developer.high, controls.seed) if controls.noise else None
        shape = BAND, self._developer.wide
        self._rgb: list[Floats] = [np.empty(shape, np.float32) for _ in range(3)]
        self._steady = np.empty(shape, np.uint16)
        # One table a channel, used again: what a kind of light becomes, a signal or a place on the even-noise scale.
        self._tables = [_table(controls.noise) for _ in range(3)]
        self._tables_for: LightLevels | None = None
        matrix: Matrix = "rgb" if into.packing == "rgb" else controls.matrix
        self.format = FrameFormat(
            layout=into.name,
            width=controls.width,
            height=controls.height,
            rate=controls.rate,
            encoding=Encoding(
                bits=into.bits,
                range=controls.range,
                matrix=matrix,
                curve=curve(controls.curve).name,
                range_from="tag",
                matrix_from="tag",
                curve_from="tag",
            ),
        )

    def picture(self, seconds: float, sequence: int, lights: LightLevels | None = None) -> Picture:
        """The frame at a scene time. ``sequence`` chooses the noise; ``lights`` overrules weather and lamp."""
        tables = self._light(lights or levels(self.controls, seconds))
        index = self._padded(self._index(seconds))
        places = self._noise.places(sequence) if self._noise else None
        planes = self._developer.planes(self._pool.take)
        for top in range(0, index.shape[0], BAND):
            band = index[top : top + BAND]
            rgb = [plane[: band.shape[0]] for plane in self._rgb]
            for channel, (plane, table) in enumerate(zip(rgb, tables, strict=True)):
                if self._noise is None or places is None:
                    _look_up(band, table, plane)
                else:
                    steady = self._steady[: band.shape[0]]
                    _look_up(band, table, steady)
                    self._noise.add(steady, top, places[channel])
                    _look_up(steady, self._camera.response, plane)
            self._developer.write(rgb, top, planes)
        return Picture(planes=planes, format=self.format, source_sequence=sequence, source_seconds=seconds)

    def truth(
        self, seconds: float, lights: LightLevels | None = None, *, clip: float = 100.0, crush: float = 0.0
    ) -> truth.Truth:
        """What is true of the frame at a scene time; ``clip`` and ``crush`` are levels in IRE."""
        now = lights or levels(self.controls, seconds)
        frame = truth.Frozen(index=self._index(seconds), light=self._stage.palette.under(now))
        saturated, clipped, crushed, mean = truth.shares(self._camera, frame, clip, crush)
        move = self._move(seconds)
        regions = {
            name: found
            for name in self._stage.regions
            if (found := truth.region(self._camera, frame, self._stage.box(name, *move))) is not None
        }
        return truth.Truth(
            seconds=seconds,
            lights=now,
            sensor_stops=self.controls.sensor_stops,
            gain=self.controls.gain,
            saturated=saturated,
            clipped=clipped,
            crushed=crushed,
            mean_level=mean,
            regions=regions,
        )

    def _move(self, seconds: float) -> tuple[int, int]:
        return sway(self.controls, seconds, self._stage.reach()[1])

    def _index(self, seconds: float) -> Index:
        return self._stage.index(*self._move(seconds))

    def _padded(self, index: Index) -> Index:
        right, down = self._developer.wide - index.shape[1], self._developer.high - index.shape[0]
        if not right and not down:
            return index
        return np.pad(index, ((0, down), (0, right)), mode="edge")

    def _light(self, now: LightLevels) -> list[Table]:
        """The tables with the lights at these levels."""
        if self._tables_for != now:
            light = self._stage.palette.under(now)
            values = self._camera.signal(light) if self._noise is None else self._camera.stabilised(light)
            for table, channel in zip(self._tables, values, strict=True):
                table[0, : channel.size] = channel
            self._tables_for = now
        return self._tables


def _table(noise: bool) -> Table:
    return np.zeros((1, 65536), np.uint16) if noise else np.zeros((1, 65536), np.float32)


def _sixteen_bit_tables() -> bool:
    """Whether this OpenCV looks 16-bit indices up by itself (4.14 does; older ones may not)."""
    try:
        cv2.LUT(np.zeros((1, 1), np.uint16), np.zeros((1, 65536), np.uint16))
    except cv2.error:
        return False
    return True


_BY_OPENCV = _sixteen_bit_tables()


def _look_up(index: Index, table: Table, out: npt.NDArray[Any]) -> None:
    """``out[...] = table[0, index]`` without new memory."""
    if _BY_OPENCV:
        cv2.LUT(index, table, dst=out)
    else:
        np.take(table[0], index, out=out, mode="clip")
