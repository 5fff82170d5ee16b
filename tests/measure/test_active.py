"""The active picture: bars found, dark scenes left alone, and both without flicker."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.measure.active import FRAMES_TO_BELIEVE, FRAMES_TO_GIVE_UP
from analysis.measure.meter import Meter
from analysis.measure.meter_settings import MeterSettings
from analysis.model.instant import Instant
from tests.measure import plain

WIDTH, HEIGHT = 320, 180
WHOLE = (0, 0, WIDTH, HEIGHT)


class Feed:
    """Measures luma planes one after the other and remembers the active pictures."""

    def __init__(self, **wish) -> None:
        self.meter = Meter(MeterSettings(view=False, **wish))
        self.rng = np.random.default_rng(4)
        self.last = None

    def show(self, luma: np.ndarray, frames: int = 1, noise: float = 0.0) -> tuple[int, int, int, int]:
        for _ in range(frames):
            codes = luma + self.rng.normal(0, noise, luma.shape) if noise else luma
            planes = (
                np.clip(np.round(codes), 1, 254).astype(np.uint8),
                np.full((HEIGHT // 2, WIDTH // 2), 128, np.uint8),
                np.full((HEIGHT // 2, WIDTH // 2), 128, np.uint8),
            )
            frame = plain.frame_of(planes, "yuv420p", WIDTH, HEIGHT)
            self.last = self.meter.measure(frame, None, Instant(0.0, 0.0)).reading
        return self.last.picture.active


def scene(top: int = 0, bottom: int = 0, left: int = 0, right: int = 0, level: float = 120.0) -> np.ndarray:
    """A grey gradient with black bars."""
    luma = np.full((HEIGHT, WIDTH), 16.0)
    down, along = np.mgrid[0:HEIGHT, 0:WIDTH]
    picture = level + 0.1 * level * np.sin(down / 9 + along / 13)
    inside = np.s_[top : HEIGHT - bottom, left : WIDTH - right]
    luma[inside] = picture[inside]
    return luma


@pytest.mark.parametrize(
    "bars,active",
    [
        (scene(24, 24), (0, 24, 320, 132)),
        (scene(left=40, right=40), (40, 0, 240, 180)),
        (scene(20, 20, 30, 30), (30, 20, 260, 140)),
        (scene(left=109, right=109), (110, 0, 100, 180)),
        (scene(23, 24), (0, 24, 320, 132)),
    ],
    ids=["letterbox", "pillarbox", "both", "upright picture", "odd rows cut to whole groups"],
)
@pytest.mark.parametrize("noise", [0.0, 2.0], ids=["clean", "two codes of coding noise"])
def test_bars_are_left_out_after_some_frames(bars, active, noise) -> None:
    coded = np.where(bars > 16, bars, 16 + noise * (np.indices(bars.shape).sum(axis=0) % 2))
    feed = Feed()
    assert feed.show(coded, FRAMES_TO_BELIEVE - 1) == WHOLE
    assert feed.show(coded) == active
    assert feed.show(bars, 5) == active


def test_the_numbers_are_of_the_active_picture() -> None:
    feed = Feed()
    feed.show(scene(24, 24), FRAMES_TO_BELIEVE)
    expected = np.percentile(np.round(scene(24, 24))[24:156], [1, 50])
    assert [feed.last.luma.p1, feed.last.luma.p50] == pytest.approx(plain.percent(expected, 8, "narrow"))
    assert feed.last.crushed.luma == 0.0
    assert Feed(active_picture=False).show(scene(24, 24), 20) == WHOLE


def test_a_dark_scene_without_bars_is_never_cut() -> None:
    night = np.full((HEIGHT, WIDTH), 16.0)
    night[70:110, 120:200] = 60.0
    lamp = np.full((HEIGHT, WIDTH), 17.0)
    lamp[88:92, 158:162] = 200.0
    vignette = 16 + 60 * np.exp(
        -(((np.mgrid[0:HEIGHT, 0:WIDTH] - np.array([90, 160])[:, None, None]) / 45) ** 2).sum(0)
    )
    for picture in (night, lamp, vignette):
        for noise in (0.0, 2.0):
            assert Feed().show(picture, 60, noise) == WHOLE


@pytest.mark.parametrize(
    "picture",
    [scene(24), scene(40, 8), scene(1, 1), scene(80, 80), np.full((HEIGHT, WIDTH), 16.0), scene(24, 24) + 20],
    ids=["one side only", "unequal", "below one percent", "most of the picture", "all black", "bars not black"],
)
def test_what_is_no_bars(picture) -> None:
    assert Feed().show(picture, 60) == WHOLE


def test_uneven_black_is_no_bar() -> None:
    """Camera black with texture around 0 IRE, also below it: dark enough for a bar, too alive for one."""
    textured = scene(24, 24)
    texture = 6.0 + 14.0 * (np.indices(textured.shape).sum(axis=0) % 2)  # codes 6 and 20
    assert Feed().show(np.where(textured > 16, textured, texture), 60) == WHOLE


def test_bars_stay_through_a_dark_passage_and_a_fade() -> None:
    feed = Feed()
    cut = feed.show(scene(24, 24), FRAMES_TO_BELIEVE)
    for level in (60.0, 30.0, 18.0, 16.0, 16.0, 18.0, 40.0, 120.0):
        assert feed.show(scene(24, 24, level=level), 10) == cut


def test_bars_are_given_up_when_light_shows_in_them() -> None:
    feed = Feed()
    cut = feed.show(scene(24, 24), FRAMES_TO_BELIEVE)
    assert feed.show(scene(), FRAMES_TO_GIVE_UP - 1) == cut
    assert feed.show(scene()) == WHOLE
    assert feed.show(scene(24, 24), FRAMES_TO_BELIEVE - 1) == WHOLE


def test_a_flash_does_not_shake_them() -> None:
    feed = Feed()
    cut = feed.show(scene(24, 24), FRAMES_TO_BELIEVE)
    for _ in range(10):
        assert feed.show(scene(0, 0)) == cut
        assert feed.show(scene(24, 24), 4) == cut


def test_larger_bars_replace_smaller_ones() -> None:
    feed = Feed()
    feed.show(scene(12, 12), FRAMES_TO_BELIEVE)
    assert feed.show(scene(24, 24), FRAMES_TO_BELIEVE + 1) == (0, 24, 320, 132)


def test_a_change_of_format_forgets_the_bars() -> None:
    feed = Feed()
    feed.show(scene(24, 24), FRAMES_TO_BELIEVE)
    other = plain.frame_of((np.full((180, 320), 120, np.uint8),), "gray", 320, 180)
    assert feed.meter.measure(other, None, Instant(0.0, 0.0)).reading.picture.active == WHOLE
    assert feed.show(scene(24, 24)) == WHOLE


@pytest.mark.parametrize("name", ["gbrp", "gray10le", "yuyv422"])
def test_bars_in_other_layouts(name: str) -> None:
    level, black = {"gbrp": (200, 0), "gray10le": (400, 64), "yuyv422": (128, 16)}[name]
    meter = Meter()
    for _ in range(FRAMES_TO_BELIEVE):
        if name == "yuyv422":
            plane = np.full((100, 400), 128, np.uint8)
            plane[:, ::2] = black
            plane[20:80, ::2] = level
            planes = (plane,)
        else:
            dtype = np.uint16 if name == "gray10le" else np.uint8
            one = np.full((100, 200), black, dtype)
            one[20:80] = level
            planes = tuple(one.copy() for _ in range(3 if name == "gbrp" else 1))
        frame = plain.frame_of(planes, name, 200, 100, "full" if name == "gbrp" else "narrow")
        reading = meter.measure(frame, None, Instant(0.0, 0.0)).reading
    assert reading.picture.active == (0, 20, 200, 60)
