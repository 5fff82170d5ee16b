"""The thread that searches: offers never wait, the pace is kept, failures are told, nobody is left on the screen."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator

import msgspec
import numpy as np
import pytest

from analysis.lookout.runner import EVERY, GIVE_UP, SitterWatch
from analysis.measure.face import Face
from analysis.measure.shrunken import Shrunken
from analysis.measure.skin import SkinReader
from analysis.model.frame import Frame
from analysis.model.instant import Instant
from analysis.signal.curves import curve
from tests.measure import drawn_faces, face_rig

BOX = (300.0, 150.0, 150.0, 200.0)
PATIENCE = 20.0
"""Real seconds after which a test gives up waiting for the thread; none needs one of them."""


class Script:
    """A finder that says what it is told, remembers what it was shown, and can be held up."""

    def __init__(self, *answers: tuple[Face, ...] | Exception) -> None:
        self.answers = list(answers)
        self.shown: list[Shrunken] = []
        self.gate = threading.Event()
        self.gate.set()
        self.entered = threading.Event()

    def find(self, small: Shrunken) -> tuple[Face, ...]:
        self.shown.append(small)
        self.entered.set()
        assert self.gate.wait(PATIENCE)
        answer = self.answers.pop(0) if len(self.answers) > 1 else self.answers[0]
        if isinstance(answer, Exception):
            raise answer
        return answer


def seen(box: tuple[float, float, float, float] = BOX) -> tuple[Face, ...]:
    return (Face(box=box, confidence=0.9),)


@pytest.fixture
def frame() -> Frame:
    return drawn_faces.coded(np.full((720, 1280, 3), 0.4), layout="yuv422p")


AREA = (0, 0, 1280, 720)


@pytest.fixture
def watches() -> Iterator[list[SitterWatch]]:
    started: list[SitterWatch] = []
    yield started
    for watch in started:
        watch.close(PATIENCE)


class Rig:
    """A watch offered one frame after the other on a clock of the test's own."""

    def __init__(self, watches: list[SitterWatch], frame: Frame, *answers: tuple[Face, ...] | Exception) -> None:
        self.finder = Script(*answers)
        self.watch = SitterWatch(self.finder)
        watches.append(self.watch)
        self.frame, self.at = frame, 10.0

    def now(self, later: float = 0.0) -> Instant:
        return Instant(self.at + later, 0.0)

    def offer(self, later: float = 0.0, settle: bool = True, **how: float) -> bool:
        self.at += later
        taken = self.watch.offer(self.frame, AREA, self.now(), **how)
        if settle:
            assert self.watch.settle(PATIENCE)
        return taken


def test_one_search_in_a_fifth_of_a_second_however_many_frames(watches: list[SitterWatch], frame: Frame) -> None:
    rig = Rig(watches, frame, seen())
    taken = [rig.offer(1 / 50) for _ in range(100)]
    assert sum(taken) == 10
    assert len(rig.finder.shown) == 10
    assert [s.name for s in rig.watch.company().present(rig.now())] == ["sitter 1"]


def test_an_offer_does_not_wait_for_a_search(watches: list[SitterWatch], frame: Frame) -> None:
    rig = Rig(watches, frame, seen())
    rig.finder.gate.clear()
    assert rig.offer(settle=False)
    assert rig.finder.entered.wait(PATIENCE)
    assert not any(rig.offer(EVERY * 2, settle=False) for _ in range(50))  # ten seconds of a search that hangs
    assert len(rig.finder.shown) == 1
    assert not rig.watch.settle(0.0)
    rig.finder.gate.set()
    assert rig.watch.settle(PATIENCE)
    assert rig.offer(EVERY)


def test_a_search_that_hangs_leaves_nobody_on_the_screen(watches: list[SitterWatch], frame: Frame) -> None:
    rig = Rig(watches, frame, seen())
    rig.offer()
    rig.finder.gate.clear()
    rig.offer(EVERY, settle=False)
    company = rig.watch.company()
    states = [company.sitters[0].state(rig.now(age)) for age in (0.0, 0.2, 0.4, 0.75, 1.0)]
    assert states == ["seen", "seen", "held", "held", None]
    rig.finder.gate.set()


def test_the_planes_are_free_again_after_the_offer(watches: list[SitterWatch], frame: Frame) -> None:
    """The buffer goes back to the pool and is written over while the search runs."""
    rig = Rig(watches, frame, seen())
    rig.finder.gate.clear()
    rig.offer(settle=False)
    assert rig.finder.entered.wait(PATIENCE)
    shown = rig.finder.shown[0]
    before = shown.bgr.copy()
    for plane in frame.planes:
        plane[:] = 255
    assert np.array_equal(shown.bgr, before) and not np.shares_memory(shown.bgr, frame.planes[0])
    rig.finder.gate.set()


def test_one_wider_search_a_second_while_nobody_is_found(watches: list[SitterWatch], frame: Frame) -> None:
    rig = Rig(watches, frame, ())
    for _ in range(150):
        rig.offer(1 / 50)
    widths = [small.bgr.shape[1] for small in rig.finder.shown]
    assert widths == [640, 320, 320, 320, 320] * 3


def test_no_wider_search_while_somebody_is_found(watches: list[SitterWatch], frame: Frame) -> None:
    rig = Rig(watches, frame, seen())
    for _ in range(150):
        rig.offer(1 / 50)
    assert [small.bgr.shape[1] for small in rig.finder.shown][1:] == [320] * 14


def test_whom_only_the_wider_search_finds_stays(watches: list[SitterWatch], frame: Frame) -> None:
    rig = Rig(watches, frame, ())

    def find(small: Shrunken) -> tuple[Face, ...]:
        rig.finder.shown.append(small)
        return seen((600.0, 300.0, 40.0, 56.0)) if small.bgr.shape[1] == 640 else ()

    rig.finder.find = find  # type: ignore[method-assign]
    present = []
    for _ in range(300):
        rig.offer(1 / 50)
        present.append(len(rig.watch.company().present(rig.now())))
    assert min(present) == 1


def test_no_wider_search_of_a_picture_that_has_no_more(watches: list[SitterWatch]) -> None:
    small = drawn_faces.coded(np.full((180, 320, 3), 0.4), layout="yuv422p")
    rig = Rig(watches, small, ())
    for _ in range(10):
        rig.watch.offer(small, (0, 0, 320, 180), rig.now())
        rig.watch.settle(PATIENCE)
        rig.at += EVERY
    assert {shown.bgr.shape[1] for shown in rig.finder.shown} == {320}


def test_a_corrupt_frame_is_not_searched(watches: list[SitterWatch], frame: Frame) -> None:
    rig = Rig(watches, msgspec.structs.replace(frame, corrupt=True), seen())
    assert not rig.offer() and rig.finder.shown == []


def test_a_picture_of_another_size_starts_afresh(watches: list[SitterWatch], frame: Frame) -> None:
    rig = Rig(watches, frame, seen())
    rig.offer()
    rig.watch.choose("sitter 1")
    rig.finder.answers = [()]
    rig.frame = drawn_faces.coded(np.full((360, 640, 3), 0.4), layout="yuv422p")
    rig.watch.offer(rig.frame, (0, 0, 640, 360), rig.now(0.01))
    assert rig.watch.settle(PATIENCE)
    assert rig.watch.company().sitters == () and rig.watch.company().chosen == "sitter 1"


def test_another_layout_of_the_same_size_goes_on(watches: list[SitterWatch], frame: Frame) -> None:
    rig = Rig(watches, frame, seen())
    rig.offer()
    rig.frame = drawn_faces.coded(np.full((720, 1280, 3), 0.4), layout="yuv422p10le")
    rig.offer(EVERY)
    assert len(rig.finder.shown) == 2
    assert [s.since for s in rig.watch.company().sitters] == [10.0]


def test_a_search_of_the_old_size_is_thrown_away(watches: list[SitterWatch], frame: Frame) -> None:
    rig = Rig(watches, frame, seen())
    rig.finder.gate.clear()
    rig.offer(settle=False)
    assert rig.finder.entered.wait(PATIENCE)
    other = drawn_faces.coded(np.full((360, 640, 3), 0.4), layout="yuv422p")
    rig.watch.offer(other, (0, 0, 640, 360), rig.now(0.3))
    rig.finder.gate.set()
    assert rig.watch.settle(PATIENCE)
    assert rig.watch.company().sitters == ()


def test_the_choice_is_kept_through_searches(watches: list[SitterWatch], frame: Frame) -> None:
    rig = Rig(watches, frame, (*seen(), *seen((800.0, 150.0, 120.0, 160.0))))
    rig.offer()
    assert rig.watch.company().main_at(rig.now()) == "sitter 1"
    rig.watch.choose("sitter 2")
    rig.offer(EVERY)
    assert rig.watch.company().main_at(rig.now()) == "sitter 2"
    rig.watch.choose(None)
    assert rig.watch.company().main_at(rig.now()) == "sitter 1"


def test_one_failed_search_is_forgiven(watches: list[SitterWatch], frame: Frame) -> None:
    rig = Rig(watches, frame, RuntimeError("once"), seen())
    rig.offer()
    rig.offer(EVERY)
    assert rig.watch.trouble is None
    assert len(rig.watch.company().sitters) == 1


def test_failing_for_good_is_told_in_one_line(watches: list[SitterWatch], frame: Frame) -> None:
    rig = Rig(watches, frame, RuntimeError("out of\nluck"))
    for _ in range(GIVE_UP):
        assert rig.offer(EVERY)
    assert rig.watch.trouble == "sitters are not looked for any more: out of luck"
    assert not rig.offer(EVERY)
    assert len(rig.finder.shown) == GIVE_UP


def test_close_ends_the_thread(frame: Frame) -> None:
    watch = SitterWatch(Script(seen()))
    assert "lookout" in {thread.name for thread in threading.enumerate()}
    watch.close(PATIENCE)
    watch.close(PATIENCE)
    assert not watch._thread.is_alive()
    assert not watch.offer(frame, AREA, Instant(1.0, 0.0))


def test_close_does_not_wait_for_a_search_that_hangs(frame: Frame) -> None:
    finder = Script(seen())
    finder.gate.clear()
    watch = SitterWatch(finder)
    watch.offer(frame, AREA, Instant(1.0, 0.0))
    assert finder.entered.wait(PATIENCE)
    before = time.monotonic()
    watch.close(0.05)
    assert time.monotonic() - before < PATIENCE / 2
    assert watch._thread.daemon
    finder.gate.set()
    watch._thread.join(PATIENCE)
    assert not watch._thread.is_alive()


def test_from_frame_to_reading_with_the_real_finder(watches: list[SitterWatch]) -> None:
    """Two people of different complexion in one light, then the lamp goes out."""
    light, dark = drawn_faces.reflectance("light"), drawn_faces.reflectance("dark")
    linear = drawn_faces.draw(light, height=240, centre=(350, 330), size=(1280, 720))
    linear = drawn_faces.draw(dark, height=220, centre=(900, 330), size=(1280, 720), on=linear)
    lit, out = (drawn_faces.frame(linear * factor, layout="yuv422p") for factor in (1.0, 0.002))
    watch = SitterWatch(face_rig.finder())
    watches.append(watch)
    reader = SkinReader(lit.format, curve("bt709"))
    at, told = 5.0, []
    for number in range(60):
        frame = lit if number < 20 else out
        watch.offer(frame, AREA, Instant(at, 0.0))
        assert watch.settle(PATIENCE)
        told.append(reader.read(frame, watch.company(), Instant(at, 0.0)))
        at += 0.05
    names = {tuple(reading.name for reading in readings) for readings in told}
    assert len(names) == 1 and len(told[0]) == 2
    levels = sorted(reading.level for reading in told[19])
    assert levels == pytest.approx([26.8, 57.0], abs=0.5)
    assert {reading.state for reading in told[-1]} == {"too dark"}
    assert all(reading.level is None for reading in told[-1])
    assert told[25][0].state == "held" and told[25][0].level < 1.0  # this frame's number, not the last good one
