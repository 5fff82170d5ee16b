"""The feed that breaks on purpose, on a rendered scene, through its address."""

from __future__ import annotations

import pytest

from analysis.feed.address import parse_address
from analysis.feed.factory import kind_of, make_source
from analysis.feed.faulty import FAULTS, Fault, FaultySource
from analysis.feed.pool import FramePool
from analysis.feed.source import FeedOptions, Source
from analysis.measure.darkness import dark_share
from analysis.measure.sameness import fingerprint
from analysis.model.errors import FeedCorrupt, FeedError, FeedGone
from analysis.signal.layouts import check_planes
from tests.support.fake_clock import FakeClock
from tests.support.feed_rig import FeedRig
from tests.support.pictures import TinySource, form

FAST = FeedOptions(realtime=False)


def scene(query: str) -> Source:
    made = make_source(parse_address(f"faulty:boathouse?size=64x36&{query}"), FAST, FramePool(), FakeClock())
    assert isinstance(made, Source)
    return made


def test_the_address_makes_a_breaking_scene() -> None:
    source = scene("fault=vanish&at=3")
    source.open()
    for _ in range(3):
        check_planes(source.read())
    with pytest.raises(FeedGone, match="the device is gone"):
        source.read()
    source.close()


@pytest.mark.parametrize("kind", ["camera", "hdmi", "network", "file", "scene", "pipe"])
def test_it_pretends_to_be_any_kind_of_source(kind: str) -> None:
    text = f"faulty:boathouse?size=64x36&as={kind}"
    assert kind_of(parse_address(text)) == kind
    assert scene(f"as={kind}").kind == kind
    assert scene("fault=black").kind == "camera"


def tiny(*faults: Fault, name: str = "yuv420p") -> FaultySource:
    clock = FakeClock()
    made = FaultySource(TinySource(clock, shape=form(64, 48, name)), faults, "x", clock)
    made.open()
    return made


def test_each_fault_does_what_it_says() -> None:
    repeat = tiny(Fault(name="repeat", at=2))
    first, second, third, fourth = (repeat.read() for _ in range(4))
    assert fingerprint(first) != fingerprint(second) == fingerprint(third) == fingerprint(fourth)
    assert second.source_sequence == third.source_sequence == fourth.source_sequence
    still = tiny(Fault(name="still", at=2))
    first, second, third = (still.read() for _ in range(3))
    assert fingerprint(second) == fingerprint(third) and second.source_sequence != third.source_sequence
    assert tiny(Fault(name="corrupt")).read().corrupt
    with pytest.raises(FeedCorrupt):
        tiny(Fault(name="damaged")).read()
    narrow = tiny(Fault(name="reshape")).read()
    assert narrow.format.width == 32
    check_planes(narrow)
    stamps = tiny(Fault(name="jump", at=1, value=60.0))
    before, after = stamps.read().source_seconds, stamps.read().source_seconds
    assert before is not None and after is not None and after - before == 60.0


@pytest.mark.parametrize("layout", ["yuv420p", "yuyv422", "nv12", "bgr24", "gray", "p010le", "yuv422p10le"])
def test_black_is_black_in_every_layout(layout: str) -> None:
    black = tiny(Fault(name="black"), name=layout).read()
    check_planes(black)
    assert dark_share(black) == 1.0
    assert dark_share(tiny(Fault(name="slate"), name=layout).read()) == 0.0


@pytest.mark.parametrize("name", ["short", "empty", "oversize", "float"])
def test_malformed_planes_are_malformed(name: str) -> None:
    with pytest.raises(FeedError):
        check_planes(tiny(Fault(name=name)).read())  # type: ignore[arg-type]


def test_a_burst_holds_pictures_back_and_loses_none() -> None:
    source = tiny(Fault(name="burst", at=3, count=10))
    assert [source.read().source_sequence for _ in range(20)] == list(range(20))


def test_slow_waits_on_the_clock() -> None:
    clock = FakeClock()
    source = FaultySource(TinySource(clock), (Fault(name="slow", value=0.5),), "x", clock)
    source.open()
    began = clock.now().monotonic
    source.read()
    source.read()
    assert clock.now().monotonic - began == pytest.approx(1.0)


@pytest.mark.parametrize("name", [name for name in FAULTS if not name.startswith("hang")])
def test_no_fault_gets_past_the_watch(name: str) -> None:
    """Every fault that returns at all: the feed stays honest and comes back when it ends."""
    rig = FeedRig(Fault(name=name, at=60, count=45, value=0.0))  # type: ignore[arg-type]
    rig.run(30)
    status = rig.feed.status()
    assert status.state in {"live", "priming", "lost", "opening"} and rig.taken
    for frame, validity in rig.taken:
        check_planes(frame)
        assert not frame.corrupt and validity is not None
