"""Pictures of a grey wall under a lamp on the mains, exposed as a camera exposes: the light is integrated exactly."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from analysis.measure.flicker import FlickerSettings, FlickerWatch
from analysis.measure.sample import Sample
from analysis.model.frame import Encoding, FrameFormat
from analysis.model.reading import Flicker
from analysis.signal.curves import curve

ROWS, COLUMNS = 96, 120
FORM = FrameFormat(layout="gray", width=COLUMNS, height=ROWS, encoding=Encoding(bits=8, range="narrow", matrix="bt709"))
WALL = np.tile(np.linspace(0.05, 0.5, COLUMNS), (ROWS, 1))
Gain = Callable[[int, np.ndarray], "np.ndarray | float"]


def lamp(mains: float, exposure: float, modulation: float) -> Gain:
    """Mean of ``1 + modulation cos(2 pi 2 mains t)`` over an exposure that begins at the times given."""
    turn = 2.0 * np.pi * 2.0 * mains

    def gain(_number: int, begin: np.ndarray) -> np.ndarray:
        wave = np.sin(turn * (begin + exposure)) - np.sin(turn * begin)
        return 1.0 + modulation * wave / (turn * exposure)

    return gain


def frames(
    gain: Gain, fps: float, seconds: float = 8.0, readout: float = 0.0, noise: float = 1.5, seed: int = 1, wall=WALL
) -> Iterator[tuple[int, float, Sample]]:
    """Number, time and sample of each frame; row ``r`` begins ``readout * r / rows`` later (a rolling shutter)."""
    rng = np.random.default_rng(seed)
    bt709 = curve("bt709")
    for number in range(int(seconds * fps)):
        begin = number / fps + readout * np.arange(ROWS) / ROWS
        light = wall * np.broadcast_to(np.asarray(gain(number, begin)), ROWS)[:, None]
        codes = 16.0 + 219.0 * bt709.encode(light) + rng.normal(0.0, noise, light.shape)
        yield number, number / fps, Sample(np.clip(np.rint(codes), 1, 254).astype(np.uint8), None)


def watched(
    shots: Iterator[tuple[int, float, Sample]],
    jitter: float = 0.0,
    missing: Callable[[int], bool] = lambda _number: False,
    numbered: bool = True,
    settings: FlickerSettings | None = None,
) -> list[Flicker | None]:
    """What a watch says after each frame, with stamps that jitter and frames that never came."""
    rng = np.random.default_rng(7)
    watch = FlickerWatch(FORM, curve("bt709"), settings)
    said, count, last = [], 0, -1.0
    for number, seconds, sample in shots:
        late = float(rng.normal(0.0, jitter)) if jitter else 0.0
        if missing(number):
            continue
        last = max(last + 1e-4, seconds + late)
        said.append(watch.see(sample, last, number if numbered else count))
        count += 1
    return said


def beats(said: list[Flicker | None]) -> list[Flicker]:
    """Only the beats of what was said: neither "none" nor "not known"."""
    return [flicker for flicker in said if flicker is not None and flicker.seen]
