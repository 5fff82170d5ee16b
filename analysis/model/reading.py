"""Everything measured on one frame: the value that travels, and what the screen needs beside it."""

from __future__ import annotations

from typing import Literal

import msgspec
import numpy as np
import numpy.typing as npt

from analysis.model.frame import Encoding
from analysis.model.instant import Instant
from analysis.model.light import LightMap
from analysis.model.sitter import SitterReading, SpotReading

Validity = Literal["good", "priming", "late", "suspect"]
ClipSource = Literal["narrow", "full", "asked", "profile", "ceiling", "floor"]


class Luma(msgspec.Struct, frozen=True, kw_only=True):
    """Luma of the active picture in IRE; percentiles linearly interpolated (design: numpy.percentile)."""

    mean: float
    min: float
    p1: float
    p5: float
    p50: float
    p95: float
    p99: float
    max: float


class Shares(msgspec.Struct, frozen=True, kw_only=True):
    """Percent of the active picture at or beyond ``level`` (IRE), per channel and in any of them.

    ``any`` is the share of pixels where R', G', B' or luma is beyond; ``r``, ``g``, ``b``
    are None where the feed has no colour. ``by`` says what set the level.
    """

    any: float
    luma: float
    r: float | None
    g: float | None
    b: float | None
    level: float
    by: ClipSource


class PictureArea(msgspec.Struct, frozen=True, kw_only=True):
    """Size in pixels and the active picture ``(x, y, width, height)`` without black bars."""

    width: int
    height: int
    active: tuple[int, int, int, int]


class FeedHealth(msgspec.Struct, frozen=True, kw_only=True):
    """How the feed was doing when the frame was measured.

    ``fps`` is measured, not nominal; ``age_ms`` is arrival to reading; ``skipped`` counts
    frames of this watch that were not measured.
    """

    fps: float | None
    age_ms: float
    skipped: int
    generation: int


class SignalEnd(msgspec.Struct, frozen=True, kw_only=True):
    """Where this camera's signal stops rising (a ceiling) or falling (a floor), found in the picture.

    ``level`` is the IRE of the pile-up, ``share`` the percent of the active picture lying on it,
    ``channels`` where it was found (``luma``, ``r``, ``g``, ``b``), ``seconds`` how long it has
    stood at that level.
    """

    level: float
    share: float
    channels: tuple[str, ...] = ()
    seconds: float = 0.0


class Noise(msgspec.Struct, frozen=True, kw_only=True):
    """Temporal noise from frame differences on still parts of the picture (ISO 15739, two-frame form).

    ``shadow_snr_db`` is the signal-to-noise ratio in the darkest tenth that has signal, in
    decibels of linear light, ``shadow_snr_stops`` the same in stops; ``ire`` is the standard deviation
    of luma there in IRE. All are None, and ``refused`` says why, where it cannot be measured.
    """

    shadow_snr_db: float | None = None
    shadow_snr_stops: float | None = None
    ire: float | None = None
    refused: str | None = None


class Flicker(msgspec.Struct, frozen=True, kw_only=True):
    """Mains beat that was looked for in the picture: ``hz`` of the beat, ``stops`` peak to peak.

    ``kind`` is ``whole`` when the whole frame rises and falls, ``bands`` when bands roll through it. Where it was
    looked for and none was seen, ``hz`` is None, ``stops`` 0 and ``kind`` ``none``; a reading whose flicker is None
    altogether does not know, which is not the same.
    """

    hz: float | None
    stops: float
    kind: Literal["whole", "bands", "none"] = "whole"

    @property
    def seen(self) -> bool:
        """Whether there is a beat."""
        return self.hz is not None


NO_FLICKER = Flicker(hz=None, stops=0.0, kind="none")
"""Looked for, and none that is worth telling."""


class Tolerance(msgspec.Struct, frozen=True, kw_only=True):
    """Percent of the active picture outside the preferred range of EBU R 103, and whether that is within its 1 %.

    ``estimated`` when it comes from a sample of the pixels instead of all of them.
    """

    any: float
    luma: float
    r: float | None
    g: float | None
    b: float | None
    within: bool
    estimated: bool = False


class StopsSpread(msgspec.Struct, frozen=True, kw_only=True):
    """The picture in stops from middle grey: ``counts[i]`` percent of it between ``low + i*step`` and the next.

    Pixels below or above the table are counted in its first or last bin.
    """

    low: float
    step: float
    counts: tuple[float, ...]


class Reading(msgspec.Struct, frozen=True, kw_only=True):
    """Everything measured on one frame; a part that was not measured is None, never zero.

    Levels are IRE, shares percent of the active picture. ``seconds`` counts from the first
    frame of the watch. ``validity`` says how far the numbers may be used. ``spread`` is of luminance, ``peaks``
    of the brightest of R, G and B of every pixel, which is what clips first, ``depths`` of the darkest of them, which
    is what is crushed first; JSON leaves both out where not measured.
    """

    sequence: int
    seconds: float
    validity: Validity
    encoding: Encoding
    picture: PictureArea
    luma: Luma | None = None
    clipped: Shares | None = None
    crushed: Shares | None = None
    ceiling: SignalEnd | None = None
    floor: SignalEnd | None = None
    headroom_stops: float | None = None
    footroom_stops: float | None = None
    spread: StopsSpread | None = None
    peaks: StopsSpread | msgspec.UnsetType | None = msgspec.UNSET
    depths: StopsSpread | msgspec.UnsetType | None = msgspec.UNSET
    sitters: tuple[SitterReading, ...] | None = None
    spots: dict[str, SpotReading] | None = None
    noise: Noise | None = None
    flicker: Flicker | None = None
    tolerance: Tolerance | None = None
    feed: FeedHealth | None = None


class View(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """What a screen draws of one frame: densities and a small picture, never full-size pixels.

    ``trace`` has shape (columns, bins): how many pixels of that strip of columns lie in each
    level bin; ``trace_rgb`` has shape (3, columns, bins). Bin ``i`` spans the levels
    ``low + i*step`` to ``low + (i+1)*step`` IRE. Counts may be of a row subsample: only their
    proportions within a column mean anything. ``small`` is a full-range 8-bit R'G'B'
    picture, shape (height, width, 3), of the active picture, for the eye only. ``clip_marks`` and
    ``crush_marks``, shape (height, width), say which of its places hold a clipped pixel and which only
    crushed ones, told from true pixels: averaging has hidden them. None where they were not looked for.
    """

    trace: npt.NDArray[np.float32]
    trace_rgb: npt.NDArray[np.float32] | None
    low: float
    step: float
    small: npt.NDArray[np.uint8]
    clip_marks: npt.NDArray[np.bool_] | None = None
    crush_marks: npt.NDArray[np.bool_] | None = None


class Measurement(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """A reading and the view of the same frame, and a map of its light where one was due."""

    reading: Reading
    view: View | None
    instant: Instant
    light: LightMap | None = None
