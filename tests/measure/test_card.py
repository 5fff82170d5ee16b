"""One step of the card: level to a fraction of a code, noise of two frames, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.measure.card import CardArea, CardView, read_step, see_card
from analysis.model.errors import Unmeasurable, UsageError
from analysis.model.frame import Encoding, Frame, FrameFormat, Plane
from analysis.model.instant import Instant
from analysis.signal.levels import percent
from tests.measure.card_scenes import controls, views

NARROW = Encoding(bits=8, range="narrow", matrix="bt709")
RANDOM = np.random.default_rng(7)


def view(luma: Plane, **more: object) -> CardView:
    return CardView(luma=luma, rgb=None, bits=8, encoding=NARROW, **more)  # type: ignore[arg-type]


def noisy(mean: float, sigma: float, frames: int = 8, pattern: float = 0.0) -> list[CardView]:
    still = mean + pattern * RANDOM.standard_normal((200, 200))
    drawn = [still + sigma * RANDOM.standard_normal(still.shape) for _ in range(frames)]
    return [view(np.clip(np.floor(each + 0.5), 0, 255).astype(np.uint8)) for each in drawn]


def test_two_frames_show_the_noise_and_not_the_pattern() -> None:
    """ISO 15739: pattern 3, noise 2 codes, rounded to 8 bits, give sqrt(4 + 1/12) = 2.0207 (computed)."""
    found = read_step(0.0, noisy(120.0, 2.0, frames=2, pattern=3.0))
    assert found.noise * 219 == pytest.approx(2.0207, abs=0.04)
    more = read_step(0.0, noisy(120.0, 2.0, frames=9, pattern=3.0))
    assert more.noise * 219 == pytest.approx(2.0207, abs=0.015)


@pytest.mark.parametrize("mean", [100.0, 100.25, 100.5, 100.8])
@pytest.mark.parametrize("sigma", [0.6, 2.0])
def test_the_level_is_finer_than_a_code(mean: float, sigma: float) -> None:
    found = read_step(0.0, noisy(mean, sigma))
    assert 100 * found.level == pytest.approx(percent(mean, 8, "narrow"), abs=0.02)


def test_the_level_is_of_the_median_light() -> None:
    """Through a log, noise of one third of the light lifts no median, but lowers a mean by 0.09 stops (computed)."""
    light = np.maximum(1.0 + RANDOM.standard_normal((8, 200, 200)) / 3.0, 1e-3)
    codes = np.clip(np.floor(100 + 20 * np.log2(light) + 0.5), 0, 255).astype(np.uint8)
    found = read_step(0.0, [view(each) for each in codes])
    assert 100 * found.level == pytest.approx(percent(100, 8, "narrow"), abs=0.03)
    assert 100 - codes.mean() > 1.5


def test_light_that_wanders_shows_as_drift_and_not_as_noise() -> None:
    frames = [view(each.luma + np.uint8(3 * (i % 2))) for i, each in enumerate(noisy(100.0, 1.0))]
    found = read_step(0.0, frames)
    assert found.drift * 219 == pytest.approx(3.0, abs=0.1)
    assert found.noise * 219 == pytest.approx(1.04, abs=0.03)


def test_repeated_frames_are_refused() -> None:
    frames = noisy(100.0, 2.0, frames=3)
    with pytest.raises(Unmeasurable) as caught:
        read_step(2.0, [*frames, frames[-1]])
    assert caught.value.line() == (
        "step +2: frame 4 is the same picture as the one before, so noise cannot be measured;"
        " use a feed that neither repeats nor smooths its frames, or --without-noise"
    )


def test_without_noise_one_picture_is_enough() -> None:
    frames = noisy(100.0, 2.0, frames=1) * 3
    found = read_step(2.0, frames, noise=False)
    assert found.noise is None and 100 * found.level == pytest.approx(percent(100, 8, "narrow"), abs=0.02)
    assert read_step(2.0, frames[:1], noise=False).level == found.level
    with pytest.raises(Unmeasurable, match="0 frames"):
        read_step(2.0, [], noise=False)


def test_a_full_sensor_may_stay_the_same() -> None:
    full = np.full((30, 30), 235, np.uint8)
    found = read_step(6.0, [view(full)] * 4)
    assert found.level == 1.0 and found.noise == 0.0
    assert read_step(7.0, views(controls(8, ceiling=94.0), 7.0)).noise == 0.0


@pytest.mark.parametrize("count", [0, 1])
def test_too_few_frames(count: int) -> None:
    with pytest.raises(Unmeasurable, match=f"step -1: {count} frames do not show noise; give it 2 or more"):
        read_step(-1.0, noisy(100.0, 2.0)[:count])


def test_a_change_of_form_is_refused() -> None:
    small = view(np.zeros((20, 20), np.uint8))
    with pytest.raises(Unmeasurable, match="the form of the picture changes"):
        read_step(0.0, [*noisy(100.0, 2.0, 2), small])


WIDTH, HEIGHT = 64, 32


def frame(layout: str, planes: tuple[Plane, ...], bits: int = 8, matrix: str = "bt709") -> Frame:
    encoding = Encoding(bits=bits, range="narrow", matrix=matrix)  # type: ignore[arg-type]
    shape = FrameFormat(layout=layout, width=WIDTH, height=HEIGHT, encoding=encoding)
    return Frame(planes=planes, format=shape, instant=Instant(0.0, 0.0), generation=1, sequence=0)


def full(rows: int, columns: int, code: int, wide: bool = False) -> Plane:
    return np.full((rows, columns), code, np.uint16 if wide else np.uint8)


AREA = CardArea(x=0.25, y=0.25, width=0.5, height=0.5)


@pytest.mark.parametrize(
    "given,luma",
    [
        # 75 % red of BT.709: Y 51, Cb 109, Cr 212 (8 bit), 204, 435, 848 (10 bit); R'G'B' 75, 0, 0 (computed).
        (frame("yuv420p", (full(32, 64, 51), full(16, 32, 109), full(16, 32, 212))), 51),
        (frame("nv12", (full(32, 64, 51), np.tile(np.array([109, 212], np.uint8), (16, 32)))), 51),
        (frame("yuyv422", (np.tile(np.array([51, 109, 51, 212], np.uint8), (32, 32)),)), 51),
        (
            frame(
                "p010le",
                (full(32, 64, 204 << 6, True), np.tile(np.array([435 << 6, 848 << 6], np.uint16), (16, 32))),
                10,
            ),
            204,
        ),
        (frame("rgb24", (np.tile(np.array([180, 16, 16], np.uint8), (32, 64)),), matrix="rgb"), 51),
        (frame("bgr24", (np.tile(np.array([16, 16, 180], np.uint8), (32, 64)),), matrix="rgb"), 51),
    ],
    ids=lambda value: value.format.layout if isinstance(value, Frame) else "",
)
def test_every_kind_of_layout(given: Frame, luma: int) -> None:
    seen = see_card(given, AREA)
    assert seen.luma.shape == (16, 32) and np.all(seen.luma == luma)
    assert seen.rgb == pytest.approx((0.75, 0.0, 0.0), abs=0.004)
    seen.luma[:] = 0
    assert not np.all(given.planes[0] == 0), "the frame's own planes are left alone"


def test_grey_has_no_colour() -> None:
    seen = see_card(frame("gray", (full(32, 64, 126),)), AREA)
    assert seen.rgb is None and read_step(0.0, [seen, seen]).rgb is None


@pytest.mark.parametrize(
    "area,says",
    [
        (CardArea(x=0.9, y=0.4, width=0.2, height=0.2), "the card does not lie inside the 64x32 picture"),
        (CardArea(x=60, y=0, width=30, height=30, in_pixels=True), "does not lie inside"),
        (CardArea(x=0.4, y=0.4, width=0.05, height=0.05), "the card is too small to measure; cover 64 pixels"),
        (CardArea(x=0.1, y=0.1, width=0.001, height=0.001), "does not lie inside"),
    ],
)
def test_areas_that_cannot_be(area: CardArea, says: str) -> None:
    with pytest.raises(UsageError, match=says):
        see_card(frame("gray", (full(32, 64, 126),)), area)
