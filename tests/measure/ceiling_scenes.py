"""Pictures with a known ceiling or none: light, a camera with noise, a limit, and a codec in between."""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterator
from fractions import Fraction

import av
import cv2
import msgspec
import numpy as np

from analysis.feed.scene.controls import Sensor
from analysis.feed.scene.develop import Developer
from analysis.feed.scene.develop import layout as writing
from analysis.measure.ceiling import EndFinder, EndsFound
from analysis.measure.ceiling_samples import samples_of
from analysis.model.frame import Frame
from analysis.signal.curves import curve
from tests.measure import plain
from tests.support.clips import av_frame

WIDTH, HEIGHT, RATE = 640, 360, 8.0
ROOM_LIGHT = 0.09
"""Linear light of the middle of the room: one stop under middle grey."""
WINDOW, SMALL, MANY = "window", "lamp", "glints"


class Shot(msgspec.Struct, frozen=True, kw_only=True):
    """One picture of the grid and how it was made.

    ``share`` is the percent of pixels that receive more light than the limit lets through; ``level`` the limit
    in IRE, None for what the curve makes of a full sensor; ``clamp`` limits luma codes instead of R'G'B'.
    The brighter half of that share is ``over`` stops beyond it; or the brightest is ``below`` stops under it.
    """

    name: str = "window"
    share: float = 2.0
    level: float | None = 100.0
    clamp: bool = False
    curve: str = "bt709"
    iso: float = 800.0
    well: float = 60000.0
    read_noise: float = 6.0
    layout: str = "yuv422p"
    codec: str = ""
    quality: int = 0
    tint: tuple[float, float, float] = (0.95, 1.0, 1.04)
    over: float = 1.0
    below: float = 0.0
    seed: int = 1
    motion: float = 1.0
    noise: bool = True
    black: float | None = None

    @property
    def bits(self) -> int:
        return 10 if "10" in self.layout else 8

    @property
    def true_level(self) -> float:
        """The limit in IRE."""
        sensor = Sensor(full_well=self.well)
        full = 100.0 * float(curve(self.curve).encode(np.array(sensor.saturation * self.iso / 800.0)))
        return min(full, 100.0 * _highest(self.bits), 1e9 if self.level is None else self.level)


def _highest(bits: int) -> float:
    return (254.0 - 16.0) / 219.0 if bits == 8 else (255.0 - 0.25 - 16.0) / 219.0


@functools.lru_cache(maxsize=64)
def light_of(name: str, seed: int) -> np.ndarray:
    """Scene light without colour, shape (HEIGHT, WIDTH), brightest about 1: a dim room and what shines in it."""
    dice = np.random.default_rng(seed)
    down, along = np.mgrid[0:HEIGHT, 0:WIDTH].astype(np.float32)
    down, along = down / HEIGHT, along / HEIGHT
    room = 0.05 * 2.0 ** _grain(dice, 5, 9, 1.2) * (1 + 0.10 * _grain(dice, 60, 100, 1.0))
    room += 0.10 * np.exp(-((along - 0.6) ** 2 + (down - 0.55) ** 2) * 22) * (1 + 0.06 * _grain(dice, 40, 70, 1.0))
    glow = np.zeros_like(room)
    if name == "night":
        room = room * np.clip(down * 1.4 - 0.3, 0.0, 1.0) * np.clip(2.0 - along, 0.0, 1.0)
        glow = 1.0 * np.exp(-((along - 1.2) ** 2 + (down - 0.7) ** 2) * 60)
    elif name == WINDOW:
        x, y = dice.uniform(1.0, 1.25), dice.uniform(0.1, 0.2)
        inside = (along > x) & (along < x + 0.42) & (down > y) & (down < y + 0.55)
        sun = np.exp(-((along - x - 0.2) ** 2 + (down - y - 0.15) ** 2) * 14)
        glow = np.where(inside, 0.25 + 0.05 * _grain(dice, 7, 10, 1.0) + 0.8 * sun, 0.0)
    elif name == SMALL:
        x, y, size = dice.uniform(0.9, 1.5), dice.uniform(0.15, 0.4), 0.035
        away = np.hypot(along - x, down - y)
        glow = 1.4 / (1 + (away / size) ** 4) + 0.12 * np.exp(-(away**2) * 20)
    elif name == MANY:
        for _ in range(60):
            x, y = dice.uniform(0.1, 1.7), dice.uniform(0.1, 0.9)
            away = ((along - x) ** 2 + (down - y) ** 2) / dice.uniform(0.004, 0.012) ** 2
            glow += dice.uniform(0.3, 1.5) * np.exp(-away)
    elif name == "sky":
        cloud = 0.12 * _grain(dice, 6, 8, 1.0) + 0.05 * _grain(dice, 25, 40, 1.0)
        glow = np.where(down < 0.5 + 0.05 * _grain(dice, 2, 9, 1.0), 0.7 + 0.25 * (0.5 - down) + cloud * 0.6, 0.0)
    elif name == "clear sky":
        glow = np.where(down < 0.5, 0.8 + 0.2 * (0.5 - down) - 0.06 * np.abs(along - 0.9), 0.0)
    elif name == "wall":
        glow = np.where(along > 0.5, 1.0 - 0.10 * (along - 1.0) ** 2 - 0.05 * down + 0.004 * _grain(dice, 9, 9, 1.0), 0)
    elif name == "card":
        inside = (along > 0.9) & (along < 1.3) & (down > 0.3) & (down < 0.6)
        glow = np.where(inside, 1.0 - 0.06 * (along - 0.9) - 0.03 * down, 0.0)
    elif name == "even card":
        glow = np.where((along > 0.9) & (along < 1.3) & (down > 0.3) & (down < 0.6), 1.0, 0.0)
    elif name == "flat card":
        inside = (along > 0.9) & (along < 1.3) & (down > 0.3) & (down < 0.6)
        return np.where(inside, 1.0, room).astype(np.float32)
    elif name == "discs":
        for _ in range(14):
            x, y, size = dice.uniform(0.1, 1.7), dice.uniform(0.1, 0.9), dice.uniform(0.03, 0.07)
            disc = np.clip((size - np.hypot(along - x, down - y)) * 120, 0.0, 1.0)
            glow = np.maximum(glow, dice.uniform(0.5, 1.0) * disc)
    elif name == "face":
        oval = ((along - 0.8) / 0.2) ** 2 + ((down - 0.5) / 0.28) ** 2
        shine = np.exp(-((along - 0.75) ** 2 + (down - 0.38) ** 2) * 300)
        glow = np.where(oval < 1, (1 - 0.6 * oval) * 0.6 + 0.35 * shine + 0.03 * _grain(dice, 60, 100, 1.0), 0.0)
    found = room * (0.25 if name == "dark" else 1.0) + cv2.GaussianBlur(glow.astype(np.float32), (0, 0), 0.8)
    return np.maximum(found, 1e-4).astype(np.float32)


def _grain(dice: np.random.Generator, rows: int, columns: int, size: float) -> np.ndarray:
    small = dice.standard_normal((rows, columns)).astype(np.float32) * size
    return cv2.resize(small, (WIDTH, HEIGHT), interpolation=cv2.INTER_CUBIC)


def colours(shot: Shot) -> np.ndarray:
    """Scene-linear R, G, B at the camera; (3, rows, columns).

    The asked share is beyond the limit in one channel at least, its brighter half by ``over`` stops; or the
    brightest is ``below`` stops under it.
    """
    light = light_of(shot.name, shot.seed)
    warm = np.array([1.25, 1.0, 0.75], np.float32)
    bright = np.clip(light / 0.25, 0.0, 1.0)[None]
    rgb = light[None] * (warm[:, None, None] * (1 - bright) + np.array(shot.tint, np.float32)[:, None, None] * bright)
    if shot.below:
        return rgb * np.float32(_limit(shot) * 2.0**-shot.below / rgb.max())
    most = rgb.max(axis=0)
    edge = np.quantile(most, 1.0 - shot.share / 100.0)
    rgb, most = rgb / np.float32(edge), most / np.float32(edge)
    steep = max(1.0, shot.over / max(float(np.log2(np.median(most[most > 1.0]))), 1e-3))
    room = min(1.0, ROOM_LIGHT / (float(np.median(most)) * _limit(shot)))
    return rgb * np.maximum(most ** np.float32(min(steep, 40.0) - 1.0), np.float32(room)) * np.float32(_limit(shot))


def _limit(shot: Shot) -> float:
    """Linear light at the reference exposure that just reaches the limit."""
    there = curve(shot.curve)
    return float(there.decode(np.array(shot.true_level / 100.0))) * 800.0 / shot.iso


def develop(shot: Shot, rgb: np.ndarray, dice: np.random.Generator) -> tuple[np.ndarray, ...]:
    """One picture of that light: shot and read noise, full sensor, ISO, curve, limit, codes."""
    sensor = Sensor(full_well=shot.well, read_noise=shot.read_noise)
    electrons = rgb * np.float32(sensor.electrons_per_unit)
    if shot.noise:
        spread = np.sqrt(np.maximum(electrons, 0.0) + np.float32(sensor.read_noise**2))
        electrons = electrons + dice.standard_normal(rgb.shape, np.float32) * spread
    caught = np.minimum(electrons, sensor.full_well) * (shot.iso / 800.0 / sensor.electrons_per_unit)
    signal = curve(shot.curve).encode(caught).astype(np.float32)
    low = -0.0685 if shot.black is None else shot.black / 100.0
    highest = _highest(shot.bits) if shot.clamp or shot.level is None else shot.true_level / 100.0
    signal = np.clip(signal, low, min(highest, _highest(shot.bits)))
    developer = Developer(WIDTH, HEIGHT, writing(shot.layout), "narrow", "bt709")
    planes = developer.planes(lambda shape, kind: np.empty(shape, kind))
    for top in range(0, HEIGHT, 40):
        developer.write([np.ascontiguousarray(signal[channel, top : top + 40]) for channel in range(3)], top, planes)
    if shot.clamp:
        top_code = round((16 + 2.19 * shot.true_level) * 2 ** (shot.bits - 8))
        np.minimum(planes[0], top_code, out=planes[0])
    return planes


def frames(shot: Shot, count: int = 12, light: Callable[[int], float] | None = None) -> Iterator[Frame]:
    """Pictures of the shot, the camera moving a little, ``light(n)`` times as bright, through the codec."""
    dice, rgb = np.random.default_rng([shot.seed, 7]), colours(shot)
    pictures = []
    for number in range(count):
        right = round(2.0 * shot.motion * np.sin(number / 3.0))
        factor = np.float32(light(number) if light else 1.0)
        pictures.append(develop(shot, np.roll(rgb, right, axis=2) * factor, dice))
    yield from as_frames(shot.layout, coded(shot, pictures))


def as_frames(layout: str, pictures: list[tuple[np.ndarray, ...]]) -> Iterator[Frame]:
    """Frames of these planes, numbered."""
    for number, planes in enumerate(pictures):
        yield plain.frame_of(planes, layout, WIDTH, HEIGHT, sequence=number)


def coded(shot: Shot, pictures: list[tuple[np.ndarray, ...]]) -> list[tuple[np.ndarray, ...]]:
    """The pictures after encoding and decoding; codes are left as they are whatever range a codec means."""
    if not shot.codec:
        return pictures
    name = {"mjpeg": shot.layout.replace("yuv", "yuvj")}.get(shot.codec, shot.layout)
    encoder = av.CodecContext.create({"x264": "libx264"}.get(shot.codec, shot.codec), "w")
    encoder.width, encoder.height, encoder.pix_fmt = WIDTH, HEIGHT, name
    encoder.time_base = Fraction(1, 25)
    encoder.framerate = 25
    if shot.codec == "x264":
        encoder.options = {"crf": str(shot.quality), "preset": "veryfast", "threads": "1", "tune": "zerolatency"}
    else:
        encoder.bit_rate = 1
        encoder.options = {"qmin": str(shot.quality), "qmax": str(shot.quality), "threads": "1", "bf": "0"}
    decoder = av.CodecContext.create({"x264": "h264"}.get(shot.codec, shot.codec), "r")
    if encoder.codec.name == "mjpeg":
        encoder.color_range = 2
    packets = []
    for number, planes in enumerate(pictures):
        frame = av_frame(name, WIDTH, HEIGHT, list(planes))
        frame.pts = number
        if shot.codec == "mjpeg":
            frame.color_range = 2
        packets += encoder.encode(frame)
    packets += encoder.encode(None)
    found = [frame for packet in packets for frame in decoder.decode(packet)] + list(decoder.decode(None))
    return [_planes(frame) for frame in found]


def _planes(frame: av.VideoFrame) -> tuple[np.ndarray, ...]:
    deep = np.uint16 if "10" in frame.format.name else np.uint8
    out = []
    for plane in frame.planes:
        lines = np.frombuffer(plane, deep).reshape(plane.height, plane.line_size // np.dtype(deep).itemsize)
        out.append(lines[:, : plane.width].copy())
    return tuple(out)


def luma_counts(frame: Frame) -> np.ndarray:
    """How many pixels have each code of the first plane."""
    size = 1 << frame.format.encoding.bits
    return np.bincount(frame.planes[0].ravel(), minlength=size).astype(float)


def ends(
    shot: Shot,
    count: int = 12,
    light: Callable[[int], float] | None = None,
    curve: str | None = None,
) -> list[EndsFound]:
    """What a finder knows after each picture of the shot, looked at ``RATE`` times a second."""
    finder = EndFinder(shot.bits, "narrow", curve)
    return [look(finder, frame, number / RATE) for number, frame in enumerate(frames(shot, count, light))]


def look(finder: EndFinder, frame: Frame, now: float) -> EndsFound:
    """Show a planar frame to a finder."""
    area = (0, 0, frame.format.width, frame.format.height)
    return finder.look(luma_counts(frame), None, samples_of(frame, area, frame.format.encoding), now)
