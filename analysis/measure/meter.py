"""Measures frames: one frame in, one reading and one view out."""

from __future__ import annotations

import cv2
import numpy as np

from analysis.measure.active import ActivePicture
from analysis.measure.beyond import BeyondChroma, BeyondColour, needs_wide
from analysis.measure.ceiling import ClipLevel
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
        self._clip: ClipLevel | None = None
        self._crush: ClipLevel | None = None

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
            self._bench = _Bench(how, frame.format, self._ends())
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

    @property
    def luma_counts(self) -> Counts:
        """How many pixels of the last frame's active picture have each luma code; empty before the first."""
        return self._bench.counts.copy() if self._bench is not None else np.zeros(0)

    def count_from(self, clip: ClipLevel | None, crush: ClipLevel | None) -> None:
        """Count clipped and crushed pixels from these levels on, from the next frame; None is what the settings say."""
        if (clip, crush) != (self._clip, self._crush):
            self._clip, self._crush = clip, crush
            if self._bench is not None:
                self._bench = self._bench.with_ends(self._ends())

    def _ends(self) -> _Ends:
        return _Ends(self.settings, self._clip, self._crush)

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


class _Ends:
    """From which levels on pixels count as clipped and crushed, and who said so."""

    def __init__(self, settings: MeterSettings, clip: ClipLevel | None, crush: ClipLevel | None) -> None:
        self.settings = settings
        self.clip = settings.clip_percent if clip is None else clip.level
        self.crush = settings.crush_percent if crush is None else crush.level
        self.clip_by: ClipSource | None = _by(settings.clip_percent, settings.clip_by) if clip is None else clip.by
        self.crush_by: ClipSource | None = _by(settings.crush_percent, None) if crush is None else crush.by


def _by(level: float | None, said: ClipSource | None) -> ClipSource | None:
    return None if level is None else (said or "asked")


class _Bench:
    """The working arrays and constants for frames of one format."""

    def __init__(self, how: Layout, shape: FrameFormat, ends: _Ends, active: ActivePicture | None = None) -> None:
        self.format = shape
        self._how, self._ends, self._settings = how, ends, ends.settings
        settings = ends.settings
        self._span = span = shape.encoding.range
        self._clip = clip_code(ends.clip, how.depth, span)
        self._crush = crush_code(ends.crush, how.depth, span)
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
        if active is None and settings.active_picture:
            active = ActivePicture(how, shape.width, shape.height, span)
        self._active = active
        self._builder: ViewBuilder | None = None
        self._builder_area: Area | None = None
        self.counts: Counts = np.zeros(1 << how.depth)

    def measure(self, frame: Frame) -> _Found:
        active = (0, 0, self.format.width, self.format.height)
        if self._active is not None:
            active = self._active.find(frame)
        area = self._groups(active)
        builder = self._view_builder(area, active)
        self.counts[:] = 0.0
        if self._beyond is not None:
            self._beyond.start()
        for place in self._unpacker.places(area):
            tile = self._unpacker.tile(frame.planes, area, place)
            for luma in tile.whole:
                self.counts += cv2.calcHist([luma], [0], None, [self.counts.size], [0, self.counts.size]).ravel()
            if self._beyond is not None:
                self._beyond.add(tile)
            if builder is not None:
                builder.add(tile)
        return _Found(
            active,
            luma_levels(self.counts, self._how.depth, self._span),
            self._clipped(active),
            self._crushed(active),
            builder.finish() if builder is not None else None,
        )

    def with_ends(self, ends: _Ends) -> _Bench:
        """The same bench counting from other levels; what it knows of the active picture stays."""
        made = _Bench(self._how, self.format, ends, self._active)
        made.counts[:] = self.counts
        return made

    def _clipped(self, active: Area) -> Shares:
        luma = float(self.counts[max(0, self._clip) :].sum())
        counts = self._beyond.clipped if self._beyond is not None else None
        level, by = self._ends.clip, self._ends.clip_by
        return self._shares(luma, counts, active, 100.0 if level is None else level, by or self._span)

    def _crushed(self, active: Area) -> Shares:
        luma = float(self.counts[: max(0, self._crush + 1)].sum())
        counts = self._beyond.crushed if self._beyond is not None else None
        level, by = self._ends.crush, self._ends.crush_by
        return self._shares(luma, counts, active, 0.0 if level is None else level, by or self._span)

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
