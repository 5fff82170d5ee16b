"""Everything measured beside levels and shares: stops, noise, flicker and signal tolerance, each at its own pace."""

from __future__ import annotations

from typing import Literal, NamedTuple

import msgspec

from analysis.measure.depths import DepthsMeter
from analysis.measure.flicker import FlickerSettings, FlickerWatch
from analysis.measure.histogram import Counts
from analysis.measure.light_map import LightMapper
from analysis.measure.noise import REPEATED, Band, NoiseFound, NoiseMeter
from analysis.measure.pace import time_of
from analysis.measure.peaks import PeaksMeter
from analysis.measure.sample import Sample, Sampler
from analysis.measure.stops import StopsFound, StopsMeter
from analysis.measure.tolerance import Filter, ToleranceMeter, applies, estimate
from analysis.measure.unpack import Area
from analysis.model.errors import SettingsError
from analysis.model.frame import Frame, FrameFormat
from analysis.model.instant import Instant
from analysis.model.light import LightMap
from analysis.model.reading import Flicker, Noise, StopsSpread, Tolerance
from analysis.signal.curves import Curve

REPEATS_ALLOWED = 4
"""Frames in a row that may repeat the one held before noise is refused: feeds that double or pull down frames do it."""


class ExtrasSettings(msgspec.Struct, frozen=True, kw_only=True):
    """What is measured and how often, in seconds; 0 is every frame, None never.

    ``light`` maps the light of the scene at the pace of the spread. ``tolerance`` is ``sample`` (cheap, an estimate),
    ``exact`` (every pixel, a pass of its own) or ``off``; ``tolerance_filter`` belongs to ``exact`` (see
    :class:`analysis.measure.tolerance.ToleranceMeter`).
    """

    spread_every: float | None = 0.125
    noise_every: float | None = 0.2
    flicker: FlickerSettings | None = FlickerSettings()
    light: bool = True
    tolerance: Literal["off", "sample", "exact"] = "sample"
    tolerance_every: float = 0.2
    tolerance_filter: Filter = "none"

    def __post_init__(self) -> None:
        for name in ("spread_every", "noise_every", "tolerance_every"):
            value = getattr(self, name)
            if value is not None and not 0.0 <= value <= 3600.0:
                raise SettingsError(f"{name} must lie between 0 and 3600 seconds, not {value}")


class ExtrasFound(msgspec.Struct, frozen=True, kw_only=True):
    """The newest of each; None for what was not measured. ``bands`` is noise level by level.

    ``peaks`` and ``depths`` are only told where they were asked for. ``light`` is a map of the light of this very
    frame, where one was due, ``sample`` its sample with colour, where one was taken: the next one overwrites it.
    """

    spread: StopsSpread | None = None
    headroom_stops: float | None = None
    footroom_stops: float | None = None
    noise: Noise | None = None
    bands: tuple[Band, ...] = ()
    flicker: Flicker | None = None
    tolerance: Tolerance | None = None
    peaks: StopsSpread | None = None
    depths: StopsSpread | None = None
    light: LightMap | None = None
    sample: Sample | None = None


class Extras:
    """Looks at the frames of one feed in the order they arrive, from one thread.

    Give it every frame that was measured. Without a curve (None) there are no stops and no flicker, and noise is told
    in IRE only: a curve is never guessed. A change of format starts everything afresh, a new life of the feed
    and another active picture what needs more than one frame.
    """

    def __init__(self, shape: FrameFormat, curve: Curve | None, settings: ExtrasSettings | None = None) -> None:
        """Raises FeedUnreadable for a layout or matrix that cannot be read."""
        self.curve = curve
        self.settings = settings or ExtrasSettings()
        self.want_peaks = False
        self._bench = _Bench(shape, curve, self.settings)

    def look(
        self,
        frame: Frame,
        area: Area,
        luma_counts: Counts,
        now: Instant,
        *,
        ceiling: float = 100.0,
        floor: float = 0.0,
        counted: tuple[float, float] | None = None,
    ) -> ExtrasFound:
        """What this frame and those before it say.

        ``area`` is the active picture (x, y, width, height), ``luma_counts`` how many of its pixels have each
        code, ``now`` the time by which parts are due. ``ceiling`` and ``floor`` are the levels in IRE where
        the signal ends: found in the picture, or the levels from which on it counts as clipped and crushed;
        ``counted`` are those two levels themselves, where they differ.
        The frame's planes must be what its format says, as the meter has checked; of a corrupt frame
        nothing is told and nothing kept.
        """
        if frame.corrupt:
            return ExtrasFound()
        if frame.format != self._bench.format:
            self._bench = _Bench(frame.format, self.curve, self.settings)
        return self._bench.look(
            frame, area, luma_counts, now, Ends(ceiling, floor, *(counted or (ceiling, floor))), self.want_peaks
        )


class Ends(NamedTuple):
    """Levels in IRE: where the signal ends, and from where on it counts as clipped and crushed."""

    ceiling: float
    floor: float
    clip: float
    crush: float


class _Due:
    """When something is to be done again."""

    def __init__(self, every: float | None) -> None:
        self._every, self._last = every, -1e18

    def now(self, seconds: float) -> bool:
        """Whether it is due; if so, the next time counts from here."""
        if self._every is None or 0.0 <= seconds - self._last < self._every - 1e-6:
            return False
        self._last = seconds
        return True


class _Bench:
    """The parts for frames of one format."""

    def __init__(self, shape: FrameFormat, curve: Curve | None, settings: ExtrasSettings) -> None:
        self.format = shape
        self._sampler = Sampler(shape)
        self._noise = NoiseMeter(shape, curve)
        self._stops = StopsMeter(shape, curve) if curve is not None else None
        self._peaks_meter = PeaksMeter(shape, curve) if curve is not None else None
        self._depths_meter = DepthsMeter(shape, curve) if curve is not None else None
        self._mapper = LightMapper(shape, curve) if curve is not None and settings.light else None
        self._flicker = None
        if curve is not None and settings.flicker is not None:
            self._flicker = FlickerWatch(shape, curve, settings.flicker)
        way = settings.tolerance if applies(shape) else "off"
        self._estimated = way == "sample"
        self._exact = ToleranceMeter(shape, settings.tolerance_filter) if way == "exact" else None
        self._spread_due = _Due(settings.spread_every if curve is not None else None)
        self._noise_due = _Due(settings.noise_every)
        self._tolerance_due = _Due(None if way == "off" else settings.tolerance_every)
        self._repeats = 0
        self._told_noise: NoiseFound | None = None
        self._told_stops: StopsFound | None = None
        self._told_tolerance: Tolerance | None = None
        self._told_peaks: StopsSpread | None = None
        self._told_depths: StopsSpread | None = None

    def look(self, frame: Frame, area: Area, counts: Counts, now: Instant, ends: Ends, peaks: bool) -> ExtrasFound:
        seconds = now.monotonic
        spread, tolerance = self._spread_due.now(seconds), self._tolerance_due.now(seconds)
        hold = not self._noise.waiting and self._noise_due.now(seconds)
        colour = spread or (tolerance and self._estimated)
        mark = (frame.generation, area)
        flicker: Flicker | None = None
        pair = hold or self._noise.waiting
        sample: Sample | None = None
        light: LightMap | None = None
        if colour or pair or self._flicker is not None:
            sample = self._sampler.take(frame, area, colour, pair)
            if hold:
                self._noise.hold(sample, mark)
                self._repeats = 0
            elif self._noise.waiting:
                self._compare(sample, mark, ends.ceiling, ends.floor)
            if spread and self._stops is not None:
                shadows = self._told_noise.shadow_light if self._told_noise is not None else None
                self._told_stops = self._stops.look(sample, counts, ends.ceiling, ends.floor, shadows or 0.0)
                if self._peaks_meter is not None:
                    self._told_peaks = self._peaks_meter.look(sample) if peaks else None
                if self._depths_meter is not None:
                    self._told_depths = self._depths_meter.look(sample) if peaks else None
                if self._mapper is not None:
                    light = self._mapper.look(sample, ends.clip, ends.crush, frame.instant, frame.generation, area)
            if tolerance and self._estimated:
                self._told_tolerance = estimate(sample, self.format)
            if self._flicker is not None:
                flicker = self._flicker.see(sample, *time_of(frame), mark)
        if tolerance and self._exact is not None:
            self._told_tolerance = self._exact.measure(frame, area)
        return msgspec.structs.replace(self._told(flicker), sample=sample if colour else None, light=light)

    def _compare(self, sample: Sample, mark: object, ceiling: float, floor: float) -> None:
        found = self._noise.compare(sample, mark, floor, ceiling)
        if found.noise.refused == REPEATED and self._repeats < REPEATS_ALLOWED:
            self._repeats += 1
            return
        self._noise.forget()
        self._told_noise = found

    def _told(self, flicker: Flicker | None) -> ExtrasFound:
        stops, noise = self._told_stops, self._told_noise
        return ExtrasFound(
            spread=stops.spread if stops is not None else None,
            headroom_stops=stops.headroom if stops is not None else None,
            footroom_stops=stops.footroom if stops is not None else None,
            noise=noise.noise if noise is not None else None,
            bands=noise.bands if noise is not None else (),
            flicker=flicker,
            tolerance=self._told_tolerance,
            peaks=self._told_peaks,
            depths=self._told_depths,
        )
