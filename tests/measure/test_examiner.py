"""Everything together on one feed: what is found in the picture decides what counts as clipped."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec
import pytest

from analysis.feed.scene.query import parse
from analysis.feed.scene.renderer import Renderer
from analysis.feed.source import FeedOptions
from analysis.measure.examiner import Examiner, ExaminerSettings, known_curve
from analysis.measure.meter_settings import MeterSettings
from analysis.model.frame import Frame
from analysis.model.instant import Instant
from analysis.model.reading import Reading

SIZE = {"size": "640x360"}


def frames(
    seconds: float, rate: float = 25.0, began: float = 0.0, generation: int = 1, **query: str
) -> Iterator[Frame]:
    """Frames of the rendered boathouse as a feed would bring them."""
    renderer = Renderer(parse("boathouse", {**SIZE, **query}, FeedOptions()))
    for number in range(round(seconds * rate)):
        picture = renderer.picture(number / rate, number)
        yield Frame(
            planes=picture.planes,
            format=picture.format,
            instant=Instant(began + number / rate, began + number / rate),
            generation=generation,
            sequence=number,
            source_seconds=number / rate,
        )


def watch(examiner: Examiner, seconds: float, **more: object) -> list[Reading]:
    return [
        examiner.measure(frame, None, Instant(0.0, 0.0)).reading
        for frame in frames(seconds, **more)  # type: ignore[arg-type]
    ]


def test_a_camera_that_stops_below_100_is_found_and_counted_from_there() -> None:
    """A sensor full six stops over grey stops at 75.6 IRE in ACEScct; percent alone would call it unclipped."""
    readings = watch(Examiner(), 3.0, sun="on", nd="-1", curve="acescct", bits="10")
    first, last = readings[0], readings[-1]
    assert first.clipped is not None and first.clipped.by == "narrow" and first.clipped.any < 0.05
    assert last.ceiling is not None
    assert last.ceiling.level == pytest.approx(75.6, abs=0.6)
    assert last.clipped is not None and last.clipped.by == "ceiling"
    assert last.clipped.level == pytest.approx(last.ceiling.level - 0.6, abs=0.5)
    assert last.clipped.any > 3.0, "what is lost is lost, whatever its level is called"
    assert last.headroom_stops is not None and last.headroom_stops < 0.3


def test_a_shot_well_inside_has_headroom_and_no_ceiling() -> None:
    readings = watch(Examiner(), 2.0, curve="acescct", bits="10", clouds="off")
    last = readings[-1]
    assert last.ceiling is None and last.clipped is not None and last.clipped.by == "narrow"
    assert last.spread is not None
    assert sum(last.spread.counts) == pytest.approx(100.0, abs=0.01)


def test_one_stop_more_light_is_one_stop_less_headroom() -> None:
    """Common arithmetic of exposure: two ND stops apart, two stops of headroom apart (unclipped)."""
    plain = {"curve": "acescct", "bits": "10", "clouds": "off", "noise": "off"}
    high = watch(Examiner(ExaminerSettings(ends_every=None)), 0.4, nd="1", **plain)[-1].headroom_stops
    low = watch(Examiner(ExaminerSettings(ends_every=None)), 0.4, nd="2", **plain)[-1].headroom_stops
    assert high is not None and low is not None
    assert low - high == pytest.approx(1.0, abs=0.06)


def test_what_the_operator_set_outranks_what_was_found() -> None:
    settings = ExaminerSettings(meter=MeterSettings(clip_percent=94.0))
    last = watch(Examiner(settings), 2.5, sun="on", nd="-1", curve="acescct", bits="10")[-1]
    assert last.ceiling is not None, "it is still found and shown"
    assert last.clipped is not None and (last.clipped.level, last.clipped.by) == (94.0, "asked")


def test_a_profile_is_named_as_the_one_who_said_it() -> None:
    settings = ExaminerSettings(meter=MeterSettings(clip_percent=75.0, clip_by="profile"))
    last = watch(Examiner(settings), 0.2, curve="acescct", bits="10")[-1]
    assert last.clipped is not None and last.clipped.by == "profile"


def test_a_new_life_of_the_feed_starts_afresh() -> None:
    examiner = Examiner()
    old = watch(examiner, 2.5, sun="on", nd="-1", curve="acescct", bits="10")[-1]
    new = watch(examiner, 0.08, sun="on", nd="-1", curve="acescct", bits="10", generation=2, began=10.0)[0]
    assert old.ceiling is not None and new.ceiling is None
    assert new.clipped is not None and new.clipped.by == "narrow" and new.noise is None


def test_a_damaged_frame_measures_nothing_and_disturbs_nothing() -> None:
    examiner = Examiner()
    for number, frame in enumerate(frames(1.0)):
        damaged = msgspec.structs.replace(frame, planes=(), corrupt=True)
        if number % 5 == 2:
            lost = examiner.measure(damaged, None, Instant(0.0, 0.0)).reading
            assert lost.validity == "suspect" and lost.luma is lost.noise is lost.spread is None
        reading = examiner.measure(frame, None, Instant(0.0, 0.0)).reading
    assert reading.luma is not None and reading.noise is not None


def test_without_a_known_curve_there_are_no_stops() -> None:
    renderer = Renderer(parse("boathouse", SIZE, FeedOptions()))
    picture = renderer.picture(0.0, 0)
    nameless = msgspec.structs.replace(
        picture.format, encoding=msgspec.structs.replace(picture.format.encoding, curve=None)
    )
    frame = Frame(planes=picture.planes, format=nameless, instant=Instant(0.0, 0.0), generation=1, sequence=0)
    reading = Examiner().measure(frame, None, Instant(0.0, 0.0)).reading
    assert reading.spread is None and reading.headroom_stops is None, "never guessed"
    assert reading.tolerance is not None
    assert known_curve(None) is None and known_curve("of nobody") is None


def test_a_burnt_speck_is_marked_on_the_small_picture_that_averages_it_away() -> None:
    """The lamp's bulb and the brass fitting are smaller than a place of the small picture and brighter than white."""
    view = None
    for frame in frames(0.2, lamp="on", size="1280x720"):
        view = Examiner().measure(frame, None, Instant(0.0, 0.0)).view
    assert view is not None and view.clip_marks is not None and view.crush_marks is not None
    assert view.clip_marks.shape == view.small.shape[:2] == view.crush_marks.shape
    assert view.clip_marks.any()
    hidden = view.clip_marks & (view.small.max(axis=2) < 255)
    assert hidden.any(), "some marked places look unclipped in the small picture"
    assert view.clip_marks.mean() < 0.2


def test_peaks_are_measured_while_somebody_wants_them() -> None:
    """They are what a plan predicts the clip from; they hold every pixel and go no lower than the clipped share."""
    examiner = Examiner()
    assert watch(examiner, 0.2)[-1].peaks is msgspec.UNSET
    examiner.want_peaks = True
    told = [reading.peaks for reading in watch(examiner, 0.3)]
    assert told[-1] is not msgspec.UNSET and told[-1] is not None
    assert sum(told[-1].counts) == pytest.approx(100.0, abs=0.01)
    depths = watch(examiner, 0.2)[-1].depths
    assert depths is not msgspec.UNSET and depths is not None and sum(depths.counts) == pytest.approx(100.0, abs=0.01)
    examiner.want_peaks = False
    assert watch(examiner, 0.3)[-1].peaks is msgspec.UNSET
    assert watch(examiner, 0.3)[-1].depths is msgspec.UNSET
