"""One finder for all tests, and the way from a frame to its sitters without threads."""

from __future__ import annotations

import importlib.util
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pytest

from analysis.measure.face import Face, FaceFinder
from analysis.measure.follow import Company, Look, Sitter, follow
from analysis.measure.shrunken import Shrinker, Shrunken
from analysis.measure.skin import SkinReader
from analysis.model.frame import Frame
from analysis.model.instant import Instant
from analysis.model.sitter import SitterReading
from analysis.settings.face_model import face_model
from analysis.signal.curves import curve

Box = tuple[float, float, float, float]
START = Instant(100.0, 0.0)


@cache
def finder() -> FaceFinder:
    return FaceFinder(face_model())


def small(frame: Frame, width: int = 320) -> Shrunken:
    return Shrinker(frame.format).take(frame, (0, 0, frame.format.width, frame.format.height), width)


def faces(frame: Frame, width: int = 320) -> tuple[Face, ...]:
    return finder().find(small(frame, width))


def read(frame: Frame, *, clip: float | None = None) -> tuple[SitterReading, ...]:
    """Search and read one frame."""
    picture = small(frame)
    company = follow(Company(), finder().find(picture), picture, START)
    name = frame.format.encoding.curve
    return SkinReader(frame.format, curve(name) if name else None).read(frame, company, START, clip=clip)


def only(frame: Frame) -> SitterReading:
    readings = read(frame)
    assert len(readings) == 1, f"{len(readings)} sitters found"
    return readings[0]


def held(box: Box, *, turn: float = 0.0, name: str = "sitter 1") -> Company:
    """A company of one, as if just found there."""
    sitter = Sitter(
        name=name,
        box=box,
        confidence=0.9,
        turn=turn,
        since=START.monotonic,
        found=START.monotonic,
        looked=START.monotonic,
        steadiness=1.0,
        look=Look(level=50.0, clipped=0.0),
    )
    return Company(sitters=(sitter,), main=name)


def skin_in(frame: Frame, box: Box, *, turn: float = 0.0, clip: float | None = None) -> SitterReading:
    """The reading with the face where the test says it is."""
    name = frame.format.encoding.curve
    reader = SkinReader(frame.format, curve(name) if name else None)
    return reader.read(frame, held(box, turn=turn), START, clip=clip)[0]


def packaged(package: str, *parts: str) -> Path:
    """A file inside an installed package; without it the test says so and skips."""
    spec = importlib.util.find_spec(package)
    for folder in (spec.submodule_search_locations or []) if spec is not None else []:
        path = Path(folder).joinpath(*parts)
        if path.is_file():
            return path
    pytest.skip(f"{'/'.join(parts)} of {package} is not installed: pip install 'stopkeeper[faces]'")


def photo(package: str, *parts: str) -> np.ndarray:
    """A picture inside an installed package as R'G'B', uint8."""
    found = cv2.imread(str(packaged(package, *parts)), cv2.IMREAD_COLOR)
    assert found is not None
    return np.asarray(cv2.cvtColor(found, cv2.COLOR_BGR2RGB))


def astronaut() -> np.ndarray:
    """A portrait in the public domain, shipped by scikit-image."""
    return photo("skimage", "data", "astronaut.png")


def admiral() -> np.ndarray:
    """A portrait with glasses and hat in the public domain, shipped by matplotlib."""
    return photo("matplotlib", "mpl-data", "sample_data", "grace_hopper.jpg")
