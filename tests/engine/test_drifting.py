"""Drift is judged only against a hold that was matched once; our own rule, so its corners are tried one by one."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.engine.drifting import MATCHED_SECONDS, MATCHED_STOPS, NOTHING, DriftWatch
from analysis.model.instant import Instant


def at(seconds: float) -> Instant:
    return Instant(seconds, seconds)


def test_a_kept_hold_is_judged_from_its_first_reading() -> None:
    watch = DriftWatch()
    watch.kept("bench")
    assert watch.values("bench", 0.5, at(0)) == {"drift-up": 0.5, "drift-down": -0.5}


def test_another_hold_begins_anew() -> None:
    watch = DriftWatch()
    watch.kept("bench")
    assert watch.values("door", 0.0, at(0)) == NOTHING and not watch.matched
    assert watch.values("door", 0.0, at(MATCHED_SECONDS - 0.1)) == NOTHING or not watch.matched
    watch.values("door", 0.0, at(MATCHED_SECONDS))
    assert watch.matched


def test_nearness_must_last_without_a_break() -> None:
    watch = DriftWatch()
    for second in range(20):
        watch.values("door", 0.0 if second % 2 else 1.0, at(float(second)))
    assert not watch.matched


@pytest.mark.parametrize("stops", [MATCHED_STOPS + 0.01, -MATCHED_STOPS - 0.01])
def test_just_outside_is_not_matched(stops: float) -> None:
    watch = DriftWatch()
    for second in range(60):
        assert watch.values("door", stops, at(float(second))) == NOTHING


def test_what_is_missing_is_no_return_once_matched() -> None:
    watch = DriftWatch()
    assert watch.values("door", None, at(0)) == NOTHING
    watch.kept("door")
    assert watch.values("door", None, at(1)) == {}


@given(st.lists(st.one_of(st.none(), st.floats(-6, 6)), max_size=60))
def test_without_a_hold_there_is_never_any_drift(stops: list[float | None]) -> None:
    watch = DriftWatch()
    assert all(watch.values(None, each, at(float(n))) == NOTHING for n, each in enumerate(stops))


@given(st.lists(st.floats(-6, 6), min_size=1, max_size=60))
def test_both_ways_are_told_as_one_number_with_two_signs(stops: list[float]) -> None:
    watch = DriftWatch()
    watch.kept("bench")
    for second, each in enumerate(stops):
        values = watch.values("bench", each, at(float(second)))
        assert values["drift-up"] == each and values["drift-down"] == -each
