"""Everything measured on a feed, frame by frame: levels and shares, the ends of its signal, stops, noise, flicker."""

from __future__ import annotations

import msgspec

from analysis.measure.ceiling import ClipLevel, EndFinder, EndsFound, clip_level_from, crush_level_from
from analysis.measure.ceiling_samples import samples_of
from analysis.measure.extras import Extras, ExtrasFound, ExtrasSettings
from analysis.measure.meter import Meter
from analysis.measure.meter_settings import MeterSettings
from analysis.measure.sample import Sample, Sampler
from analysis.measure.spots import SpotMeter
from analysis.measure.zones import Mask, marks
from analysis.model.errors import StopkeeperError
from analysis.model.frame import Frame, FrameFormat
from analysis.model.instant import Instant
from analysis.model.reading import FeedHealth, Measurement, Reading, Validity, View
from analysis.model.sitter import Spot, SpotReading
from analysis.signal.curves import Curve, curve

MARKS_SECONDS = 0.125


class ExaminerSettings(msgspec.Struct, frozen=True, kw_only=True):
    """What is measured. ``ends_every`` is how often the ends of the signal are looked for, in seconds; None never.

    A clip or crush level set in ``meter`` outranks an end found in the picture.
    """

    meter: MeterSettings = MeterSettings()
    extras: ExtrasSettings = ExtrasSettings()
    ends_every: float | None = 0.1


class Examiner:
    """Measures the frames of one feed in the order they arrive, from one thread.

    ``want_peaks`` has the reading's ``peaks`` and ``depths`` measured too, which only a plan needs.

    The clipped and crushed shares count from the ceiling and the floor where they were found in
    the picture, from the ends of the range otherwise; the reading says which. What needs more
    than one frame (ends, noise, flicker) starts afresh with each format and each life of the feed.
    """

    def __init__(self, settings: ExaminerSettings | None = None) -> None:
        self.settings = settings or ExaminerSettings()
        self.spots: tuple[Spot, ...] = ()
        self.want_peaks = False
        self._meter = Meter(self.settings.meter)
        self._spot_meter: SpotMeter | None = None
        self._life: tuple[FrameFormat, int] | None = None
        self._sampler: Sampler | None = None
        self._marks: tuple[tuple[int, int], float, tuple[Mask, Mask]] | None = None
        self._extras: Extras | None = None
        self._finder: EndFinder | None = None
        self._ends = EndsFound()
        self._looked: float | None = None
        self._clip: ClipLevel | None = None
        self._crush: ClipLevel | None = None

    def place_spots(self, spots: tuple[Spot, ...]) -> None:
        """The named areas to be read from the next frame on."""
        self.spots = spots

    def measure(
        self, frame: Frame, health: FeedHealth | None, started: Instant, validity: Validity = "good"
    ) -> Measurement:
        """The reading and view of a frame; ``started`` is the instant of the watch's first frame.

        Raises FeedUnreadable or FeedCorrupt when the planes are not what the format says.
        """
        if not frame.corrupt:
            self._begin_if_new(frame)
        measured = self._meter.measure(frame, health, started, validity)
        if frame.corrupt or validity == "suspect":
            return measured
        reading = measured.reading
        ends = self._look_for_ends(frame, reading)
        found = self._look_for_extras(frame, reading, ends)
        whole = msgspec.structs.replace(
            reading,
            ceiling=ends.ceiling,
            floor=ends.floor,
            headroom_stops=found.headroom_stops,
            footroom_stops=found.footroom_stops,
            spread=found.spread,
            noise=found.noise,
            flicker=found.flicker,
            tolerance=found.tolerance,
            spots=self._read_spots(frame, reading),
            peaks=found.peaks if found.peaks is not None else msgspec.UNSET,
            depths=found.depths if found.depths is not None else msgspec.UNSET,
        )
        view = self._marked(frame, measured.view, reading, found.sample)
        return msgspec.structs.replace(measured, reading=whole, view=view, light=found.light)

    def _marked(self, frame: Frame, view: View | None, reading: Reading, sample: Sample | None) -> View | None:
        """The view with marks where its small picture hides clipped pixels, looked for eight times a second."""
        if view is None or reading.clipped is None or reading.crushed is None:
            return view
        now, size = frame.instant.monotonic, (view.small.shape[1], view.small.shape[0])
        last = self._marks
        if last is None or last[0] != size or not 0.0 <= now - last[1] < MARKS_SECONDS - 1e-6:
            if sample is None:
                self._sampler = self._sampler or Sampler(frame.format)
                sample = self._sampler.take(frame, reading.picture.active)
            found = marks(sample, frame.format, size, reading.clipped.level, reading.crushed.level)
            last = self._marks = (size, now, found)
        return msgspec.structs.replace(view, clip_marks=last[2][0], crush_marks=last[2][1])

    def _read_spots(self, frame: Frame, reading: Reading) -> dict[str, SpotReading] | None:
        if not self.spots or reading.clipped is None:
            return None
        level, name = reading.clipped.level, frame.format.encoding.curve
        if self._spot_meter is None or self._spot_meter.clip_percent != level:
            self._spot_meter = SpotMeter(known_curve(name), level)
        return self._spot_meter.read(frame, reading.picture.active, self.spots)

    def _begin_if_new(self, frame: Frame) -> None:
        life = (frame.format, frame.generation)
        if self._life == life:
            return
        self._life = life
        encoding = frame.format.encoding
        self._extras = Extras(frame.format, known_curve(encoding.curve), self.settings.extras)
        self._ends, self._looked = EndsFound(), None
        self._finder = EndFinder(encoding.bits, encoding.range, encoding.curve)
        self._clip = self._crush = None
        self._spot_meter = self._sampler = self._marks = None
        self._meter.count_from(None, None)

    def _look_for_ends(self, frame: Frame, reading: Reading) -> EndsFound:
        every, now = self.settings.ends_every, frame.instant.monotonic
        if every is None or self._finder is None:
            return self._ends
        if self._looked is not None and 0.0 <= now - self._looked < every - 1e-6:
            return self._ends
        self._looked = now
        encoding = frame.format.encoding
        samples = samples_of(frame, reading.picture.active, encoding)
        self._ends = self._finder.look(self._meter.luma_counts, None, samples, now)
        # A level the operator set stands; what was found in the picture counts from the next frame on.
        if self.settings.meter.clip_percent is None:
            self._clip = clip_level_from(self._ends.ceiling, encoding, self._clip)
        if self.settings.meter.crush_percent is None:
            self._crush = crush_level_from(self._ends.floor, encoding, self._crush)
        self._meter.count_from(self._clip, self._crush)
        return self._ends

    def _look_for_extras(self, frame: Frame, reading: Reading, ends: EndsFound) -> ExtrasFound:
        if self._extras is None or reading.clipped is None or reading.crushed is None:
            return ExtrasFound()
        self._extras.want_peaks = self.want_peaks
        return self._extras.look(
            frame,
            reading.picture.active,
            self._meter.luma_counts,
            frame.instant,
            ceiling=ends.ceiling.level if ends.ceiling is not None else reading.clipped.level,
            floor=ends.floor.level if ends.floor is not None else reading.crushed.level,
            counted=(reading.clipped.level, reading.crushed.level),
        )


def known_curve(name: str | None) -> Curve | None:
    """The curve of that name, None where nobody named one or the name is not known here: never guessed.

    >>> known_curve("acescct").name, known_curve("of the builder"), known_curve(None)
    ('acescct', None, None)
    """
    if name is None:
        return None
    try:
        return curve(name)
    except StopkeeperError:
        return None
