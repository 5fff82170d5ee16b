"""The state machine by itself; its behaviour in a whole feed is in tests/faults."""

from __future__ import annotations

from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.feed.evidence import (
    Arrived,
    Damaged,
    Ended,
    Failed,
    Opening,
    Stopped,
    Tick,
    Unconnected,
    Waiting,
)
from analysis.feed.limits import limits_for
from analysis.feed.states import FeedMachine, age, step, validity, validity_now
from analysis.model.feed import FeedState, SourceKind
from analysis.model.instant import Instant
from analysis.model.reading import Validity
from tests.support.pictures import form

SHAPES = (form(64, 48), form(128, 96))


def at(seconds: float) -> Instant:
    return Instant(seconds, 1e9 + seconds)


def machine(kind: SourceKind = "camera") -> FeedMachine:
    return FeedMachine(limits=limits_for(kind), since=at(0.0))


def arrived(number: int, **given_: object) -> Arrived:
    return Arrived(**{"format": SHAPES[0], "fingerprint": number, "source_sequence": number, **given_})  # type: ignore[arg-type]


def walk(start: FeedMachine, *happenings: tuple[float, object]):
    events = []
    for moment, evidence in happenings:
        start, more = step(start, evidence, at(moment))  # type: ignore[arg-type]
        events += more
    return start, [event.after for event in events]


def live(kind: SourceKind = "camera"):
    return walk(machine(kind), (0.0, Opening(generation=1)), *((1 + n / 30, arrived(n)) for n in range(10)))[0]


def test_a_normal_beginning() -> None:
    _, states = walk(machine(), (0.0, Opening(generation=1)), *((1 + n / 30, arrived(n)) for n in range(10)))
    assert states == ["opening", "priming", "live"]


def test_a_slow_camera_primes_by_time() -> None:
    _, states = walk(machine(), (0.0, Opening(generation=1)), *((1 + n / 2, arrived(n)) for n in range(3)))
    assert states == ["opening", "priming", "live"]


def test_a_file_needs_no_priming() -> None:
    _, states = walk(machine("file"), (0.0, Opening(generation=1)), (0.1, arrived(0)))
    assert states == ["opening", "live"]


@pytest.mark.parametrize(
    ("evidence", "state"),
    [
        (Unconnected(reason="no sync"), "lost"),
        (Failed(reason="the device is gone"), "lost"),
        (Ended(), "ended"),
        (Stopped(), "closed"),
        (Opening(generation=2), "opening"),
        (arrived(99, format=SHAPES[1]), "priming"),
        (arrived(99, slate="blue"), "lost"),
        (Damaged(reason="half"), "live"),
        (Tick(), "live"),
    ],
    ids=lambda value: type(value).__name__,
)
def test_from_live(evidence: object, state: str) -> None:
    after, _ = walk(live(), (1.4, evidence))
    assert after.state == state


def test_an_outage_is_one_trouble_from_its_first_moment() -> None:
    first = Failed(reason="gone")
    after, states = walk(
        live(),
        (2.0, first),
        (2.0, Waiting(reason="gone", seconds=0.5)),
        (2.5, Opening(generation=2)),
        (2.6, Failed(reason="busy")),
        (2.6, Waiting(reason="busy", seconds=0.5)),
        (3.1, Opening(generation=3)),
    )
    assert states == ["lost", "opening", "waiting", "opening"]
    assert after.trouble == "gone" or after.trouble == "busy" or after.trouble
    assert after.trouble_since == at(2.0)
    back, _ = walk(after, (3.2, arrived(0)))
    assert back.trouble is None and back.trouble_since is None


def test_age_is_never_negative_and_none_without_a_picture() -> None:
    assert age(machine(), at(5.0)) is None
    assert age(live(), at(0.0)) == 0.0
    assert age(live(), at(2.3)) == pytest.approx(1.0)


def test_validity_of_every_state() -> None:
    shown = {state: validity(state) for state in get_args(FeedState)}
    assert shown["live"] == shown["still"] == "good"
    assert {state for state, told in shown.items() if told is None} == {
        "closed",
        "opening",
        "waiting",
        "lost",
        "frozen",
        "ended",
    }
    assert {told for told in shown.values() if told} == set(get_args(Validity))


def test_a_dark_run_is_careful_before_it_is_called_dark() -> None:
    dark, _ = walk(live(), (1.4, arrived(20, dark_share=0.99)))
    assert dark.state == "live" and validity_now(dark) == "suspect"
    light, _ = walk(dark, (1.5, arrived(21, dark_share=0.2)))
    assert validity_now(light) == "good"


def test_the_share_that_ends_a_darkness_is_lower_than_the_one_that_begins_it() -> None:
    dark, _ = walk(live(), *((2 + n / 10, arrived(50 + n, dark_share=0.985)) for n in range(25)))
    assert dark.state == "dark"
    still_dark, _ = walk(dark, (4.6, arrived(90, dark_share=0.97)))
    assert still_dark.state == "dark"
    light, _ = walk(still_dark, (4.7, arrived(91, dark_share=0.95)))
    assert light.state == "live"


HAPPENINGS = st.one_of(
    st.builds(Opening, generation=st.integers(1, 9)),
    st.builds(
        Arrived,
        format=st.sampled_from(SHAPES),
        fingerprint=st.integers(0, 2),
        dark_share=st.sampled_from([0.0, 0.97, 1.0]),
        source_sequence=st.one_of(st.none(), st.integers(0, 3)),
        source_seconds=st.one_of(st.none(), st.floats(-5, 5)),
        slate=st.sampled_from([None, None, None, "blue"]),
    ),
    st.builds(Damaged, reason=st.just("half a frame")),
    st.builds(Unconnected, reason=st.just("no sync")),
    st.builds(Failed, reason=st.just("gone")),
    st.builds(Waiting, reason=st.just("gone"), seconds=st.sampled_from([0.0, 0.5])),
    st.just(Ended()),
    st.just(Stopped()),
    st.just(Tick()),
)


@settings(max_examples=150, deadline=None)
@given(
    kind=st.sampled_from(get_args(SourceKind)),
    steps=st.lists(st.tuples(st.sampled_from([0.0, 0.04, 0.6, 3.5, 30.0]), HAPPENINGS), max_size=40),
)
def test_whatever_happens_the_machine_stays_honest(kind: SourceKind, steps) -> None:
    now, here = 0.0, machine(kind)
    for pause, evidence in steps:
        now += pause
        before = here
        here, events = step(here, evidence, at(now))
        assert here.state in get_args(FeedState) and here.evidence
        # Every change is told once, in order, each beginning where the last ended.
        chain = [before.state, *[event.after for event in events]]
        assert [event.before for event in events] == chain[:-1] and chain[-1] == here.state
        assert all(event.before != event.after for event in events)
        # Lost, frozen, dark and suspect always say why, and no trouble is without a beginning.
        if here.state in {"lost", "frozen", "dark", "suspect"}:
            assert here.trouble
        assert (here.trouble is None) == (here.trouble_since is None)
        assert here.trouble_since is None or here.trouble_since.monotonic <= now
        if here.state in {"live", "priming", "ended", "closed"}:
            assert here.trouble is None
        assert step(here, Tick(), at(now))[0].state == here.state or isinstance(evidence, Damaged)
