"""Films for turns of light: the boathouse as linear light, changed as a story says, through the scene's own camera.

What changes is set here in stops of linear light before the camera, so the truth of every turn is a parameter.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

import cv2
import msgspec
import numpy as np
import skimage

from analysis.feed.scene import sitter
from analysis.feed.scene.camera import NOISE_REACH, STEPS_PER_SIGMA, Camera
from analysis.feed.scene.controls import SceneControls, Sensor
from analysis.feed.scene.develop import BAND, Developer, bounds, layout
from analysis.feed.scene.lights import LightLevels
from analysis.feed.scene.stage import Stage
from analysis.measure.light_map import LightMapper
from analysis.measure.sample import Sampler
from analysis.model.frame import Encoding, Frame, FrameFormat
from analysis.model.instant import Instant
from analysis.model.light import Box, LightMap, SeenSitter
from analysis.signal.curves import curve

WIDE, HIGH = 480, 270
NOISE_SIGMAS = NOISE_REACH / STEPS_PER_SIGMA
LUMINANCE = np.array((0.2126, 0.7152, 0.0722), np.float32)


class Moment(msgspec.Struct, frozen=True, kw_only=True):
    """What the story says of one moment, everything in stops but where it is said.

    ``whole`` everything, ``sitter`` and ``ground`` the person and all else, ``window`` what is seen through the doors,
    ``key`` the power of a lamp from the left against the light of the plain scene, which reaches the wall at
    a sixteenth. ``walker`` is where a person crosses (0 to 1 across), ``pan`` where the camera looks (pixels from the
    middle), ``cover`` the share of the picture that something before the lens hides, ``bands`` a beat rolling
    through the rows. ``lean`` moves the sitter by pixels; ``shot`` other than 0 is another picture.
    """

    whole: float = 0.0
    sitter: float = 0.0
    ground: float = 0.0
    window: float = 0.0
    key: float = 0.0
    lamp: float = 0.0
    sun: float = 0.0
    iso: float = 800.0
    walker: float | None = None
    pan: tuple[int, int] = (0, 0)
    cover: float = 0.0
    bands: float = 0.0
    lean: tuple[int, int] = (0, 0)
    shot: int = 0


Story = Callable[[float], Moment]


@cache
def _stage(wide: int, high: int) -> Stage:
    return Stage(wide, high, "intermediate")


@cache
def _masks(wide: int, high: int) -> tuple[np.ndarray, np.ndarray]:
    """Where the sitter is at rest, and what is seen through the doors."""
    stage = _stage(wide, high)
    person = (stage.index() != stage.index(4 * wide, 0)).astype(np.float32)
    person = cv2.morphologyEx(person, cv2.MORPH_CLOSE, np.ones((5, 5)))
    left, top, right, bottom = stage.box("sky")
    window = np.zeros((high, wide), np.float32)
    unit = high
    middle = wide / 2.0
    window[round(0.18 * unit) : round(0.85 * unit), round(middle - 0.78 * unit) : round(middle - 0.235 * unit)] = 1.0
    assert window[top:bottom, left:right].all()
    return person, window * (person < 0.5)


def window_mask() -> np.ndarray:
    """Where the view through the doors is, in a picture of the usual size."""
    return _masks(WIDE, HIGH)[1]


@cache
def photo(number: int) -> np.ndarray:
    """A photograph in the public domain as linear light, (3, height, width), its middle at 18 %."""
    names = ("astronaut.png", "coffee.png", "camera.png", "chelsea.png", "rocket.jpg")
    folder = Path(skimage.__file__).parent / "data"
    found = [folder / name for name in names if (folder / name).exists()]
    read = cv2.imread(str(found[number % len(found)]))
    side = read.shape[1] * HIGH // WIDE
    read = cv2.resize(read[:side], (WIDE, HIGH), interpolation=cv2.INTER_AREA)
    light = (np.moveaxis(read[:, :, ::-1], 2, 0).astype(np.float32) / 255.0) ** 2.2 + 0.002
    return np.asarray(light * (0.18 / np.median(np.tensordot(LUMINANCE, light, 1))), np.float32)


class Film:
    """Frames of a story, and the maps of their light as the program makes them."""

    def __init__(
        self,
        story: Story,
        curve_name: str = "acescct",
        bits: int = 8,
        *,
        noise: bool = True,
        seed: int = 1,
        headroom: float = 6.0,
        wide_scene: bool = False,
        jitter: float = 0.02,
    ) -> None:
        """``jitter`` is how far the face's box strays from search to search, in parts of its size."""
        self.story, self._noise, self._jitter = story, noise, jitter
        self._search = np.random.default_rng([seed, 7])
        self._sensor = Sensor(headroom=headroom)
        self._curve_name = curve_name
        into = layout("yuv422p" if bits == 8 else "yuv422p10le")
        self._bounds = bounds(bits, "narrow")
        self.format = FrameFormat(
            layout=into.name,
            width=WIDE,
            height=HIGH,
            rate=25.0,
            encoding=Encoding(bits=bits, range="narrow", matrix="bt709", curve=curve_name),
        )
        self._developer = Developer(WIDE, HIGH, into, "narrow", "bt709")
        self._scale = 2 if wide_scene else 1
        self._dice = np.random.default_rng(seed)
        bank = self._dice.standard_normal((3, HIGH + 64, WIDE + 64), np.float32) * STEPS_PER_SIGMA
        self._bank = np.clip(bank + NOISE_REACH + 0.5, 0, 2 * NOISE_REACH).astype(np.int32)
        self._cameras: dict[float, Camera] = {}
        self._lights: dict[Any, np.ndarray] = {}
        self._sampler, self._mapper = Sampler(self.format), LightMapper(self.format, curve(curve_name))

    def camera(self, iso: float = 800.0) -> Camera:
        if iso not in self._cameras:
            made = SceneControls(curve=self._curve_name, iso=iso, sensor=self._sensor)
            self._cameras[iso] = Camera(made, *self._bounds)
        return self._cameras[iso]

    def end(self, iso: float = 800.0) -> float:
        """Where this camera's signal ends, in IRE, as a settled watch knows it."""
        full = self.camera(iso).signal(np.array(1e6))
        return min(100.0, 100.0 * float(full) - 0.6)

    def sitters(self, moment: Moment) -> tuple[SeenSitter, ...]:
        """The face as a search gives it."""
        if moment.shot:
            return ()
        box = self.face(moment)
        # A search does not put its box at the same place each time.
        x, y, size = self._search.normal(0.0, self._jitter, 3)
        box = (box[0] + x * box[2], box[1] + y * box[3], box[2] * (1.0 + size), box[3] * (1.0 + size))
        inside = box[0] > -0.02 and box[0] + box[2] < 1.02 and box[1] > -0.02
        passed = moment.walker is not None and abs(moment.walker - box[0] - box[2] / 2.0) < 0.1
        return (SeenSitter(box=box),) if inside and moment.cover < 0.5 and not passed else ()

    def face(self, moment: Moment) -> Box:
        unit, middle = HIGH * self._scale, WIDE * self._scale / 2.0
        (x0, y0), (x1, y1) = sitter.at(-0.30, -0.30), sitter.at(0.30, 0.45)
        left = middle + x0 * unit + moment.lean[0] - self._left(moment)
        top = y0 * unit + moment.lean[1] - self._top(moment)
        return left / WIDE, top / HIGH, (x1 - x0) * unit / WIDE, (y1 - y0) * unit / HIGH

    def light(self, moment: Moment) -> np.ndarray:
        """Scene-linear light before the camera, (3, height, width)."""
        if moment.shot:
            base = photo(moment.shot - 1)
        else:
            base = self._room(moment)
        if moment.walker is not None:
            base = _with_walker(base, moment.walker)
        if moment.cover:
            base = base.copy()
            base[:, :, : round(moment.cover * WIDE)] = 0.03
        if moment.bands:
            base = base * 2.0 ** (moment.bands * np.sin(np.arange(HIGH) / 30.0 + 7.0 * moment.bands))[:, None]
        return np.asarray(base * 2.0**moment.whole, np.float32)

    def _left(self, moment: Moment) -> int:
        return (WIDE * self._scale - WIDE) // 2 + moment.pan[0]

    def _top(self, moment: Moment) -> int:
        return (HIGH * self._scale - HIGH) // 2 + moment.pan[1]

    def _room(self, moment: Moment) -> np.ndarray:
        key = (moment.sitter, moment.ground, moment.window, moment.key, moment.lamp, moment.sun, moment.lean)
        if key not in self._lights:
            if len(self._lights) > 40:
                self._lights.clear()
            wide, high = WIDE * self._scale, HIGH * self._scale
            stage = _stage(wide, high)
            levels = LightLevels(sky=1.0, sun=moment.sun, lamp=moment.lamp)
            base = stage.palette.under(levels)[:, stage.index(*moment.lean)]
            person, window = _masks(wide, high)
            person = np.roll(person, moment.lean[::-1], (0, 1))
            gain = 2.0 ** (person * moment.sitter + (1.0 - person) * moment.ground + window * moment.window)
            if moment.key:
                side = np.clip(1.3 - 1.6 * (np.arange(wide) / high - 1.25), 0.25, 1.6)
                gain = gain + moment.key * np.where(person > 0.5, side[None, :], 1.0 / 16.0 * (window < 0.5))
            self._lights[key] = np.asarray(base * gain, np.float32)
        whole = self._lights[key]
        top, left = self._top(moment), self._left(moment)
        return whole[:, top : top + HIGH, left : left + WIDE]

    def frame(self, seconds: float, number: int) -> Frame:
        """The frame of a moment."""
        moment = self.story(seconds)
        camera = self.camera(moment.iso)
        light = self.light(moment)
        if self._noise:
            y, x = self._dice.integers(0, 64, 2)
            steady = camera.stabilised(light).astype(np.int32) + self._bank[:, y : y + HIGH, x : x + WIDE]
            rgb = camera.response[0][np.clip(steady, 0, 65535)]
        else:
            rgb = camera.signal(light)
        planes = self._developer.planes(lambda shape, kind: np.empty(shape, kind))
        for top in range(0, HIGH, BAND):
            self._developer.write([np.ascontiguousarray(plane[top : top + BAND]) for plane in rgb], top, planes)
        now = Instant(seconds, 1.7e9 + seconds)
        return Frame(planes=planes, format=self.format, instant=now, generation=1, sequence=number)

    def map_of(self, frame: Frame, clip: float | None = None, iso: float = 800.0) -> LightMap:
        area = (0, 0, WIDE, HIGH)
        sample = self._sampler.take(frame, area)
        return self._mapper.look(sample, self.end(iso) if clip is None else clip, 0.0, frame.instant, 1, area)

    def maps(
        self, seconds: float, rate: float = 10.0, begin: float = 0.0, clip: float | None = None
    ) -> Iterator[tuple[LightMap, tuple[SeenSitter, ...], Instant]]:
        """What the recogniser is given, so many times a second."""
        for number in range(round(seconds * rate)):
            at = begin + number / rate
            moment = self.story(at)
            yield self.map_of(self.frame(at, number), clip, moment.iso), self.sitters(moment), Instant(at, 1.7e9 + at)

    def true_change(self, before: Moment, after: Moment) -> float:
        """Stops by which the light on the face changes, in the same place."""
        found = []
        for moment in (before, after):
            x, y, w, h = self.face(moment)
            part = np.s_[
                :,
                round((y + 0.15 * h) * HIGH) : round((y + 0.85 * h) * HIGH),
                round((x + 0.2 * w) * WIDE) : round((x + 0.8 * w) * WIDE),
            ]
            found.append(float(np.tensordot(LUMINANCE, self.light(moment)[part], 1).mean()))
        return float(np.log2(found[1] / found[0]))


def _with_walker(base: np.ndarray, place: float) -> np.ndarray:
    """A person in a checked coat before everything, a fifth of the picture wide."""
    out = base.copy()
    middle, half = round(place * WIDE), WIDE // 10
    left, right = max(0, middle - half), min(WIDE, middle + half)
    if right <= left:
        return out
    rows, columns = np.mgrid[HIGH // 6 : HIGH, left:right]
    checks = ((rows // 14 + (columns - middle) // 11) % 2).astype(np.float32)
    coat = 0.05 + 0.12 * checks
    out[:, HIGH // 6 :, left:right] = coat[None] * np.array((1.1, 1.0, 0.8), np.float32)[:, None, None]
    return out


def ramp(at: float, seconds: float, amount: float) -> Callable[[float], float]:
    """From 0 to ``amount``, evenly in stops, beginning ``at``."""

    def value(now: float) -> float:
        if seconds <= 0.0:
            return amount if now >= at else 0.0
        return amount * min(1.0, max(0.0, (now - at) / seconds))

    return value
