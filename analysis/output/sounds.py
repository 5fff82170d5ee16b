"""The alarm sounds, computed: what is wrong by timbre, which way by pitch, how urgent by rhythm.

A sound is a few equal strokes. Within a stroke the pitch rises (too bright), falls (too dark)
or stays (no direction). More and quicker strokes mean more urgent. Each kind has a voice of
its own: highlights a bright reed, shadows a hollow one, skin a flute, the light two pipes, drift
from the hold a plucked tine, the picture itself glass, a lost feed a struck wooden bar, the disk
two horns. Alarms that are alike in kind, direction and urgency sound alike; the screen and the
words tell them apart.
Every stroke swells in softly and no sample is ever louder than :data:`CEILING`.

The signals are this program's own. They are not those of IEC 60601-1-8 (bursts of three, five
or ten level pulses), which nobody should hear on a set unless a medical device calls.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TypeAlias

import msgspec
import numpy as np
import numpy.typing as npt

from analysis.alarm.defaults import DEFAULT_RULES
from analysis.alarm.rule import AlarmRule
from analysis.model.alarm import AlarmKind, Direction

Samples: TypeAlias = npt.NDArray[np.float32]

RATE = 48_000
CEILING = 0.35
"""No sample is louder than this part of full scale, whatever is asked."""
PEAK = 0.32
"""The loudest sample at full loudness: under the ceiling, so that a resampler's overshoot fits too."""
ONSET_SECONDS = 0.020
RELEASE_SECONDS = 0.050
GLIDE_RATIO = 1.5
"""A stroke glides over a fifth: large enough to be heard as a direction by untrained ears."""


class Voice(msgspec.Struct, frozen=True, kw_only=True):
    """The timbre of a kind: ``partials`` are (multiple of the base frequency, strength)."""

    told: str
    middle_hz: float
    partials: tuple[tuple[float, float], ...]
    decay_seconds: float | None = None


class Rhythm(msgspec.Struct, frozen=True, kw_only=True):
    """How many strokes, how long each, how far apart."""

    told: str
    strokes: int
    stroke_seconds: float
    gap_seconds: float


VOICES: dict[AlarmKind, Voice] = {
    "highlights": Voice(
        told="a bright reed", middle_hz=735.0, partials=((1.0, 1.0), (2.0, 0.5), (3.0, 0.33), (4.0, 0.2))
    ),
    "shadows": Voice(told="a hollow reed", middle_hz=490.0, partials=((1.0, 1.0), (3.0, 0.4), (5.0, 0.15))),
    # The second and third mode of a free uniform bar lie at 2.756 and 5.404 times the first
    # (theory of the free-free beam; worked out from cos(x) cosh(x) = 1 in the tests).
    "feed": Voice(
        told="a struck wooden bar",
        middle_hz=700.0,
        partials=((1.0, 1.0), (2.756, 0.4), (5.404, 0.15)),
        decay_seconds=0.08,
    ),
    "skin": Voice(told="a warm flute", middle_hz=590.0, partials=((1.0, 1.0), (2.0, 0.12), (3.0, 0.05))),
    "light": Voice(told="two pipes a fifth apart", middle_hz=520.0, partials=((1.0, 1.0), (1.5, 0.6), (3.0, 0.1))),
    # The second mode of a bar clamped at one end lies at 6.267 times the first (from cos(x) cosh(x) = -1 in the tests).
    "hold": Voice(told="a plucked tine", middle_hz=540.0, partials=((1.0, 1.0), (6.267, 0.25)), decay_seconds=0.20),
    "picture": Voice(told="a glass bowl", middle_hz=610.0, partials=((1.0, 1.0), (2.34, 0.45), (3.71, 0.15))),
    "disk": Voice(told="two horns a third apart", middle_hz=560.0, partials=((1.0, 1.0), (1.26, 0.6), (2.0, 0.2))),
}

RHYTHMS: dict[int, Rhythm] = {
    1: Rhythm(told="four quick strokes", strokes=4, stroke_seconds=0.20, gap_seconds=0.08),
    2: Rhythm(told="two strokes", strokes=2, stroke_seconds=0.30, gap_seconds=0.15),
    3: Rhythm(told="one long stroke", strokes=1, stroke_seconds=0.45, gap_seconds=0.0),
}


class SoundFacts(msgspec.Struct, frozen=True, kw_only=True):
    """What a rendered sound is made of, so that a listener or a test can check it.

    The pitch stays at ``begin_hz`` for the first quarter of a stroke, glides, and stays at
    ``end_hz`` for the last quarter. ``peak`` is the loudest sample as a part of full scale.
    """

    begin_hz: float
    end_hz: float
    partials: tuple[tuple[float, float], ...]
    strokes: int
    stroke_seconds: float
    gap_seconds: float
    onset_seconds: float
    seconds: float
    peak: float


class Sound(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """Mono samples, float32, read-only, at ``rate`` a second, with the facts about them."""

    facts: SoundFacts
    rate: int
    samples: Samples


class SoundDescription(msgspec.Struct, frozen=True, kw_only=True):
    """One sound explained in plain words: what it means and what it sounds like."""

    alarm: str
    kind: AlarmKind
    direction: Direction
    priority: int
    meaning: str
    sound: str
    advice: str


def render(kind: AlarmKind, direction: Direction, priority: int, *, loudness: float = 1.0, rate: int = RATE) -> Sound:
    """The sound of an alarm; ``loudness`` from 0 to 1 scales it below the ceiling.

    >>> sound = render("highlights", "up", 2)
    >>> sound.facts.strokes, round(sound.facts.begin_hz), round(sound.facts.end_hz)
    (2, 600, 900)
    >>> bool(abs(sound.samples).max() <= CEILING)
    True
    """
    voice, rhythm = VOICES[kind], RHYTHMS[priority]
    begin, end = _pitches(voice.middle_hz, direction)
    stroke = _stroke(voice, begin, end, rhythm.stroke_seconds, rate)
    peak = PEAK * min(1.0, max(0.0, loudness))
    stroke *= peak / float(np.abs(stroke).max())
    gap = np.zeros(round(rhythm.gap_seconds * rate))
    parts = [stroke]
    for _ in range(rhythm.strokes - 1):
        parts += [gap, stroke]
    samples = np.concatenate(parts).astype(np.float32)
    samples.flags.writeable = False
    facts = SoundFacts(
        begin_hz=begin,
        end_hz=end,
        partials=voice.partials,
        strokes=rhythm.strokes,
        stroke_seconds=rhythm.stroke_seconds,
        gap_seconds=rhythm.gap_seconds,
        onset_seconds=ONSET_SECONDS,
        seconds=len(samples) / rate,
        peak=peak,
    )
    return Sound(facts=facts, rate=rate, samples=samples)


def describe(rules: Iterable[AlarmRule] = DEFAULT_RULES) -> tuple[SoundDescription, ...]:
    """Every alarm of the rules and the sound it makes, in plain words; those that come with the program by default.

    >>> print(describe()[1].sound)
    two strokes of a bright reed, each rising from 600 to 900 Hz
    """
    return tuple(
        SoundDescription(
            alarm=rule.name,
            kind=rule.kind,
            direction=rule.direction,
            priority=rule.priority,
            meaning=rule.words,
            sound=told(rule.kind, rule.direction, rule.priority),
            advice=rule.advice,
        )
        for rule in rules
    )


def told(kind: AlarmKind, direction: Direction, priority: int) -> str:
    """What a sound sounds like, in words made from the numbers it is rendered from."""
    voice, rhythm = VOICES[kind], RHYTHMS[priority]
    begin, end = _pitches(voice.middle_hz, direction)
    if direction == "none":
        movement = f"level at {begin:.0f} Hz"
    else:
        movement = f"{'rising' if direction == 'up' else 'falling'} from {begin:.0f} to {end:.0f} Hz"
    each = "each " if rhythm.strokes > 1 else ""
    return f"{rhythm.told} of {voice.told}, {each}{movement}"


def _pitches(middle: float, direction: Direction) -> tuple[float, float]:
    half = math.sqrt(GLIDE_RATIO)
    pitches = {"up": (middle / half, middle * half), "down": (middle * half, middle / half), "none": (middle, middle)}
    return pitches[direction]


def _stroke(voice: Voice, begin: float, end: float, seconds: float, rate: int) -> npt.NDArray[np.float64]:
    count = round(seconds * rate)
    part = np.arange(count) / count
    pitch = np.interp(part, [0.25, 0.75], [begin, end])
    phase = 2 * np.pi * np.cumsum(pitch) / rate
    wave = np.zeros(count)
    for multiple, strength in voice.partials:
        if multiple * max(begin, end) < rate / 2:
            wave += strength * np.sin(multiple * phase)
    if voice.decay_seconds is not None:
        wave *= np.exp(-np.arange(count) / (voice.decay_seconds * rate))
    onset, release = round(ONSET_SECONDS * rate), round(RELEASE_SECONDS * rate)
    wave[:onset] *= _swell(onset)
    wave[-release:] *= _swell(release)[::-1]
    return wave


def _swell(count: int) -> npt.NDArray[np.float64]:
    return 0.5 - 0.5 * np.cos(np.pi * np.arange(count) / count)
