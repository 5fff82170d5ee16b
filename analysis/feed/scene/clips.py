"""Renders the two demonstration clips: ``python -m analysis.feed.scene.clips [FOLDER]``.

Both are rendered by the scene with a fixed seed and a small story, so they can be made
again at any time and a test can compare them with a fresh rendering.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import msgspec
import numpy as np

from analysis.feed.scene.controls import SceneControls
from analysis.feed.scene.develop import layout
from analysis.feed.scene.lights import LightLevels
from analysis.feed.scene.renderer import Renderer
from analysis.model.frame import Picture

FOLDER = "recordings"
LARGEST_TOGETHER = 4_000_000
"""Both clips together stay below this many bytes."""
MPEG_RANGE, BT709, UNSPECIFIED = 1, 1, 2
"""Colour tags as ITU-T H.273 and FFmpeg number them."""


class Clip(msgspec.Struct, frozen=True, kw_only=True):
    """One clip: how the camera is set, how long it runs, and when what happens.

    ``sun`` and ``lamp`` are pairs (seconds, strength) between which the light changes in a
    straight line; a switch is two pairs a frame apart.
    """

    file: str
    story: str
    controls: SceneControls
    seconds: float
    quality: int
    profile: str
    trc: int
    sun: tuple[tuple[float, float], ...] = ()
    lamp: tuple[tuple[float, float], ...] = ()

    @property
    def frames(self) -> int:
        """Number of frames."""
        return round(self.seconds * self.controls.rate)

    def lights(self, number: int) -> LightLevels:
        """The lights of frame ``number``."""
        seconds = number / self.controls.rate
        return LightLevels(sky=1.0, sun=_between(self.sun, seconds), lamp=_between(self.lamp, seconds))

    def picture(self, renderer: Renderer, number: int) -> Picture:
        """Frame ``number`` as rendered, before any codec."""
        return renderer.picture(number / self.controls.rate, number, self.lights(number))


CLIPS = (
    Clip(
        file="boathouse-709-8bit.mp4",
        story="the sun breaks through at 2 s, the sky clips until about 5 s",
        controls=SceneControls(width=1280, height=720, layout="yuv420p", clouds=False, seed=7),
        seconds=6.0,
        quality=18,
        profile="high",
        trc=BT709,
        sun=((2.0, 0.0), (2.8, 1.0), (4.6, 1.0), (5.4, 0.0)),
    ),
    Clip(
        file="boathouse-log-10bit.mov",
        story="the lamp is switched on at 2 s and off at 4.5 s; its bulb fills the sensor",
        controls=SceneControls(width=1280, height=720, layout="yuv422p10le", curve="acescct", clouds=False, seed=8),
        seconds=6.0,
        quality=18,
        profile="high422",
        trc=UNSPECIFIED,
        lamp=((1.99, 0.0), (2.0, 1.0), (4.49, 1.0), (4.5, 0.0)),
    ),
)


def make(clip: Clip, folder: Path) -> Path:
    """Render and encode one clip; returns the file. An older one is replaced."""
    path = folder / clip.file
    renderer = Renderer(clip.controls)
    with av.open(str(path), "w", options={"fflags": "+bitexact"}) as container:
        stream: Any = container.add_stream("libx264", rate=Fraction(clip.controls.rate).limit_denominator(1001))
        stream.width, stream.height = clip.controls.width, clip.controls.height
        stream.pix_fmt = clip.controls.layout
        context = stream.codec_context
        context.color_range, context.colorspace = MPEG_RANGE, BT709
        context.color_primaries, context.color_trc = BT709, clip.trc
        # One thread: the result does not depend on the machine.
        context.thread_count = 1
        stream.options = {"crf": str(clip.quality), "preset": "medium", "profile": clip.profile, "threads": "1"}
        for frame in _frames(clip, renderer):
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


def _frames(clip: Clip, renderer: Renderer) -> Iterator[av.VideoFrame]:
    base = 1 / Fraction(clip.controls.rate).limit_denominator(1001)
    for number in range(clip.frames):
        picture = clip.picture(renderer, number)
        frame = av.VideoFrame(clip.controls.width, clip.controls.height, clip.controls.layout)
        wide = np.uint8 if layout(clip.controls.layout).bits == 8 else np.uint16
        planes: Any = frame.planes
        for plane, codes in zip(planes, picture.planes, strict=True):
            rows = np.frombuffer(plane, wide).reshape(plane.height, -1)
            rows[:, : codes.shape[1]] = codes
        frame.pts, frame.time_base = number, base
        frame.color_range, frame.colorspace = MPEG_RANGE, BT709
        frame.color_primaries, frame.color_trc = BT709, clip.trc
        yield frame


def _between(points: tuple[tuple[float, float], ...], seconds: float) -> float:
    if not points:
        return 0.0
    return float(np.interp(seconds, [at for at, _ in points], [strength for _, strength in points]))


def main(arguments: list[str]) -> int:
    """Make both clips in the folder named, ``recordings`` otherwise."""
    folder = Path(arguments[0] if arguments else FOLDER)
    folder.mkdir(parents=True, exist_ok=True)
    total = 0
    for clip in CLIPS:
        path = make(clip, folder)
        size = path.stat().st_size
        total += size
        sys.stdout.write(f"{path}: {size / 1e6:.2f} MB, {clip.seconds:g} s; {clip.story}\n")
    if total >= LARGEST_TOGETHER:
        sys.stderr.write(f"{folder}: the clips are {total / 1e6:.2f} MB together; raise their quality figure\n")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
