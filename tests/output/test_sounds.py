"""The rendered sounds, measured: pitch by FFT, strokes, onset, level, timbre; nothing is taken on trust."""

from __future__ import annotations

import itertools
import math
from typing import get_args

import numpy as np
import pytest

from analysis.alarm.defaults import DEFAULT_RULES
from analysis.model.alarm import AlarmKind, Direction
from analysis.output.sounds import CEILING, RHYTHMS, VOICES, Sound, describe, render, told
from tests.output.ear import strokes

KINDS, DIRECTIONS, PRIORITIES = get_args(AlarmKind), get_args(Direction), (1, 2, 3)
ALL = list(itertools.product(KINDS, DIRECTIONS, PRIORITIES))
# Rendered at 44.1 kHz too: a device that refuses 48 kHz must sound the same.
RATES = (48_000, 44_100)


def sounds() -> list[tuple[str, Sound]]:
    return [(f"{k}-{d}-{p}-{r}", render(k, d, p, rate=r)) for (k, d, p), r in itertools.product(ALL, RATES)]


every_sound = pytest.mark.parametrize("sound", [s for _, s in sounds()], ids=[n for n, _ in sounds()])


@every_sound
def test_strokes_are_as_many_as_long_and_as_far_apart_as_stated(sound: Sound) -> None:
    facts, heard = sound.facts, strokes(sound.samples, sound.rate)
    assert len(heard) == facts.strokes
    for stroke in heard:
        assert stroke.seconds <= facts.stroke_seconds
        # A decaying stroke fades under the threshold before its end.
        assert stroke.seconds > (0.6 if facts.partials == VOICES["feed"].partials else 0.9) * facts.stroke_seconds
    for before, after in itertools.pairwise(heard):
        assert after.begin - before.begin == pytest.approx(facts.stroke_seconds + facts.gap_seconds, abs=0.002)
    assert facts.seconds == len(sound.samples) / sound.rate


@every_sound
def test_pitch_moves_as_stated(sound: Sound) -> None:
    for stroke in strokes(sound.samples, sound.rate):
        whole = sound.facts.stroke_seconds / stroke.seconds
        assert stroke.pitch(0.02, 0.24 * whole) == pytest.approx(sound.facts.begin_hz, rel=0.02)
        assert stroke.pitch(0.78 * whole, 1.0) == pytest.approx(sound.facts.end_hz, rel=0.04)


@every_sound
def test_partials_are_as_stated(sound: Sound) -> None:
    stroke = strokes(sound.samples, sound.rate)[0]
    for multiple, strength in sound.facts.partials:
        level = stroke.level_db(multiple * sound.facts.begin_hz, 0.0, 0.24)
        assert level == pytest.approx(20 * math.log10(strength), abs=1.5)


@every_sound
def test_never_above_the_ceiling_and_never_a_click(sound: Sound) -> None:
    samples = sound.samples.astype(np.float64)
    assert np.isfinite(samples).all()
    assert np.abs(samples).max() <= CEILING
    assert np.abs(samples).max() == pytest.approx(sound.facts.peak, rel=1e-3)
    assert abs(samples.mean()) < 1e-3
    assert abs(samples[0]) < 1e-4
    assert abs(samples[-1]) < 2e-3
    # The greatest step between samples is that of the highest partial, not of an edge.
    top = max(m for m, _ in sound.facts.partials) * max(sound.facts.begin_hz, sound.facts.end_hz)
    assert np.abs(np.diff(samples)).max() <= 2 * math.pi * top / sound.rate * sound.facts.peak


@every_sound
def test_onset_is_soft(sound: Sound) -> None:
    for stroke in strokes(sound.samples, sound.rate):
        # At least 10 ms from the first audible sample to nearly full level.
        assert 0.010 <= stroke.onset_seconds() <= 0.050


@pytest.mark.parametrize(("kind", "priority"), list(itertools.product(KINDS, PRIORITIES)))
def test_direction_is_heard_as_movement(kind: AlarmKind, priority: int) -> None:
    up, down, level = (render(kind, direction, priority).facts for direction in ("up", "down", "none"))
    assert up.end_hz == pytest.approx(1.5 * up.begin_hz)
    assert down.begin_hz == pytest.approx(1.5 * down.end_hz)
    assert level.begin_hz == level.end_hz


def test_urgency_is_heard_as_rhythm() -> None:
    counts = [RHYTHMS[priority].strokes for priority in PRIORITIES]
    assert counts == sorted(counts, reverse=True)
    assert len(set(counts)) == len(counts)
    per_second = [RHYTHMS[p].strokes / render("feed", "none", p).facts.seconds for p in PRIORITIES]
    assert per_second == sorted(per_second, reverse=True)


def test_kind_is_heard_as_timbre() -> None:
    """No two voices share the strength of their second partial within 6 dB, or its place."""
    seconds = {kind: voice.partials[1] for kind, voice in VOICES.items()}
    for one, other in itertools.combinations(seconds.values(), 2):
        assert abs(one[0] - other[0]) > 0.2 or abs(20 * math.log10(one[1] / other[1])) > 6


def test_these_are_not_the_bursts_of_a_medical_device() -> None:
    """IEC 60601-1-8: bursts of 10 (high) or 3 (medium) pulses; counts as its published guides give them."""
    assert not {RHYTHMS[p].strokes for p in PRIORITIES} & {3, 5, 10}


def test_most_energy_lies_where_ears_and_small_loudspeakers_are_good() -> None:
    """500 to 2500 Hz, as ISO 7731 recommends for danger signals (from memory, not looked up).

    Counted from 400 Hz: that is where the falling shadows end.
    """
    for rule in DEFAULT_RULES:
        sound = render(rule.kind, rule.direction, rule.priority)
        power = np.abs(np.fft.rfft(sound.samples)) ** 2
        hz = np.fft.rfftfreq(len(sound.samples), 1 / sound.rate)
        inside = power[(hz >= 400) & (hz <= 2500)].sum() / power.sum()
        assert inside > 0.9, rule.name


@pytest.mark.parametrize(
    ("kind", "product", "within"),
    [
        ("feed", 1.0, [(4.0, 5.5), (7.0, 8.5), (10.0, 11.8)]),  # free at both ends
        ("hold", -1.0, [(1.0, 3.0), (4.0, 5.5)]),  # clamped at one
    ],
)
def test_bars_are_bars(kind: AlarmKind, product: float, within: list[tuple[float, float]]) -> None:
    """A uniform bar's modes: squares of the roots of cos x cosh x = 1, or -1 where it is clamped, against the first."""

    def root(low: float, high: float) -> float:
        def f(x: float) -> float:
            return math.cos(x) * math.cosh(x) - product

        for _ in range(80):
            middle = (low + high) / 2
            low, high = (low, middle) if f(low) * f(middle) <= 0 else (middle, high)
        return low

    modes = [root(*span) for span in within]
    ratios = [(mode / modes[0]) ** 2 for mode in modes]
    assert [multiple for multiple, _ in VOICES[kind].partials] == pytest.approx(ratios, abs=1e-3)


@pytest.mark.parametrize(("asked", "got"), [(0.5, 0.16), (1.0, 0.32), (7.0, 0.32), (-1.0, 0.0), (0.0, 0.0)])
def test_loudness_only_ever_takes_away(asked: float, got: float) -> None:
    sound = render("highlights", "up", 1, loudness=asked)
    assert float(np.abs(sound.samples).max()) == pytest.approx(got, abs=1e-4)


def test_samples_cannot_be_changed() -> None:
    with pytest.raises(ValueError, match="read-only"):
        render("feed", "none", 1).samples[0] = 1.0


def test_every_default_alarm_is_described_and_only_the_like_sound_alike() -> None:
    described = describe()
    assert [d.alarm for d in described] == [rule.name for rule in DEFAULT_RULES]
    # Those of one kind, direction and urgency share a sound on purpose; no others do.
    assert len({d.sound for d in described}) == len({(d.kind, d.direction, d.priority) for d in described})
    assert all(d.meaning and d.advice for d in described)
    assert len({told(*combination) for combination in ALL}) == len(ALL)


def test_descriptions_say_what_is_rendered() -> None:
    for kind, direction, priority in ALL:
        facts, text = render(kind, direction, priority).facts, told(kind, direction, priority)
        movement = {"up": "rising", "down": "falling", "none": "level"}[direction]
        assert movement in text
        assert f"{facts.begin_hz:.0f}" in text
        assert f"{facts.end_hz:.0f} Hz" in text
        assert {4: "four", 2: "two", 1: "one"}[facts.strokes] in text
