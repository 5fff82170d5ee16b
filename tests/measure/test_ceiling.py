"""The finder over time and against pictures that are not taken by a camera; what clipping makes of it."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from analysis.feed.scene.controls import SceneControls
from analysis.feed.scene.renderer import Renderer
from analysis.measure.ceiling import ClipLevel, EndFinder, EndsFound, clip_level_from
from analysis.measure.ceiling_samples import Samples, samples_of
from analysis.model.frame import Encoding
from analysis.model.reading import SignalEnd
from tests.measure import plain
from tests.measure.ceiling_scenes import RATE, Shot, frames, look, luma_counts
from tests.standards import lavfi

ENCODING = Encoding(bits=8, range="narrow", matrix="bt709")


class Watch:
    """A finder shown one thing after the other."""

    def __init__(self, bits: int = 8) -> None:
        self.finder, self.looks = EndFinder(bits, "narrow"), 0

    def show(self, shot: Shot, count: int = 12, light=None) -> list[EndsFound]:
        found = []
        for frame in frames(shot, count, light):
            found.append(look(self.finder, frame, self.looks / RATE))
            self.looks += 1
        return found


@pytest.mark.parametrize("layout", ["yuv422p", "yuv422p10le"])
def test_iso_moves_the_ceiling_of_a_log_camera_both_ways(layout: str) -> None:
    """A full sensor lies one stop higher or lower at twice or half the ISO: 5.7 IRE in ACEScct (S-2016-001)."""
    watch = Watch(10 if "10" in layout else 8)
    for iso in (800.0, 1600.0, 400.0):
        shot = Shot(name="window", share=5.0, over=2.0, level=None, curve="acescct", iso=iso, layout=layout)
        found = watch.show(shot, 16)  # two seconds
        last = found[-1].ceiling
        assert last is not None, iso
        assert last.level == pytest.approx(shot.true_level, abs=1.0), iso
        assert last.seconds < 2.0


def test_found_within_a_second_and_a_half_and_stands_since() -> None:
    found = Watch().show(Shot(name="window", share=3.0, level=94.0))
    first = next(number for number, end in enumerate(found) if end.ceiling is not None)
    assert first / RATE <= 1.0
    last = found[-1].ceiling
    assert last is not None
    assert last.seconds == pytest.approx((len(found) - 1) / RATE, abs=0.3)
    assert last.share == pytest.approx(2.5, abs=1.0)  # luma reaches the limit later than the brightest channel


def test_a_cloud_passes() -> None:
    """Four stops less for six seconds: nothing reaches the ceiling, and it is not lost; then it is there at once."""
    watch = Watch()
    shot = Shot(name="window", share=3.0, level=94.0)
    watch.show(shot)
    cloudy = watch.show(shot, 48, lambda number: 0.0625)
    assert all(end.ceiling is not None for end in cloudy)
    assert {round(end.ceiling.level, 2) for end in cloudy if end.ceiling is not None} == {94.06}
    assert cloudy[-1].ceiling is not None
    assert cloudy[-1].ceiling.share == 0.0
    back = watch.show(shot, 1)[0].ceiling
    assert back is not None
    assert back.share > 1.0


def test_light_that_rises_slowly_past_a_bright_surface_gives_no_alarm_on_the_way() -> None:
    wall = Shot(name="wall", below=1.2, level=94.0)
    found = Watch().show(wall, 32, lambda number: 2.0 ** (number / 32.0))
    assert [end.ceiling for end in found if end.ceiling is not None] == []


def test_what_was_a_ceiling_is_given_up_when_brighter_things_are_seen() -> None:
    watch = Watch()
    watch.show(Shot(name="window", share=3.0, level=83.0))
    found = watch.show(Shot(name="window", share=3.0, level=100.0), 14)
    last = found[-1].ceiling
    assert last is not None
    assert last.level == pytest.approx(100.0, abs=1.0)
    assert not any(end.ceiling is not None and 84.0 < end.ceiling.level < 99.0 for end in found)


@pytest.mark.parametrize(
    "name", ["smptehdbars", "smptebars", "pal75bars", "testsrc", "testsrc2", "gradients", "rgbtestsrc"]
)
@pytest.mark.parametrize("layout", ["yuv422p", "yuv422p10le"])
def test_drawn_pictures(name: str, layout: str) -> None:
    """FFmpeg's own bars, ramps and cards, as they stand still in a live feed."""
    drawn = lavfi.drawn(name, layout, 640, 360)
    watch = Watch(10 if "10" in layout else 8)
    for number in range(12):
        planes = tuple(plane.copy() for plane in drawn.planes)
        frame = plain.frame_of(planes, layout, 640, 360, sequence=number)
        found = look(watch.finder, frame, number / RATE)
        assert found == EndsFound()


def test_titles_that_crawl() -> None:
    """White text on black and grey, moving: it changes, and has no noise anywhere."""
    watch = Watch()
    dice = np.random.default_rng(2)
    letters = np.kron(dice.random((20, 60)) < 0.4, np.ones((9, 6)))[:180]
    for number in range(16):
        luma = np.full((360, 640), 60, np.uint8)
        luma[100:280, 20:380] = np.where(letters > 0, 235, 16)
        luma = np.roll(luma, 6 * number, axis=1)
        grey = np.full((360, 320), 128, np.uint8)
        frame = plain.frame_of((luma, grey, grey.copy()), "yuv422p", 640, 360, sequence=number)
        assert look(watch.finder, frame, number / RATE) == EndsFound()


def test_bars_above_and_below_are_no_floor() -> None:
    watch = Watch()
    for number, frame in enumerate(frames(Shot(name="window", below=1.0), 14)):
        planes = [plane.copy() for plane in frame.planes]
        planes[0][:46] = planes[0][-46:] = 16
        for plane in planes[1:]:
            plane[:46] = plane[-46:] = 128
        boxed = plain.frame_of(tuple(planes), "yuv422p", 640, 360, sequence=number)
        assert look(watch.finder, boxed, number / RATE).floor is None


def test_the_same_picture_again_proves_nothing() -> None:
    frame = next(frames(Shot(name="window", share=3.0, level=94.0), 1))
    watch = Watch()
    for number in range(40):
        assert look(watch.finder, msgspec.structs.replace(frame, sequence=number), number / RATE).ceiling is None


def test_counts_may_be_handed_over_in_the_same_array_each_time() -> None:
    finder, kept, last = EndFinder(8, "narrow"), np.zeros(256), EndsFound()
    for number, frame in enumerate(frames(Shot(name="window", share=3.0, level=94.0), 10)):
        kept[:] = luma_counts(frame)
        rows = samples_of(frame, (0, 0, 640, 360), frame.format.encoding)
        last = finder.look(kept, None, rows, number / RATE)
    assert last.ceiling is not None


@pytest.mark.parametrize("controls", [
    {"nd": 2.0, "ceiling": 83.0}, {"nd": 0.0, "ceiling": 94.0}, {"nd": 1.0, "layout": "yuv422p10le"},
    {"nd": 3.0, "ceiling": None}, {"nd": 1.0, "curve": "acescct"},
])  # fmt: skip
def test_the_boathouse_against_its_own_truth(controls: dict) -> None:
    renderer = Renderer(SceneControls(**{"width": 640, "height": 360, "layout": "yuv422p"} | controls))
    watch = Watch(renderer.format.encoding.bits)
    limit = controls.get("ceiling") or (254 - 16) / 2.19
    shares = renderer.truth(0.0, clip=limit - 0.1).clipped
    clips = shares.any > 0.05 and controls.get("curve") is None
    last = EndsFound()
    for number in range(12):
        picture = renderer.picture(number / RATE, number)
        frame = plain.frame_of(
            tuple(p.copy() for p in picture.planes), renderer.format.layout, 640, 360, sequence=number
        )
        last = look(watch.finder, frame, number / RATE)
    assert (last.ceiling is not None) == clips
    if last.ceiling is not None:
        assert last.ceiling.level == pytest.approx(limit, abs=1.0)
        assert last.ceiling.share == pytest.approx(shares.luma, rel=0.5)


class TestClipLevel:
    """Which level counts as clipped."""

    def test_the_range_without_a_ceiling(self) -> None:
        assert clip_level_from(None, ENCODING) == ClipLevel(level=100.0, by="narrow")
        full = Encoding(bits=8, range="full", matrix="bt709")
        assert clip_level_from(None, full) == ClipLevel(level=100.0, by="full")

    @pytest.mark.parametrize("level", [99.8, 100.0, 105.0, 109.1])
    def test_a_ceiling_does_not_raise_it(self, level: float) -> None:
        assert clip_level_from(SignalEnd(level=level, share=1.0), ENCODING).by == "narrow"

    def test_a_ceiling_lowers_it(self) -> None:
        found = clip_level_from(SignalEnd(level=75.6, share=1.0), ENCODING)
        assert found.by == "ceiling"
        assert 74.5 < found.level < 75.6

    def test_it_does_not_tremble_and_does_move(self) -> None:
        before = clip_level_from(SignalEnd(level=94.0, share=1.0), ENCODING)
        for level in (93.8, 94.3, 94.0, 93.6):
            assert clip_level_from(SignalEnd(level=level, share=1.0), ENCODING, before) is before
        moved = clip_level_from(SignalEnd(level=88.3, share=1.0), ENCODING, before)
        assert moved.level == pytest.approx(87.7)
        assert clip_level_from(None, ENCODING, moved).by == "narrow"


def test_counts_of_another_depth_are_refused() -> None:
    rows = Samples(luma=np.zeros((4, 8), np.int16), rgb=None, bits=8)
    with pytest.raises(ValueError, match="256 codes"):
        EndFinder(8, "narrow").look(np.zeros(1024), None, rows, 0.0)
    with pytest.raises(ValueError, match="1024 codes"):
        EndFinder(10, "narrow").look(np.zeros(1024), np.zeros((3, 256)), rows, 0.0)


def test_given_counts_of_channels_do_as_well_as_counted_samples() -> None:
    shot = Shot(name="window", share=4.0, level=94.0, tint=(1.0, 0.55, 0.3), over=0.3)
    finder, last = EndFinder(8, "narrow"), EndsFound()
    for number, frame in enumerate(frames(shot, 10)):
        codes = np.clip(plain.rgb_codes(frame), 0, 255)
        counts = np.array([np.bincount(channel.ravel(), minlength=256) for channel in codes]).astype(float)
        rows = samples_of(frame, (0, 0, 640, 360), frame.format.encoding)
        last = finder.look(luma_counts(frame), counts, rows, number / RATE)
    assert last.ceiling is None or abs(last.ceiling.level - 94.0) < 1.2


@settings(max_examples=60, deadline=None)
@given(data=st.data(), bits=st.sampled_from([8, 10, 12]), span=st.sampled_from(["narrow", "full"]))
def test_whatever_is_shown(data: st.DataObject, bits: int, span: str) -> None:
    finder, depth, now = EndFinder(bits, span), min(bits, 10), 0.0
    dice = np.random.default_rng(data.draw(st.integers(0, 99)))
    for _ in range(data.draw(st.integers(1, 6))):
        rows, columns = data.draw(st.integers(0, 6)), data.draw(st.integers(0, 30))
        top = data.draw(st.integers(0, (1 << depth) - 1))
        luma = np.minimum(dice.integers(0, 1 << depth, (rows, columns)), top).astype(np.int16)
        rgb = (
            dice.integers(0, 1 << depth, (3, rows, columns // 2)).astype(np.int16) if data.draw(st.booleans()) else None
        )
        spikes = data.draw(hnp.arrays(np.int64, 8, elements=st.integers(0, (1 << bits) - 1)))
        counts = np.bincount(spikes, minlength=1 << bits) * float(data.draw(st.integers(0, 10**7)))
        given_counts = np.tile(counts, (3, 1)) if data.draw(st.booleans()) else None
        now += data.draw(st.floats(-1.0, 100.0))
        found = finder.look(counts, given_counts, Samples(luma=luma, rgb=rgb, bits=depth), now)
        for end in (found.ceiling, found.floor):
            assert end is None or (np.isfinite(end.level) and 0.0 <= end.share <= 100.0)
