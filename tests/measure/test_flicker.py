"""The flicker watch away from the text book: clocks that jitter, frames that are lost, and what is not flicker."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest

from analysis.feed.scene.controls import SceneControls
from analysis.feed.scene.lights import LightLevels, levels
from analysis.feed.scene.renderer import Renderer
from analysis.feed.scene.stage import Stage
from analysis.measure import beat
from analysis.measure.flicker import FlickerSettings, FlickerWatch
from analysis.measure.mains import ripple_stops
from analysis.measure.sample import Sample, Sampler
from analysis.model.errors import SettingsError
from analysis.model.frame import Frame
from analysis.model.instant import Instant
from analysis.model.reading import NO_FLICKER, Flicker
from analysis.signal.curves import curve
from tests.measure.lamps import COLUMNS, FORM, ROWS, WALL, beats, frames, lamp, watched

BEATING = lamp(50.0, 1 / 48, 0.3)  # 4 Hz and 0.034 stop at 24 frames a second
DEPTH = ripple_stops(24.0, 180.0, 50.0, 0.3)


def is_the_beat(found: Flicker | None, rel: float = 0.04) -> bool:
    return found is not None and abs(found.hz - 4.0) < 0.03 and found.stops == pytest.approx(DEPTH, rel=rel)


@pytest.mark.parametrize("jitter", [0.001, 0.004, 0.008])
def test_stamps_that_jitter(jitter: float) -> None:
    assert is_the_beat(watched(frames(BEATING, 24.0), jitter)[-1])


@pytest.mark.parametrize("numbered", [True, False])
def test_frames_that_are_lost(numbered: bool) -> None:
    """A third of the frames missing, numbered by the source or not."""
    rng = np.random.default_rng(3)
    gone = set(rng.choice(192, 60, replace=False).tolist())
    assert is_the_beat(watched(frames(BEATING, 24.0), 0.002, gone.__contains__, numbered)[-1], rel=0.08)


def test_every_second_frame_is_enough() -> None:
    """A machine that keeps up with half of 48 frames a second still sees 4 Hz of them."""
    said = watched(frames(lamp(50.0, 1 / 48, 0.3), 48.0), missing=lambda number: number % 2 == 1)
    assert is_the_beat(said[-1])


def test_it_is_told_after_a_few_seconds_and_over_after_a_few() -> None:
    still = watched(frames(lambda number, begin: BEATING(number, begin) if number < 192 else 1.0, 24.0, 18.0))
    first = next(number for number, found in enumerate(still) if found and found.seen)
    last = max(number for number, found in enumerate(still) if found and found.seen)
    assert 3.0 <= first / 24.0 <= 5.0
    assert 8.0 <= last / 24.0 <= 8.0 + 6.0 + 1.0


def test_strong_flicker() -> None:
    """A lamp that all but goes out, a short shutter: the fundamental of a wave in stops that is far from a sine."""
    found = watched(frames(lamp(50.0, 1 / 1000, 0.6), 24.0, 7.0))[-1]
    assert found is not None and found.hz == pytest.approx(4.0, abs=0.02)
    assert 0.85 * 1.9 < found.stops < 2.0  # log2((1 + r)/(1 - r)) is 1.94 with r = 0.59


def test_a_beat_at_half_the_frame_rate_is_seen() -> None:
    """48 frames at 60 Hz: 24 Hz, light and dark in turn."""
    found = watched(frames(lamp(60.0, 1 / 96, 0.3), 48.0, 6.5))[-1]
    assert found is not None and found.hz == pytest.approx(24.0, abs=0.02) and found.kind == "whole"


def test_flicker_goes_on_through_a_lamp_switched_and_a_cut() -> None:
    """A stop more light at 10 s; four seconds later the beat is told again, at its own depth."""
    steps = lambda number, begin: BEATING(number, begin) * (2.0 if number >= 240 else 1.0)  # noqa: E731
    said = watched(frames(steps, 24.0, 16.0))
    assert is_the_beat(said[239]) and is_the_beat(said[-1], rel=0.06)


def test_only_part_of_the_picture_under_the_lamp() -> None:
    """Half the width lit by the lamp: half the depth."""
    half = np.concatenate([np.full((ROWS, COLUMNS // 2), 0.2), np.full((ROWS, COLUMNS // 2), 1e-4)], axis=1)
    found = watched(frames(BEATING, 24.0, wall=half))[-1]
    assert is_the_beat(found, rel=0.06)


def drifting(number: int, _begin: np.ndarray) -> float:
    """Clouds: up and down by a third of a stop within seconds."""
    t = number / 24.0
    return 2.0 ** (0.2 * math.sin(2 * math.pi * t / 5.0) + 0.1 * math.sin(2 * math.pi * t / 2.1))


def flashing(number: int, _begin: np.ndarray) -> float:
    return 2.0 if number % 97 < 3 else 1.0


def cut(number: int, _begin: np.ndarray) -> float:
    return (1.0, 1.9, 0.6, 1.3)[number // 31 % 4]


def random_steps(number: int, _begin: np.ndarray) -> float:
    return 2.0 ** float(np.random.default_rng(number // 9).normal(0.0, 0.3))


def swaying(number: int, _begin: np.ndarray) -> float:
    return 1.0 + 0.05 * math.sin(2 * math.pi * 1.3 * number / 24.0)


def moving_bar(number: int, begin: np.ndarray) -> np.ndarray:
    """Something dark crosses from top to bottom and back every second and a half."""
    place = (0.5 + 0.5 * math.sin(2 * math.pi * number / 24.0 / 1.5)) * begin.size
    return 1.0 - 0.6 * np.exp(-(((np.arange(begin.size) - place) / 9.0) ** 2))


@pytest.mark.parametrize("gain", [drifting, flashing, cut, random_steps, swaying, moving_bar, lambda _n, _b: 1.0])
@pytest.mark.parametrize("fps", [24.0, 25.0, 30.0])
def test_what_is_not_flicker(gain, fps: float) -> None:
    assert not beats(watched(frames(gain, fps, 14.0)))


def test_a_beat_that_mains_cannot_leave_is_none() -> None:
    """A screen in the picture that pulses at 7 Hz is no lamp on the mains."""
    pulse = lambda number, _begin: 1.0 + 0.05 * math.sin(2 * math.pi * 7.0 * number / 24.0)  # noqa: E731
    assert not beats(watched(frames(pulse, 24.0)))


def test_a_burst_at_the_right_beat_is_not_flicker() -> None:
    """A second and a half of waving at 4 Hz: in one half of the time looked at, not in both."""
    wave = lambda number, begin: BEATING(number, begin) if 96 <= number < 132 else 1.0  # noqa: E731
    assert not beats(watched(frames(wave, 24.0, 12.0)))


def test_a_depth_not_worth_telling() -> None:
    assert not beats(watched(frames(lamp(50.0, 1 / 48, 0.05), 24.0)))
    finer = FlickerSettings(least_stops=0.002)
    assert watched(frames(lamp(50.0, 1 / 48, 0.05), 24.0), settings=finer)[-1].seen


def test_strips_that_are_black_are_left_out() -> None:
    """A third of the picture below black: the rest beats as before."""
    wall = WALL.copy()
    wall[:32] = -0.01
    found = watched(frames(lambda number, begin: np.where(begin < 0.0, 1.0, BEATING(number, begin)), 24.0, wall=wall))
    assert is_the_beat(found[-1])


def test_one_look_alone_neither_tells_nor_ends_it() -> None:
    watch = FlickerWatch(FORM, curve("bt709"))
    seen, other, none = Flicker(hz=4.0, stops=0.05), Flicker(hz=10.0, stops=0.05), NO_FLICKER
    for look, told in (
        (seen, None), (other, None), (none, None), (seen, None), (seen, seen), (none, seen), (None, seen),
        (none, seen), (none, none), (None, none), (None, None),
    ):  # fmt: skip
        watch._settle(look)
        assert watch.found == told


def test_light_that_is_noisy_as_a_whole_is_seldom_taken_for_a_beat() -> None:
    """A twentieth of a stop of white noise in every frame: at most 2 looks in 400 see one, and two must agree."""
    rng, times = np.random.default_rng(4), np.arange(144) / 24.0
    seen = 0
    for _ in range(400):
        light = rng.normal(0.0, 0.05, 144)[:, None] + rng.normal(0.0, 0.001, (144, 32))
        seen += beat.find(times, light, 4.0, 0.45, 12.0) is not None
    assert seen <= 2


@pytest.mark.parametrize("hz", [3.0, 3.3, 4.7, 5.0])
def test_the_foot_of_a_stronger_wave_nearby_is_no_beat(hz: float) -> None:
    times = np.arange(144) / 24.0
    light = (0.1 * np.cos(2.0 * np.pi * hz * times))[:, None] * np.ones(32)
    light = light + np.random.default_rng(6).normal(0.0, 1e-4, light.shape)
    assert beat.find(times, light, 4.0, 0.45, 12.0) is None


def test_a_beat_in_noisy_light() -> None:
    rng, times = np.random.default_rng(5), np.arange(144) / 24.0
    light = 0.017 * np.cos(2.0 * np.pi * 4.0 * times + 1.0) + rng.normal(0.0, 0.01, 144)
    found = beat.find(times, light[:, None] + rng.normal(0.0, 0.001, (144, 32)), 4.0, 0.45, 12.0)
    assert found is not None and found.hz == pytest.approx(4.0, abs=0.03)
    assert found.stops == pytest.approx(0.034, abs=0.006) and found.together > 0.95


def test_looked_for_and_none_seen_is_not_the_same_as_not_known() -> None:
    """Four seconds of steady light, and what a look says with less than that, is kept apart."""
    said = watched(frames(lambda _n, _b: 1.0, 24.0, 10.0))
    known = next(number for number, found in enumerate(said) if found is not None)
    assert 3.0 <= known / 24.0 <= 5.0
    assert said[:known] == [None] * known
    assert said[known:] == [NO_FLICKER] * (len(said) - known)


def test_after_a_cut_it_is_not_known_until_there_is_enough_of_the_new_picture() -> None:
    steps = lambda number, begin: 2.0 if number >= 240 else 1.0  # noqa: E731
    said = watched(frames(steps, 24.0, 18.0))
    unknown = [number / 24.0 for number, found in enumerate(said) if found is None and number > 192]
    assert unknown and 10.0 <= unknown[0] <= 12.0 and unknown[-1] <= 16.0
    assert said[-1] == NO_FLICKER


def test_a_beat_that_ends_with_its_lamp_is_none_and_not_unknown() -> None:
    said = watched(frames(lambda number, begin: BEATING(number, begin) if number < 192 else 1.0, 24.0, 18.0))
    assert None not in said[120:] and said[-1] == NO_FLICKER


def test_in_the_dark_nothing_is_told() -> None:
    assert set(watched(frames(BEATING, 24.0, wall=WALL * 0.002))) == {None}


@pytest.mark.parametrize("mark,seconds", [("other", 6.0), (None, 0.5)])
def test_another_life_of_the_feed_or_time_that_runs_back_begin_anew(mark: object, seconds: float) -> None:
    watch = FlickerWatch(FORM, curve("bt709"))
    for number, at, sample in frames(BEATING, 24.0, 6.0):
        said = watch.see(sample, at, number)
    assert said is not None
    assert watch.see(sample, seconds, 200, mark) is None


def test_history_is_bounded() -> None:
    watch = FlickerWatch(FORM, curve("bt709"), FlickerSettings(every=1e9))
    sample = Sample(np.full((8, 8), 100, np.uint8), None)
    for number in range(3000):
        watch.see(sample, number / 1000.0, number)
    assert len(watch._history) == 1024
    watch.see(sample, 100.0, 3001)
    assert len(watch._history) == 1


@pytest.mark.parametrize(
    "wish",
    [{"seconds": 3.0}, {"mains": ()}, {"every": 0.0}, {"mains": (50.0, -1.0)}, {"least_seconds": 1.0}, {"seconds": 61}],
)
def test_settings_that_cannot_be(wish: dict[str, object]) -> None:
    with pytest.raises(SettingsError, match="flicker"):
        FlickerSettings(**wish)


STAGE: list[Stage] = []


def boathouse(controls: SceneControls, seconds: float, begin: float, light) -> list[Flicker | None]:
    """What a watch says of the rendered boathouse under the lights ``light(levels, time)``."""
    renderer = Renderer(controls, stage=STAGE[0] if STAGE else None)
    STAGE[:] = [renderer._stage]
    sampler, watch = Sampler(renderer.format), FlickerWatch(renderer.format, curve(controls.curve))
    said = []
    for number in range(int(seconds * controls.rate)):
        at = begin + number / controls.rate
        picture = renderer.picture(at, number, light(levels(controls, at), at))
        frame = Frame(
            planes=picture.planes, format=picture.format, instant=Instant(at, 0.0), generation=1, sequence=number
        )
        area = (0, 0, controls.width, controls.height)
        said.append(watch.see(sampler.take(frame, area, colour=False), at, number))
    return said


@pytest.mark.parametrize("rate,name,iso", [(24.0, "bt709", 800.0), (25.0, "acescct", 3200.0), (30.0, "bt709", 3200.0)])
@pytest.mark.parametrize("switched", [0.0, 1.7, 6.0])
def test_the_boathouse_with_clouds_and_a_lamp_switched_gives_no_alarm(
    rate: float, name: str, iso: float, switched: float
) -> None:
    """From 38 to 56 s the sun breaks through (within 3 s); the lamp goes on and off all the while."""
    controls = SceneControls(width=160, height=90, rate=rate, curve=name, iso=iso, lamp=True)

    def light(now: LightLevels, at: float) -> LightLevels:
        return msgspec.structs.replace(now, lamp=float(switched > 0.0 and int(at / switched) % 2))

    assert not beats(boathouse(controls, 18.0, 38.0, light))


def test_a_lamp_that_beats_in_the_boathouse() -> None:
    controls = SceneControls(width=160, height=90, rate=24.0, lamp=True)

    def light(now: LightLevels, at: float) -> LightLevels:
        return msgspec.structs.replace(now, lamp=1.0 + 0.2 * math.cos(2 * math.pi * 4.0 * at))

    found = boathouse(controls, 7.0, 30.0, light)[-1]
    assert found is not None and found.hz == pytest.approx(4.0, abs=0.01) and found.kind == "whole"
    assert 0.03 < found.stops < 0.58  # less than the lamp's own, as the lake lights most of it
