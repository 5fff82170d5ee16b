"""Frames that must not be measured: marked damaged, or not what they say they are."""

from __future__ import annotations

import random

import pytest
from msgspec.structs import replace

from analysis.feed.faulty import Fault
from analysis.model.errors import FeedUnreadable
from analysis.model.frame import FrameFormat, Picture
from tests.support.feed_rig import FeedRig
from tests.support.pictures import TinySource, form, picture


@pytest.mark.parametrize("name", ["corrupt", "damaged"])
def test_every_third_frame_damaged_for_five_seconds_is_told_and_not_measured(name: str) -> None:
    rig = FeedRig(Fault(name=name, at=90, count=150, every=3))  # type: ignore[arg-type]
    rig.run(20)
    assert rig.at("suspect") - (rig.at("opening") + 91 * rig.interval) <= 10.0
    assert len(rig.troubles) == 1 and "damaged" in rig.troubles[0][1]
    assert not any(frame.corrupt for frame, _ in rig.taken)
    status = rig.feed.status()
    assert status.skipped == 50 and status.arrived == 20 * 30 - 50
    # While suspect, not even whole frames are judged; afterwards the feed is itself again.
    suspect = [v for f, v in rig.taken if rig.at("suspect") < f.instant.monotonic < rig.at("live", 1)]
    assert set(suspect) == {"suspect"}
    assert status.state == "live" and status.trouble is None


def test_one_percent_at_random_for_ten_minutes_is_never_told() -> None:
    dice = random.Random(20)
    ready = [picture(seed=n) for n in range(8)]

    def paint(number: int, shape: FrameFormat) -> Picture:
        return replace(ready[number % 8], corrupt=dice.random() < 0.01)

    rig = FeedRig(make=lambda clock: TinySource(clock, paint=paint), rate=15.0)
    rig.run(600)
    assert rig.troubles == [] and "suspect" not in rig.states()
    assert 50 < rig.feed.status().skipped < 140
    assert all(validity in {"good", "priming"} for _, validity in rig.taken)


@pytest.mark.parametrize(
    ("name", "words"),
    [("short", "too short"), ("empty", "is empty"), ("oversize", "too long"), ("float", "holds float64")],
)
def test_a_buffer_that_is_not_what_it_says_is_refused_by_name_and_the_watch_goes_on(name: str, words: str) -> None:
    rig = FeedRig(Fault(name=name, at=60, count=20))  # type: ignore[arg-type]
    rig.run(2.4)
    status = rig.feed.status()
    assert status.discarded == len(range(60, min(80, 72)))
    assert status.state == "suspect" and words in status.evidence
    rig.run(20)
    assert rig.feed.status().state == "live" and rig.feed.status().discarded == 20
    assert all(frame.planes[0].shape == (48, 64) for frame, _ in rig.taken)


@pytest.mark.parametrize("size", [(1, 1), (1, 2), (3, 5), (641, 361)])
@pytest.mark.parametrize("layout", ["yuv420p", "yuyv422", "nv12", "bgr24", "yuv422p10le"])
def test_small_and_odd_pictures_are_pictures(size: tuple[int, int], layout: str) -> None:
    shape = form(*size, layout)
    rig = FeedRig(make=lambda clock: TinySource(clock, shape=shape, kind="hdmi"), kind="hdmi")
    rig.run(1)
    assert rig.feed.status().state in {"live", "still"} and len(rig.taken) == 30


@pytest.mark.parametrize(("width", "height"), [(0, 0), (20_000, 10)])
def test_impossible_sizes_end_the_attempt_with_words(width: int, height: int) -> None:
    wrong = replace(form(64, 48), width=width, height=height)
    made = replace(picture(), format=wrong)
    rig = FeedRig(make=lambda clock: TinySource(clock, paint=lambda n, s: made))
    rig.run(3)
    assert isinstance(rig.feed.failure, FeedUnreadable) and f"{width}x{height}" in rig.feed.failure.line()


def test_nothing_but_damage_ends_the_attempt_instead_of_spinning() -> None:
    rig = FeedRig(Fault(name="damaged", at=30))
    rig.run(8)
    assert "lost" in rig.states()
    assert rig.feed.status().attempts >= 2
    assert isinstance(rig.feed.failure, FeedUnreadable) or rig.feed.failure is None
    assert rig.taken[-1][0].instant.monotonic < rig.clock.now().monotonic


def test_damage_counts_as_life_but_not_as_picture() -> None:
    rig = FeedRig(Fault(name="corrupt", at=60), kind="network", rate=30.0)
    rig.run(2 + 3.5)
    assert rig.feed.status().state == "lost"
    assert "only damaged frames" in next(e.evidence for e in rig.events if e.after == "lost")
    assert rig.feed.status().attempts == 1
