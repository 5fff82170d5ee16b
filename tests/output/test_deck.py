"""The deck: one sound at a time, most urgent next, newest of each alarm, silence at once."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.output.deck import FADE_SECONDS, MOST_WAITING, Deck
from analysis.output.protocol import Failed, Play, Played, Started, Stopped
from analysis.output.sounds import Sound, render

RATE = 8000
HIGH = render("highlights", "up", 2, rate=RATE)


def play(deck: Deck, ticket: int, alarm: str = "highlights", priority: int = 2, sound: Sound = HIGH) -> float:
    order = Play(ticket=ticket, alarm=alarm, kind="highlights", direction="up", priority=priority)
    return deck.take(order, sound)


def run(deck: Deck, frames: int, block: int = 64) -> np.ndarray:
    out = np.full(frames, 9.0, dtype=np.float32)
    for begin in range(0, frames, block):
        deck.fill(out[begin : begin + block])
    return out


def test_silence_until_asked() -> None:
    assert not run(Deck(RATE), 500).any()


@pytest.mark.parametrize("block", [1, 7, 64, 1024, 50_000])
def test_what_is_played_is_the_sound_to_the_sample_whatever_the_block(block: int) -> None:
    deck = Deck(RATE)
    assert play(deck, 1) == 0.0
    out = run(deck, len(HIGH.samples) + 300, block)
    np.testing.assert_array_equal(out[: len(HIGH.samples)], HIGH.samples)
    assert not out[len(HIGH.samples) :].any()
    assert deck.news() == [Started(ticket=1), Played(ticket=1)]
    assert deck.news() == []


def test_two_sounds_follow_each_other_and_never_mix() -> None:
    deck = Deck(RATE)
    play(deck, 1, "a")
    starts_in = play(deck, 2, "b")
    assert starts_in == pytest.approx(HIGH.facts.seconds)
    out = run(deck, 2 * len(HIGH.samples))
    np.testing.assert_array_equal(out, np.concatenate([HIGH.samples, HIGH.samples]))


def test_the_most_urgent_goes_next_and_then_first_come_first_served() -> None:
    deck = Deck(RATE)
    for ticket, (alarm, priority) in enumerate([("a", 3), ("b", 3), ("c", 3), ("d", 1)], start=1):
        play(deck, ticket, alarm, priority)
        if ticket == 1:
            run(deck, 64)
    run(deck, 5 * len(HIGH.samples))
    assert [n.ticket for n in deck.news() if isinstance(n, Started)] == [1, 4, 2, 3]


def test_a_newer_order_of_the_same_alarm_takes_the_place_of_the_waiting_one() -> None:
    deck = Deck(RATE)
    play(deck, 1, "a")
    run(deck, 64)
    for ticket in range(2, 50):
        play(deck, ticket, "b")
    news = deck.news()
    assert [n.ticket for n in news if isinstance(n, Stopped)] == list(range(2, 49))
    run(deck, 3 * len(HIGH.samples))
    assert deck.news() == [Played(ticket=1), Started(ticket=49), Played(ticket=49)]


def test_the_line_is_bounded_and_drops_the_least_urgent() -> None:
    deck = Deck(RATE)
    for ticket in range(MOST_WAITING):
        play(deck, ticket, f"alarm {ticket}", 3)
    play(deck, 99, "urgent", 1)
    assert deck.news() == [Failed(ticket=MOST_WAITING - 1, reason="too many sounds are waiting")]


def test_silence_fades_within_a_hundredth_of_a_second_and_forgets_the_line() -> None:
    deck = Deck(RATE)
    play(deck, 1, "a")
    play(deck, 2, "b")
    before = run(deck, 1000)
    deck.silence()
    after = run(deck, 4000)
    fade = round(FADE_SECONDS * RATE)
    assert before.any()
    assert after[:fade].any(), "cut off, not faded"
    assert not after[fade:].any()
    # No click: the fade begins at full level and ends at nothing.
    np.testing.assert_allclose(after[:fade], HIGH.samples[1000 : 1000 + fade] * np.linspace(1, 0, fade), atol=1e-6)
    assert deck.news() == [Started(ticket=1), Stopped(ticket=2), Stopped(ticket=1)]


def test_silence_twice_and_then_the_next_sound_is_whole() -> None:
    deck = Deck(RATE)
    play(deck, 1)
    run(deck, 640)
    deck.silence()
    run(deck, 16, block=16)
    deck.silence()
    deck.silence()
    play(deck, 2)
    out = run(deck, 2 * len(HIGH.samples))
    first = np.flatnonzero(out)[0]
    assert deck.news()[-2:] == [Started(ticket=2), Played(ticket=2)]
    assert first <= 80
    rest = 80 - 16
    np.testing.assert_array_equal(out[rest : rest + len(HIGH.samples)], HIGH.samples)


def test_news_nobody_collects_does_not_grow() -> None:
    deck = Deck(RATE)
    for ticket in range(1, 2000):
        play(deck, ticket)
        deck.silence()
    assert len(deck.news()) <= 64
