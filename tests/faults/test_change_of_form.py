"""The picture changes its size, layout or range in the middle of the feed."""

from __future__ import annotations

import pytest

from analysis.model.frame import FrameFormat, Picture
from tests.support.feed_rig import FeedRig
from tests.support.pictures import TinySource, form, picture

STEPS = [
    (form(1920, 1080), form(1440, 1080), "1920x1080 -> 1440x1080"),
    (form(1440, 1080), form(1280, 720), "1440x1080 -> 1280x720"),
    (form(1280, 720), form(1280, 720, "yuv422p"), "yuv420p -> yuv422p"),
    (form(320, 180), form(320, 180, range_="full"), "range narrow -> range full"),
    (form(320, 180, "yuv422p"), form(320, 180, "yuv422p10le"), "8 bit -> 10 bit"),
]


def changing(before: FrameFormat, after: FrameFormat, at: int):
    early, late = picture(before, seed=1), picture(after, seed=2)

    def paint(number: int, shape: FrameFormat) -> Picture:
        made = early if number < at else late
        made.planes[0][0, 0] = number % 200 << (8 if made.format.encoding.bits > 8 else 0)
        return made

    return lambda clock: TinySource(clock, paint=paint)


@pytest.mark.parametrize(("before", "after", "words"), STEPS, ids=[step[2] for step in STEPS])
def test_a_change_is_one_entry_and_no_reading_mixes_both(before: FrameFormat, after: FrameFormat, words: str) -> None:
    rig = FeedRig(make=changing(before, after, 10))
    rig.run(0.8)
    entries = [event for event in rig.events if event.after == "reshaped"]
    assert len(entries) == 1 and words in entries[0].evidence
    assert rig.states() == ["opening", "priming", "live", "reshaped", "priming", "live"]
    new = [(frame, validity) for frame, validity in rig.taken if frame.format == after]
    assert {frame.format for frame, _ in rig.taken} == {before, after}
    assert [validity for _, validity in new[:4]] == ["priming"] * 4 and new[5][1] == "good"
    assert rig.feed.status().format == after
    assert rig.troubles == []


def test_a_change_found_only_after_reconnecting_is_told_as_well() -> None:
    shapes = iter([form(320, 180), form(640, 360)])
    rig = FeedRig(make=lambda clock: TinySource(clock, shape=next(shapes), kind="network", length=None), kind="network")
    rig.run(1)
    rig.run(5, read=False)
    rig.run(3)
    assert "reshaped" in rig.states()
    assert rig.feed.status().format == form(640, 360)


def test_a_new_guess_of_the_rate_is_no_change() -> None:
    shape = form(64, 48, rate=25.0)
    other = form(64, 48, rate=29.97)
    rig = FeedRig(
        make=lambda clock: TinySource(clock, paint=lambda n, s: picture(shape if n < 30 else other, seed=n)),
    )
    rig.run(3)
    assert "reshaped" not in rig.states() and rig.feed.status().format == other


def test_a_still_run_does_not_outlive_a_change() -> None:
    rig = FeedRig(make=changing(form(64, 48), form(66, 48), 10))
    rig.run(1.0)
    assert rig.feed.status().state == "live"
