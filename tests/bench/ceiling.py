"""How often the ceiling is found where there is one, and where there is none; and what looking for it costs.

Pictures of 640x360, ten looks over one and a quarter seconds of a camera that moves a little, with known light, noise,
limit and codec (see :mod:`tests.measure.ceiling_scenes`). *Found* is a ceiling within 1.2 IRE of the true one at the
last look, *wrong* is any other ceiling at any look; a *false alarm* is any ceiling at any look of a picture that has
none. The limits catch a loss: strong compression and tiny highlights have none.
"""

from __future__ import annotations

import itertools
import time
from collections.abc import Iterable
from statistics import median

import cv2
import msgspec
import numpy as np

from analysis.measure.ceiling import EndFinder
from analysis.measure.ceiling_samples import samples_of
from tests.bench import pictures
from tests.bench.row import Row
from tests.measure.ceiling_scenes import Shot, ends

SECTION = "ceiling"
LOOKS = 10
CODECS: dict[str, tuple[dict[str, object], ...]] = {
    "uncompressed 8 bit": ({},),
    "uncompressed 8 bit, ISO 3200": ({"iso": 3200.0},),
    "uncompressed 10 bit": ({"layout": "yuv422p10le"},),
    "H.264 crf 23, 4:2:0": ({"codec": "x264", "quality": 23, "layout": "yuv420p"},),
    "H.264 crf 28, 4:2:0": ({"codec": "x264", "quality": 28, "layout": "yuv420p"},),
    "H.264 crf 23, 10 bit": ({"codec": "x264", "quality": 23, "layout": "yuv422p10le"},),
    "MPEG-2 quantiser 3": ({"codec": "mpeg2video", "quality": 3},),
    "JPEG quantiser 3": ({"codec": "mjpeg", "quality": 3},),
    "JPEG quantiser 8": ({"codec": "mjpeg", "quality": 8},),
}
SHARES = {
    0.05: ("lamp",),
    0.2: ("lamp", "window"),
    1.0: ("window", "glints"),
    5.0: ("window",),
    15.0: ("sky",),
    30.0: ("wall",),
}
LEVELS = (83.0, 100.0, 108.0)
BELOW = ("window", "sky", "clear sky", "wall", "card", "even card", "discs", "face", "dark", "lamp", "glints")


class Score:
    """Counts of one row."""

    def __init__(self) -> None:
        self.shots = self.found = self.wrong = 0

    def add(self, shot: Shot, curve: str | None = None) -> None:
        """Watch one shot."""
        levels = [end.ceiling.level for end in ends(shot, LOOKS, curve=curve) if end.ceiling is not None]
        last = ends_level(levels)
        self.shots += 1
        if shot.below:
            self.wrong += bool(levels)
            return
        self.found += last is not None and abs(last - shot.true_level) <= 1.2
        self.wrong += any(abs(level - shot.true_level) > 1.2 for level in levels)


def ends_level(levels: list[float]) -> float | None:
    """The last level, None when there is none."""
    return levels[-1] if levels else None


def run() -> list[Row]:
    """The rows of this section."""
    rows = _by_codec() + _by_share() + _by_level() + _single_channel() + _floors() + _false_alarms()
    return rows + [_cost(layout) for layout in ("yuyv422", "nv12", "yuv422p10le")]


def _score(shots: Iterable[Shot], curve: str | None = None) -> Score:
    score = Score()
    for shot in shots:
        score.add(shot, curve)
    return score


def _rates(name: str, score: Score, least: float | None = None) -> list[Row]:
    """Rows of shots that have a ceiling."""
    title = f"{name}, {score.shots} shots"
    return [
        Row(section=SECTION, name=f"{title}: found", value=100.0 * score.found / score.shots, unit="%", least=least),
        Row(section=SECTION, name=f"{title}: wrong level", value=100.0 * score.wrong / score.shots, unit="%", most=0.0),
    ]


def _clipped(codec: dict[str, object], shares: Iterable[float], limits: Iterable[dict[str, object]]) -> list[Shot]:
    return [
        Shot(name=name, share=share, **codec, **limit)
        for share, limit in itertools.product(shares, limits)
        for name in SHARES[share]
    ]


def _by_codec() -> list[Row]:
    rows = []
    for name, (codec,) in CODECS.items():
        shares = (0.2, 1.0, 30.0)
        least = 90.0 if "uncompressed" in name else None
        rows += _rates(
            f"display curve, 94 IRE, {name}", _score(_clipped(codec, shares, ({"level": 94.0},)), "bt709"), least
        )
        rows += _rates(
            f"log curve, full sensor, {name}", _score(_clipped(codec, shares, ({"curve": "acescct", "level": None},)))
        )
    return rows


def _by_share() -> list[Row]:
    rows = []
    for share in SHARES:
        shots = [
            shot
            for codec in ("uncompressed 8 bit", "uncompressed 10 bit", "H.264 crf 23, 4:2:0")
            for over in (0.2, 2.0)
            for shot in _clipped(CODECS[codec][0] | {"over": over}, (share,), ({"level": 94.0},))
        ]
        rows += _rates(f"{share:g} % clipped by 0.2 and 2 stops", _score(shots), 80.0 if share >= 1.0 else None)
    return rows


def _by_level() -> list[Row]:
    rows = []
    for level in LEVELS:
        limits = ({"level": level}, {"level": level, "clamp": True}, {"level": level, "codec": "x264", "quality": 20})
        rows += _rates(f"{level:g} IRE, display curve", _score(_clipped({}, (1.0, 5.0, 30.0), limits)), 80.0)
    return rows


def _single_channel() -> list[Row]:
    shots = [
        Shot(name=name, share=4.0, level=level, tint=tint, layout=layout, over=0.3)
        for name in ("window", "sky")
        for level in (83.0, 94.0)
        for tint in ((1.0, 0.55, 0.3), (0.35, 0.6, 1.0))
        for layout in ("yuv422p", "yuv420p", "yuv422p10le")
    ]
    return _rates("one channel only", _score(shots), 90.0)


def _floors() -> list[Row]:
    """Black that stops falling at 0 to 6 IRE, and dim pictures that do not reach any such level."""
    found = wrong = alarms = count = 0
    for black, codec in itertools.product(
        (0.0, 3.0, 6.0), ("uncompressed 8 bit", "uncompressed 10 bit", "H.264 crf 23, 4:2:0")
    ):
        shot = Shot(name="night", share=0.3, black=black, **CODECS[codec][0])
        last = ends(shot, LOOKS)[-1].floor
        count += 1
        found += last is not None and abs(last.level - black) <= 1.2
        wrong += last is not None and abs(last.level - black) > 1.2
        dim = Shot(
            name=("dark", "window", "face")[count % 3],
            below=1.0,
            curve=("bt709", "acescct")[count % 2],
            **CODECS[codec][0],
        )
        alarms += any(end.floor is not None for end in ends(dim, LOOKS))
    return [
        Row(
            section=SECTION,
            name=f"floor at 0, 3 and 6 IRE, {count} shots: found",
            value=100.0 * found / count,
            unit="%",
            least=70.0,
        ),
        Row(
            section=SECTION,
            name=f"floor at 0, 3 and 6 IRE, {count} shots: wrong level",
            value=100.0 * wrong / count,
            unit="%",
            most=0.0,
        ),
        Row(
            section=SECTION,
            name=f"dim above its floor, {count} shots: false alarms",
            value=100.0 * alarms / count,
            unit="%",
            most=0.0,
        ),
    ]


def _false_alarms() -> list[Row]:
    rows = []
    for title, curve, kind in (("display curve", "bt709", "bt709"), ("log curve", None, "acescct")):
        score = Score()
        for name, (codec,) in CODECS.items():
            del name
            for number, scene in enumerate(BELOW):
                score.add(
                    Shot(name=scene, below=0.2 + 0.1 * (number % 4), curve=kind, seed=2 + number % 3, **codec), curve
                )
        value = 100.0 * score.wrong / score.shots
        row = f"bright but below, {title}, {score.shots} shots: false alarms"
        rows.append(Row(section=SECTION, name=row, value=value, unit="%", most=1.0))
    score = _score(Shot(name="flat card", below=0.2 + 0.07 * n, curve="acescct", layout=lay, codec=codec, quality=23)
                   for n in range(6) for lay, codec in (("yuv422p", ""), ("yuv420p", "x264")))  # fmt: skip
    row = f"cannot be told: card without any shading, 8-bit log, {score.shots} shots: false alarms"
    rows.append(Row(section=SECTION, name=row, value=100.0 * score.wrong / score.shots, unit="%"))
    return rows


def _cost(layout: str) -> Row:
    """One look in units, every pixel of a tenth of the picture at a ceiling."""
    cv2.setNumThreads(1)
    picture = pictures.room(1920, 1080)
    picture[:, :, ::2] = np.minimum(picture[:, :, ::2], 214)
    frame = pictures.frame(picture, layout)
    bits = frame.format.encoding.bits
    size, unit = 1 << bits, 1 << (bits - 8)
    plane = pictures.luma(picture) if layout == "yuyv422" else frame.planes[0]
    counts = cv2.calcHist([plane], [0], None, [size], [0, size]).ravel().astype(np.float64)
    finder, units, looks = EndFinder(bits, "narrow"), [], []
    for number in range(40):
        start = time.thread_time()
        cv2.calcHist([plane], [0], None, [size], [0, size])
        middle = time.thread_time()
        shown = msgspec.structs.replace(frame, sequence=number)
        counts[(50 + number % 2) * unit] += 0.01 * plane.size  # another picture each time
        finder.look(counts, None, samples_of(shown, (0, 0, 1920, 1080), frame.format.encoding), number / 8)
        units.append(middle - start)
        looks.append(time.thread_time() - middle)
    name = f"1080p {layout}: one look at ceiling and floor (a quarter of it a frame at every fourth frame)"
    return Row(section=SECTION, name=name, value=median(looks) / median(units), unit="units", most=2.0)
