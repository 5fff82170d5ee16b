"""When frames were taken, from stamps that jitter, skip and come in bursts."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from analysis.measure.pace import even_times, time_of
from analysis.model.frame import Frame
from analysis.model.instant import Instant
from tests.measure import plain

RNG = np.random.default_rng(2)


def frame(**wish) -> Frame:
    made = plain.frame_of((np.zeros((4, 4), np.uint8),), "gray", 4, 4)
    return msgspec.structs.replace(made, instant=Instant(9.0, 1e9), sequence=7, **wish)


def test_the_clock_of_the_source_comes_first() -> None:
    assert time_of(frame()) == (9.0, 7)
    assert time_of(frame(source_seconds=0.5)) == (0.5, 7)
    assert time_of(frame(source_seconds=0.0, source_sequence=0)) == (0.0, 0)


@pytest.mark.parametrize("fps", [23.976, 25.0, 59.94])
def test_jitter_is_taken_out(fps: float) -> None:
    number = np.arange(150)
    stamps = number / fps + RNG.normal(0.0, 0.003, 150)
    times, found = even_times(stamps, number)
    assert found == pytest.approx(fps, rel=1e-3)
    assert np.abs(times - number / fps).max() < 0.002
    assert np.diff(times) == pytest.approx(1.0 / found)


def test_numbered_gaps_stay_gaps() -> None:
    number = np.delete(np.arange(150), [20, 21, 22, 90])
    times, found = even_times(number / 25.0 + RNG.normal(0.0, 0.002, 146), number)
    assert found == pytest.approx(25.0, rel=1e-3) and np.abs(times - number / 25.0).max() < 0.002


@pytest.mark.parametrize("missing", [[75], [20, 75, 76, 77, 120], list(range(60, 80))])
def test_frames_lost_before_they_were_numbered_are_seen_in_the_time(missing: list[int]) -> None:
    true = np.delete(np.arange(150), missing)
    stamps = true / 25.0 + RNG.normal(0.0, 0.002, true.size)
    times, found = even_times(stamps, np.arange(true.size))
    assert found == pytest.approx(25.0, rel=2e-3) and np.abs(times - true / 25.0).max() < 0.004


def test_one_frame_held_up_changes_nothing() -> None:
    stamps = np.arange(150) / 25.0
    stamps[70:73] = stamps[72] + np.array([0.030, 0.031, 0.032])  # three came at once
    times, found = even_times(stamps, np.arange(150))
    assert found == pytest.approx(25.0, rel=2e-3) and np.abs(times - np.arange(150) / 25.0).max() < 0.005


def test_no_pace_at_all_keeps_the_stamps() -> None:
    stamps = np.cumsum(np.random.default_rng(3).uniform(0.01, 0.2, 100))
    times, found = even_times(stamps, np.arange(100))
    assert np.array_equal(times, stamps) and found == pytest.approx(1.0 / np.median(np.diff(stamps)))


@pytest.mark.parametrize("stamps", [[], [0.0], [0.0, 0.04], [0.0, 0.04, 0.04], [0.0, 0.08, 0.04]])
def test_no_rate_from_too_little_or_from_time_that_stands(stamps: list[float]) -> None:
    assert even_times(np.array(stamps), np.arange(len(stamps)))[1] is None


def test_numbers_that_stand_still_are_not_believed() -> None:
    times, found = even_times(np.arange(50) / 30.0, np.zeros(50, np.int64))
    assert found == pytest.approx(30.0) and np.allclose(times, np.arange(50) / 30.0)
