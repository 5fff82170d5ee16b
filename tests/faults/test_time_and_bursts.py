"""Frames that come late, all at once, or with stamps that make no sense."""

from __future__ import annotations

import pytest

from analysis.feed.faulty import Fault
from analysis.feed.limits import limits_for
from analysis.model.feed import SourceKind
from tests.support.feed_rig import FeedRig
from tests.support.pictures import TinySource


def test_of_a_burst_only_the_newest_is_measured() -> None:
    rig = FeedRig(kind="network")
    rig.run(3)
    rig.run(0.4, read=False)
    before = rig.feed.status().skipped
    for _ in range(100):
        rig.read()
    newest = rig.feed.status().arrived - 1
    rig.look()
    assert rig.taken[-1][0].sequence == newest
    assert rig.feed.status().skipped - before == 99
    rig.run(0.2)
    status = rig.feed.status()
    assert status.age is not None and status.age <= 2 * rig.interval


def test_a_source_that_holds_frames_back_and_lets_them_go_at_once() -> None:
    rig = FeedRig(Fault(name="burst", at=60, count=30), kind="network")
    rig.run(4)
    numbers = [frame.source_sequence for frame, _ in rig.taken]
    assert numbers == sorted(numbers) and len(numbers) == 120
    assert rig.feed.status().state == "live"


@pytest.mark.parametrize("name", ["back", "jump", "stuck"])
def test_senseless_stamps_are_told_and_change_nothing_else(name: str) -> None:
    rig = FeedRig(Fault(name=name, at=60, count=10))  # type: ignore[arg-type]
    ages = []
    for _ in range(90):
        rig.run(rig.interval)
        ages.append(rig.feed.status().age)
    assert all(age is None or age >= 0 for age in ages)
    sequences = [frame.sequence for frame, _ in rig.taken]
    assert sequences == list(range(len(sequences))), "the order is that of arrival"
    assert "irregular time stamps" in rig.feed.status().evidence
    assert rig.states() == ["opening", "priming", "live"] and rig.troubles == []


def test_setting_the_wall_clock_changes_no_state() -> None:
    rig = FeedRig()
    rig.run(2)
    for step in (3600.0, -7200.0, 86_400.0):
        rig.clock.step_utc(step)
        rig.run(2)
    assert rig.states() == ["opening", "priming", "live"]


def test_numbers_that_the_source_left_out_are_counted_as_missing() -> None:
    class Skipping(TinySource):
        def read(self):
            if self.count % 10 == 9:
                self.count += 2
            return super().read()

    rig = FeedRig(make=Skipping)
    rig.run(3)
    assert rig.feed.status().missing > 10
    assert rig.feed.status().state == "live"


@pytest.mark.parametrize(("kind", "late", "lost"), [("camera", 0.5, 1.0), ("hdmi", 0.5, 1.0), ("network", 0.5, 3.0)])
def test_silence_is_late_then_lost(kind: SourceKind, late: float, lost: float) -> None:
    rig = FeedRig(kind=kind)
    rig.run(3)
    quiet = rig.clock.now().monotonic
    rig.run(lost + 0.3, read=False)
    assert 0 < rig.at("late") - quiet - late <= 0.1
    assert 0 < rig.at("lost") - quiet - lost <= 0.1
    assert rig.troubles[0][0] == rig.at("lost")


def test_numbers_are_old_while_late_and_good_again_afterwards() -> None:
    rig = FeedRig()
    rig.run(3)
    rig.run(0.7, read=False)
    assert rig.feed.validity() == "late"
    rig.run(0.1)
    assert rig.feed.validity() == "good" and rig.troubles == []


@pytest.mark.parametrize("rate", [1.0, 2.0, 5.0, 12.5])
def test_a_slow_camera_is_not_lost_between_two_frames(rate: float) -> None:
    rig = FeedRig(rate=rate, make=lambda clock: TinySource(clock))
    for _ in range(round(20 * rate)):
        for _ in range(round(20 / rate)):
            rig.clock.advance(0.05)
            rig.look()
        rig.read()
    assert "lost" not in rig.states()[3:]


def test_every_kind_of_source_has_limits() -> None:
    for kind in ("camera", "hdmi", "network", "file", "scene", "pipe"):
        limits = limits_for(kind)  # type: ignore[arg-type]
        assert limits.lost_seconds >= limits.late_seconds
