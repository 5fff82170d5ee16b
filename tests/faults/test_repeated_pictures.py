"""The same picture again and again: a fault from some sources, quite right from others.

That coded video and digital links repeat a still scene bit for bit while a bare sensor never
does is common practice, no published source.
"""

from __future__ import annotations

import pytest

from analysis.feed.faulty import Fault
from analysis.model.feed import SourceKind
from tests.support.feed_rig import FeedRig
from tests.support.pictures import TinySource, picture


def still(clock, kind: SourceKind, stamped: bool = True) -> TinySource:
    return TinySource(clock, kind=kind, stamped=stamped, paint=lambda number, shape: picture(shape, seed=3))


def changing_then_still(first: int, kind: SourceKind, stamped: bool = True):
    def make(clock) -> TinySource:
        return TinySource(
            clock,
            kind=kind,
            stamped=stamped,
            paint=lambda number, shape: picture(shape, seed=number if number < first else 0),
        )

    return make


@pytest.mark.parametrize("kind", ["camera", "hdmi", "network"])
def test_the_last_picture_repeated_with_frozen_stamps_is_frozen_in_time(kind: SourceKind) -> None:
    rig = FeedRig(Fault(name="repeat", at=90), kind=kind)
    rig.run(8)
    froze = rig.at("opening") + 91 * rig.interval
    assert rig.at("frozen") - froze <= 1.2
    after = [validity for frame, validity in rig.taken if frame.instant.monotonic >= rig.at("frozen")]
    assert after == [], "a frozen picture is not even handed on"
    assert len(rig.troubles) == 1


def test_a_frozen_feed_is_opened_again_and_recognised_as_still_frozen() -> None:
    """An unplugged camera may be opened anew and succeed with the picture of before."""
    frozen = picture(seed=5)

    class Unplugged(TinySource):
        def read(self):
            made = super().read()
            replace = {"planes": tuple(p.copy() for p in frozen.planes), "source_sequence": 7, "source_seconds": 7.0}
            from msgspec.structs import replace as struct_replace

            return struct_replace(made, **replace)

    rig = FeedRig(make=Unplugged)
    rig.run(60)
    assert rig.feed.status().attempts > 3
    first = rig.at("frozen")
    assert not [frame for frame, validity in rig.taken if validity == "good" and frame.instant.monotonic > first]
    assert rig.states().count("live") == 1
    assert len(rig.troubles) == 1


def test_a_camera_without_stamps_is_judged_by_its_pixels() -> None:
    rig = FeedRig(make=changing_then_still(60, "camera", stamped=False))
    rig.run(5)
    assert rig.at("frozen") - (rig.at("opening") + 61 * rig.interval) <= 1.2


def test_a_raw_camera_with_advancing_stamps_is_noted_then_believed_frozen_after_ten_seconds() -> None:
    rig = FeedRig(make=changing_then_still(60, "camera"))
    rig.run(14)
    began = rig.at("opening") + 61 * rig.interval
    assert 1.9 <= rig.at("still") - began <= 2.2
    assert 9.9 <= rig.at("frozen") - began <= 10.2
    assert len(rig.troubles) == 1 and rig.troubles[0][0] == rig.at("frozen")
    assert rig.feed.validity() is None


def test_a_still_life_in_coded_video_is_never_an_alarm() -> None:
    rig = FeedRig(make=lambda clock: still(clock, "network"), kind="network")
    rig.run(600)
    assert len(rig.taken) >= 18_000 - 10
    assert rig.troubles == []
    assert rig.states() == ["opening", "priming", "live", "still"]
    assert rig.feed.validity() == "good"
    assert "not changing" in rig.feed.status().evidence


def test_a_still_picture_on_a_digital_link_asks_for_attention_after_a_minute_but_is_shown() -> None:
    rig = FeedRig(make=lambda clock: still(clock, "hdmi"), kind="hdmi", rate=10.0)
    rig.run(58)
    assert rig.feed.status().state == "still" and rig.feed.status().trouble is None
    rig.run(5)
    assert rig.feed.status().trouble is not None
    assert rig.feed.validity() == "good"


@pytest.mark.parametrize("kind", ["file", "scene", "pipe"])
def test_nobody_suspects_a_file_of_freezing(kind: SourceKind) -> None:
    rig = FeedRig(make=lambda clock: still(clock, kind, stamped=False), kind=kind, rate=10.0)
    rig.run(120)
    assert rig.troubles == [] and "frozen" not in rig.states()


def test_one_different_picture_ends_it() -> None:
    rig = FeedRig(Fault(name="repeat", at=90, count=60))
    rig.run(3.0 + 1.5)
    assert rig.feed.status().state == "frozen"
    rig.run(1.0)
    assert rig.feed.status().state == "live"
    assert rig.feed.status().trouble is None
