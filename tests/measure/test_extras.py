"""Stops, noise, flicker and tolerance together: each at its own pace, on the rendered boathouse and on odd feeds."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

import msgspec
import numpy as np
import pytest

from analysis.feed.scene.controls import SceneControls
from analysis.feed.scene.lights import levels
from analysis.feed.scene.renderer import Renderer
from analysis.feed.scene.stage import Stage
from analysis.measure import noise
from analysis.measure.extras import REPEATS_ALLOWED, Extras, ExtrasFound, ExtrasSettings
from analysis.measure.flicker import FlickerSettings
from analysis.measure.tolerance import ToleranceMeter
from analysis.model.errors import SettingsError
from analysis.model.frame import Frame
from analysis.model.instant import Instant
from analysis.model.reading import NO_FLICKER
from analysis.signal.curves import curve
from analysis.signal.layouts import LAYOUTS
from tests.measure import plain

STAGE: list[Stage] = []
SIZE = 640, 360
AREA = (0, 0, *SIZE)
BT709 = curve("bt709")


def shots(seconds: float, rate: float = 25.0, beat: float = 0.0, **wish) -> Iterator[Frame]:
    """Frames of the boathouse; ``beat`` in Hz makes its lamp rise and fall."""
    controls = SceneControls(width=SIZE[0], height=SIZE[1], rate=rate, lamp=True, **{"clouds": False} | wish)
    renderer = Renderer(controls, stage=STAGE[0] if STAGE else None)
    STAGE[:] = [renderer._stage]
    for number in range(round(seconds * rate)):
        at = number / rate
        lamp = 1.0 + (0.2 * math.cos(2.0 * math.pi * beat * at) if beat else 0.0)
        picture = renderer.picture(at, number, msgspec.structs.replace(levels(controls, at), lamp=lamp))
        yield Frame(
            planes=picture.planes, format=picture.format, instant=Instant(50.0 + at, 0.0), generation=1, sequence=number
        )


def counts(frame: Frame) -> np.ndarray:
    return np.bincount(plain.luma_codes(frame).ravel(), minlength=1 << LAYOUTS[frame.format.layout].depth).astype(float)


def looked(frames: list[Frame], settings: ExtrasSettings | None = None, using=BT709, **ends) -> list[ExtrasFound]:
    extras = Extras(frames[0].format, using, settings)
    return [extras.look(frame, AREA, counts(frame), frame.instant, **ends) for frame in frames]


FIRST = list(shots(0.8))


@pytest.mark.parametrize("layout", ["yuyv422", "nv12", "yuv422p10le", "bgr24", "gray12le", "p010le"])
def test_everything_is_told_for_every_kind_of_layout(layout: str) -> None:
    found = looked(list(shots(0.3, layout=layout)))[-1]
    assert found.spread is not None and sum(found.spread.counts) == pytest.approx(100.0)
    assert found.headroom_stops == 0.0  # the doors are clipped
    assert found.footroom_stops is not None and found.footroom_stops >= 0.0
    assert found.noise is not None and found.noise.refused is None and found.noise.shadow_snr_db > 0.0
    assert found.bands and found.flicker is None
    assert found.tolerance is not None and found.tolerance.estimated
    assert (found.tolerance.r is None) is layout.startswith("gray")


def test_each_part_has_its_pace() -> None:
    """At 25 frames: the spread every fourth (0.125 s), noise on pairs 0.2 s apart, tolerance every fifth."""
    said = looked(FIRST)

    def changes(name: str) -> list[int]:
        values = [getattr(found, name) for found in said]
        return [number for number, value in enumerate(values) if number == 0 or value is not values[number - 1]]

    assert changes("spread") == [0, 4, 8, 12, 16]
    assert changes("tolerance") == [0, 5, 10, 15]
    assert changes("noise") == [0, 1, 6, 11, 16]  # nothing yet at the first frame; then the second of each pair
    assert said[0].noise is None and said[1].noise is not None


def test_paces_can_be_set_and_parts_left_out() -> None:
    every = looked(FIRST[:4], ExtrasSettings(spread_every=0.0, tolerance_every=0.0))
    assert all(a.spread is not b.spread for a, b in pairwise(every))
    off = looked(FIRST[:6], ExtrasSettings(spread_every=None, noise_every=None, flicker=None, tolerance="off"))
    assert off[-1] == ExtrasFound()


def test_exact_tolerance_is_that_of_its_meter() -> None:
    found = looked(FIRST[:2], ExtrasSettings(tolerance="exact"))[0].tolerance
    assert found == ToleranceMeter(FIRST[0].format).measure(FIRST[0], AREA) and not found.estimated
    filtered = looked(FIRST[:2], ExtrasSettings(tolerance="exact", tolerance_filter="mean3"))[0].tolerance
    assert filtered == ToleranceMeter(FIRST[0].format, "mean3").measure(FIRST[0], AREA)
    only = ExtrasSettings(tolerance="exact", spread_every=None, noise_every=None, flicker=None)
    assert looked(FIRST[:2], only)[0] == ExtrasFound(tolerance=found)


def test_without_a_curve_nothing_is_guessed() -> None:
    found = looked(FIRST, using=None)[-1]
    assert (found.spread, found.headroom_stops, found.footroom_stops, found.flicker) == (None, None, None, None)
    assert found.noise.refused == noise.NO_CURVE and found.noise.ire is not None
    assert found.tolerance is not None


def test_full_range_has_no_tolerance_but_everything_else() -> None:
    for way in ("sample", "exact"):
        found = looked(list(shots(0.2, range="full")), ExtrasSettings(tolerance=way))[-1]
        assert found.tolerance is None and found.spread is not None and found.noise is not None


def test_the_end_of_the_signal_is_the_callers() -> None:
    dark = list(shots(0.2, nd=7.0, noise=False))
    higher, lower = (looked(dark, ceiling=level)[-1].headroom_stops for level in (100.0, 59.5))
    assert higher - lower == pytest.approx(math.log2(1.0 / 0.36), abs=0.01)  # 59.5 % is one stop above the card
    assert looked(dark, floor=10.0)[-1].footroom_stops <= looked(dark, floor=0.0)[-1].footroom_stops


def test_footroom_ends_at_the_noise_where_that_is_known() -> None:
    """A grainy ramp from 20 IRE on: its shadows end where their noise does, long before the codes do."""
    rng = np.random.default_rng(6)
    ramp = np.linspace(256.0, 700.0, 640)[None, :]
    frames = [
        plain.frame_of(
            (np.rint(ramp + rng.normal(0.0, 20.0, (360, 640))).astype(np.uint16),),
            "gray10le",
            640,
            360,
            sequence=number,
        )
        for number in range(8)
    ]
    found, codes = looked(frames)[-1], looked(frames, ExtrasSettings(noise_every=None))[-1]
    noisy = 10.0 ** (found.noise.shadow_snr_db / 20.0)
    assert noisy > 5.0 and found.footroom_stops < codes.footroom_stops - 2.0
    assert found.footroom_stops == pytest.approx(math.log2(noisy), abs=1.2)


def test_flicker_of_a_lamp_in_the_boathouse() -> None:
    frames = list(shots(6.0, rate=24.0, beat=4.0))
    wish = ExtrasSettings(spread_every=None, noise_every=None, tolerance="off")
    found = looked(frames, wish)[-1].flicker
    assert found is not None and found.hz == pytest.approx(4.0, abs=0.02) and found.kind == "whole"
    stamped = [
        msgspec.structs.replace(
            frame, source_seconds=frame.sequence / 24.0, source_sequence=frame.sequence, instant=Instant(5.0 + at, 0.0)
        )
        for at, frame in zip(np.cumsum(np.random.default_rng(1).uniform(0.0, 0.08, len(frames))), frames, strict=True)
    ]
    assert looked(stamped, wish)[-1].flicker is not None  # arrival is all over the place, the source's clock is not
    coarse = msgspec.structs.replace(wish, flicker=FlickerSettings(least_stops=1.0))
    assert looked(frames, coarse)[-1].flicker == NO_FLICKER
    assert looked(frames, msgspec.structs.replace(wish, flicker=None))[-1].flicker is None


def again(frame: Frame, number: int, **wish) -> Frame:
    return msgspec.structs.replace(frame, sequence=number, instant=Instant(50.0 + number / 25.0, 0.0), **wish)


def test_doubled_frames_are_waited_out_and_endless_repeats_refused() -> None:
    doubled = [again(FIRST[number // 2], number) for number in range(12)]
    said = looked(doubled)
    assert said[-1].noise.refused is None
    frozen = [again(FIRST[0], number) for number in range(12)]
    said = looked(frozen)
    assert said[REPEATS_ALLOWED].noise is None and said[-1].noise.refused == noise.REPEATED


def test_another_life_or_another_active_picture_is_not_compared() -> None:
    extras = Extras(FIRST[0].format, BT709)
    extras.look(FIRST[0], AREA, counts(FIRST[0]), FIRST[0].instant)
    second = again(FIRST[1], 1, generation=2)
    assert extras.look(second, AREA, counts(second), second.instant).noise.refused == noise.CHANGED
    extras = Extras(FIRST[0].format, BT709)
    extras.look(FIRST[0], AREA, counts(FIRST[0]), FIRST[0].instant)
    found = extras.look(FIRST[1], (0, 40, 640, 280), counts(FIRST[1]), FIRST[1].instant)
    assert found.noise.refused == noise.CHANGED and found.spread is not None


def test_another_format_starts_afresh() -> None:
    other = list(shots(0.1, layout="yuv422p10le"))
    extras = Extras(FIRST[0].format, BT709)
    for frame in FIRST[:3]:
        extras.look(frame, AREA, counts(frame), frame.instant)
    found = extras.look(other[0], AREA, counts(other[0]), Instant(50.2, 0.0))
    assert found.noise is None and found.spread is not None and found.tolerance is not None


def test_a_corrupt_frame_says_nothing_and_leaves_no_trace() -> None:
    extras = Extras(FIRST[0].format, BT709)
    first = extras.look(FIRST[0], AREA, counts(FIRST[0]), FIRST[0].instant)
    broken = msgspec.structs.replace(FIRST[1], corrupt=True, planes=(np.zeros((2, 2), np.uint8),))
    assert extras.look(broken, AREA, counts(FIRST[1]), FIRST[1].instant) == ExtrasFound()
    after = extras.look(FIRST[2], AREA, counts(FIRST[2]), FIRST[2].instant)
    assert after.spread is first.spread and after.noise.refused is None


def test_time_that_jumps_back_is_due_at_once() -> None:
    extras = Extras(FIRST[0].format, BT709)
    late = extras.look(FIRST[0], AREA, counts(FIRST[0]), Instant(1000.0, 0.0))
    assert extras.look(FIRST[1], AREA, counts(FIRST[1]), Instant(1.0, 0.0)).spread is not late.spread


def test_a_tiny_picture() -> None:
    planes = tuple(np.full(shape, 100, np.uint8) for shape in plain.plane_shapes(LAYOUTS["yuv420p"], 2, 2))
    frames = [plain.frame_of(tuple(plane.copy() for plane in planes), "yuv420p", 2, 2, sequence=n) for n in range(4)]
    frames[1].planes[0].flags.writeable = True
    frames[1].planes[0][:] = 101
    extras = Extras(frames[0].format, BT709)
    for frame in frames:
        found = extras.look(frame, (0, 0, 2, 2), counts(frame), frame.instant)
    assert found.noise.refused == noise.TOO_SMALL and sum(found.spread.counts) == pytest.approx(100.0)


@pytest.mark.parametrize("wish", [{"spread_every": -1.0}, {"noise_every": 1e9}, {"tolerance_every": math.nan}])
def test_settings_that_cannot_be(wish: dict[str, float]) -> None:
    with pytest.raises(SettingsError, match="must lie between 0 and 3600 seconds"):
        ExtrasSettings(**wish)


def test_everything_found_can_be_written_as_json() -> None:
    found = looked(FIRST)[-1]
    assert msgspec.json.decode(msgspec.json.encode(found), type=ExtrasFound) == found
