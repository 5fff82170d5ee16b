"""Measures frames: one frame in, one reading and one view out."""

from __future__ import annotations

import cv2
import numpy as np

from analysis.measure.active import ActivePicture
from analysis.measure.beyond import BeyondChroma, BeyondColour, needs_wide
from analysis.measure.histogram import Counts, luma_levels
from analysis.measure.meter_settings import MeterSettings
from analysis.measure.unpack import Area, Unpacker
from analysis.measure.view import ViewBuilder
from analysis.model.frame import Frame, FrameFormat
from analysis.model.instant import Instant
from analysis.model.reading import (
    ClipSource,
    FeedHealth,
    Luma,
    Measurement,
    PictureArea,
    Reading,
    Shares,
    Validity,
    View,
)
from analysis.signal.layouts import Layout, check_planes
from analysis.signal.levels import clip_code, crush_code
from analysis.signal.matrix import encoding_decoder


def one_thread() -> None:
    """Keep OpenCV to the calling thread: its tiles are too small to share, and the watch has one core to itself."""
    cv2.setNumThreads(1)


class Meter:
    """Measures the frames of one feed, in the order they arrive, from one thread.

    Every pixel of the active picture is counted at full size and depth. *Clipped* is at or above the
    clip level and *crushed* at or below the crush level, on luma and on R', G' and B' (see
    :mod:`analysis.measure.beyond` for the rounding). Crushed includes the level itself because that is
    where a camera piles up everything darker: texture at exactly 0 IRE is as gone as below it. It
    follows that legal black, such as a bar of a test signal, counts as crushed luma, and that a fully
    saturated colour counts as crushed in the channel it lacks: judge shadows by the share in luma.

    Working arrays are kept between frames of one format; a change of format starts afresh. The
    planes of a frame are only read.
    """

    def __init__(self, settings: MeterSettings | None = None) -> None:
        self.settings = settings or MeterSettings()
        self._bench: _Bench | None = None

    def measure(
        self, frame: Frame, health: FeedHealth | None, started: Instant, validity: Validity = "good"
    ) -> Measurement:
        """The reading and view of a frame; ``started`` is the instant of the watch's first frame.

        A frame marked corrupt gives a reading of validity "suspect" with nothing measured and no
        view. Raises FeedUnreadable or FeedCorrupt when the planes are not what the format says.
        """
        if frame.corrupt:
            return self._suspect(frame, health, started)
        how = check_planes(frame)
        if self._bench is None or self._bench.format != frame.format:
            self._bench = _Bench(how, frame.format, self.settings)
        found = self._bench.measure(frame)
        reading = Reading(
            sequence=frame.sequence,
            seconds=frame.instant.since(started),
            validity=validity,
            encoding=frame.format.encoding,
            picture=PictureArea(width=frame.format.width, height=frame.format.height, active=found.active),
            luma=found.luma,
            clipped=found.clipped,
            crushed=found.crushed,
            feed=health,
        )
        return Measurement(reading=reading, view=found.view, instant=frame.instant)

    def _suspect(self, frame: Frame, health: FeedHealth | None, started: Instant) -> Measurement:
        width, height = frame.format.width, frame.format.height
        reading = Reading(
            sequence=frame.sequence,
            seconds=frame.instant.since(started),
            validity="suspect",
            encoding=frame.format.encoding,
            picture=PictureArea(width=width, height=height, active=(0, 0, width, height)),
            feed=health,
        )
        return Measurement(reading=reading, view=None, instant=frame.instant)


class _Found:
    """What the bench found on one frame."""

    __slots__ = ("active", "clipped", "crushed", "luma", "view")

    def __init__(self, active: Area, luma: Luma, clipped: Shares, crushed: Shares, view: View | None) -> None:
        self.active, self.luma, self.clipped, self.crushed, self.view = active, luma, clipped, crushed, view


class _Bench:
    """The working arrays and constants for frames of one format."""

    def __init__(self, how: Layout, shape: FrameFormat, settings: MeterSettings) -> None:
        self.format = shape
        self._how, self._settings = how, settings
        self._span = span = shape.encoding.range
        self._clip = clip_code(settings.clip_percent, how.depth, span)
        self._crush = crush_code(settings.crush_percent, how.depth, span)
        self._decode = encoding_decoder(shape.encoding, how.depth) if how.kind == "ycbcr" else None
        self._beyond: BeyondChroma | BeyondColour | None = None
        wide = False
        if self._decode is not None:
            wide = how.depth == 8 and needs_wide(self._decode, self._clip, self._crush)
        self._unpacker = Unpacker(how, shape.width, shape.height, wide)
        if self._decode is not None:
            self._beyond = BeyondChroma(self._decode, self._clip, self._crush, how.depth, self._unpacker.dtype)
        elif how.is_rgb:
            self._beyond = BeyondColour(self._clip, self._crush)
        self._active = ActivePicture(how, shape.width, shape.height, span) if settings.active_picture else None
        self._builder: ViewBuilder | None = None
        self._builder_area: Area | None = None
        self._counts: Counts = np.zeros(1 << how.depth)

    def measure(self, frame: Frame) -> _Found:
        active = (0, 0, self.format.width, self.format.height)
        if self._active is not None:
            active = self._active.find(frame)
        area = self._groups(active)
        builder = self._view_builder(area, active)
        self._counts[:] = 0.0
        if self._beyond is not None:
            self._beyond.start()
        for place in self._unpacker.places(area):
            tile = self._unpacker.tile(frame.planes, area, place)
            for luma in tile.whole:
                self._counts += cv2.calcHist([luma], [0], None, [self._counts.size], [0, self._counts.size]).ravel()
            if self._beyond is not None:
                self._beyond.add(tile)
            if builder is not None:
                builder.add(tile)
        return _Found(
            active,
            luma_levels(self._counts, self._how.depth, self._span),
            self._clipped(active),
            self._crushed(active),
            builder.finish() if builder is not None else None,
        )

    def _clipped(self, active: Area) -> Shares:
        asked = self._settings.clip_percent
        luma = float(self._counts[max(0, self._clip) :].sum())
        counts = self._beyond.clipped if self._beyond is not None else None
        return self._shares(
            luma, counts, active, 100.0 if asked is None else asked, self._span if asked is None else "asked"
        )

    def _crushed(self, active: Area) -> Shares:
        asked = self._settings.crush_percent
        luma = float(self._counts[: max(0, self._crush + 1)].sum())
        counts = self._beyond.crushed if self._beyond is not None else None
        return self._shares(
            luma, counts, active, 0.0 if asked is None else asked, self._span if asked is None else "asked"
        )

    def _shares(self, luma: float, counts: list[int] | None, active: Area, level: float, by: ClipSource) -> Shares:
        pixels = active[2] * active[3]

        def part(count: float) -> float:
            return 100.0 * count / pixels

        if counts is None:
            return Shares(any=part(luma), luma=part(luma), r=None, g=None, b=None, level=level, by=by)
        red, green, blue, either = (part(count) for count in counts)
        return Shares(any=either, luma=part(luma), r=red, g=green, b=blue, level=level, by=by)

    def _groups(self, active: Area) -> Area:
        """The active picture in groups of pixels that share a chroma sample."""
        x, y, width, height = active
        across, down = self._unpacker.across, self._unpacker.down
        return x // across, y // down, -(-width // across), -(-height // down)

    def _view_builder(self, area: Area, active: Area) -> ViewBuilder | None:
        if self._settings.view and self._builder_area != area:
            self._builder = ViewBuilder(
                self._how, self._span, self._decode, area, (active[2], active[3]), self._settings
            )
            self._builder_area = area
        return self._builder
