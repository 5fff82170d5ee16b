"""Pacing on simulated links: frames are dropped, never queued, and a terminal that does not answer still works."""

from __future__ import annotations

import pytest

from tui.pacing import ANSWER_DEADLINE, Pacer, PicturePace


class Link:
    """A line of some speed and delay with endless buffers in between, as remote shells have them."""

    def __init__(self, rate: float, delay: float, answers: bool = True) -> None:
        self.rate, self.delay, self.answers = rate, delay, answers
        self.free_at = 0.0
        self.coming: list[tuple[float, int]] = []

    def send(self, now: float, mark: int | None, size: int) -> None:
        self.free_at = max(self.free_at, now) + size / self.rate
        if mark is not None and self.answers:
            self.coming.append((self.free_at + 2 * self.delay, mark))

    def backlog(self, now: float) -> float:
        """Seconds until what was sent has passed."""
        return max(self.free_at - now, 0.0)


def drive(link: Link, pacer: Pacer, seconds: float, size: int = 2500, every: float = 0.125) -> tuple[int, float]:
    """Frames sent, and the worst backlog in seconds."""
    sent, worst, waiting, now = 0, 0.0, False, 0.0
    next_frame = 0.0
    while now < seconds:
        now += 0.01
        for at, mark in [answer for answer in link.coming if answer[0] <= now]:
            pacer.answered(mark, at, waiting)
        link.coming = [answer for answer in link.coming if answer[0] > now]
        if now >= next_frame:
            waiting, next_frame = True, next_frame + every
        if waiting and pacer.ready(now):
            link.send(now, pacer.sent(now, size), size)
            sent, waiting = sent + 1, False
        worst = max(worst, link.backlog(now))
    return sent, worst


def test_slow_link_never_builds_up_a_queue() -> None:
    sent, worst = drive(Link(rate=12_500, delay=0.01), Pacer(120), 30)
    # 2500 bytes take 0.2 s on this line; without pacing 30 s of frames would need 48 s.
    assert worst <= 0.65
    assert 30 * 12_500 / 2500 * 0.6 <= sent <= 30 * 12_500 / 2500 + 3


def test_fast_link_gets_every_frame() -> None:
    sent, _ = drive(Link(rate=1e6, delay=0.002), Pacer(120), 10)
    assert sent >= 79


def test_long_but_wide_link_uses_several_frames_in_flight() -> None:
    sent, worst = drive(Link(rate=125_000, delay=0.25), Pacer(120), 20)
    assert sent >= 20 * 6, "one frame in flight would give two a second"
    assert worst < 0.3


def test_terminal_that_never_answers_is_drawn_on_all_the_same() -> None:
    pacer = Pacer(80)
    sent, _ = drive(Link(rate=1e6, delay=0.0, answers=False), pacer, 10)
    assert pacer.answers is False
    assert sent >= (10 - ANSWER_DEADLINE - 1) * 8


def test_answer_lost_once_does_not_stop_the_screen() -> None:
    pacer = Pacer(80)
    pacer.answered(pacer.sent(0.0, 10), 0.01, waiting=False)
    while pacer.ready(1.0):
        pacer.sent(1.0, 10)
    assert not pacer.ready(2.0)
    assert pacer.ready(1.0 + ANSWER_DEADLINE + 0.1)
    assert pacer.answers is True, "it answered before, so it is not written off"


def test_a_later_answer_covers_earlier_frames() -> None:
    pacer = Pacer(80)
    pacer.window = 4.0
    marks = [pacer.sent(0.1 * n, 10) for n in range(3)]
    pacer.answered(marks[2], 0.5, waiting=False)
    assert pacer.flying == 0


def test_unknown_answers_are_ignored() -> None:
    pacer = Pacer(80)
    pacer.answered(7, 0.1, waiting=True)
    assert pacer.answers is None
    assert pacer.delay is None


@pytest.mark.parametrize("columns", [1, 2, 5, 20, 200])
def test_marks_fit_the_width_and_stay_distinct(columns: int) -> None:
    pacer = Pacer(columns)
    pacer.window = 8.0
    flying = []
    while pacer.ready(0.0):
        flying.append(pacer.sent(0.0, 1))
    assert len(set(flying)) == len(flying) >= 1
    assert all(1 <= mark <= max(columns, 2) for mark in flying)


def test_byte_cap_holds_over_time() -> None:
    pacer = Pacer(120, cap=9000)
    pacer.answers = False
    sent = 0
    for step in range(2000):  # 20 s
        now = step * 0.01
        if pacer.ready(now):
            pacer.sent(now, 2500)
            sent += 2500
    assert 0.8 * 9000 * 20 <= sent <= 9000 * 20 + 9000


def test_report_says_slow_only_when_it_is() -> None:
    fast, slow = Pacer(80), Pacer(80)
    fast.answered(fast.sent(0.0, 100), 0.02, waiting=False)
    slow.answered(slow.sent(0.0, 100), 0.6, waiting=False)
    assert not fast.report(1.0).slow
    assert slow.report(1.0).slow
    assert slow.report(1.0).delay == pytest.approx(0.6)


def test_a_frame_that_is_long_under_way_counts_before_its_answer() -> None:
    pacer = Pacer(80)
    pacer.answered(pacer.sent(0.0, 100), 0.02, waiting=False)
    pacer.sent(1.0, 100)
    assert pacer.report(2.5).delay == pytest.approx(1.5)


def test_pictures_thin_out_on_a_slow_link_and_come_back() -> None:
    pace = PicturePace(8)
    ticks = [n * 0.125 for n in range(160)]
    slow = sum(pace.due(at, delay=0.8) for at in ticks)
    assert slow <= 25, "about one every two seconds in the end"
    fast = [at + 20 for at in ticks if pace.due(at + 20, delay=0.03)]
    assert len([at for at in fast if at > 30]) >= 75, "all of them again after a while"


def test_pictures_keep_to_their_byte_budget() -> None:
    pace = PicturePace(8)
    size, sent, window = 4200.0, 0.0, []
    for n in range(400):
        now = n * 0.125
        window = [at for at in window if now - at < 2.5]
        if pace.due(now, 0.02, len(window) * size / 2.5, 24_000):
            window.append(now)
            sent += size if n >= 80 else 0
    assert 15_000 < sent / 40 < 27_000
