"""Frames as a whole: repeatable by seed, and no more memory a frame than its planes."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest

from analysis.feed.pool import FramePool
from analysis.feed.scene import renderer as renderer_module
from analysis.feed.scene.controls import SceneControls
from analysis.feed.scene.renderer import Renderer
from analysis.model.errors import UsageError

SMALL = {"width": 160, "height": 90}


def frames(seed: int, numbers: tuple[int, ...]) -> list[np.ndarray]:
    made = Renderer(SceneControls(**SMALL, seed=seed))
    return [made.picture(n / 25.0, n).planes[0].copy() for n in numbers]


def test_a_seed_gives_the_same_frames_again() -> None:
    for one, two in zip(frames(5, (0, 1, 30)), frames(5, (0, 1, 30)), strict=True):
        np.testing.assert_array_equal(one, two)


def test_frames_do_not_depend_on_what_was_rendered_before() -> None:
    np.testing.assert_array_equal(frames(5, (30,))[0], frames(5, (0, 7, 12, 30))[-1])


def test_another_seed_gives_other_noise() -> None:
    assert np.mean(frames(5, (0,))[0] != frames(6, (0,))[0]) > 0.3


def test_only_noise_differs_between_neighbours_when_nothing_moves() -> None:
    made = Renderer(SceneControls(**SMALL, clouds=False, sway=False))
    a, b = (made.picture(0.0, n).planes[0].astype(int) for n in (0, 1))
    assert not np.array_equal(a, b)
    assert abs((a - b).mean()) < 0.1
    assert np.abs(a - b).max() < 20


def test_without_noise_a_still_scene_is_still() -> None:
    made = Renderer(SceneControls(**SMALL, clouds=False, sway=False, noise=False))
    np.testing.assert_array_equal(made.picture(0.0, 0).planes[0], made.picture(9.0, 225).planes[0])


@pytest.mark.parametrize("noise", [True, False])
def test_steady_running_takes_no_new_planes(noise: bool) -> None:
    pool = FramePool()
    made = Renderer(SceneControls(width=640, height=360, noise=noise), pool)
    for n in range(220):
        pool.give(made.picture(n / 25.0, n).planes)
    tracemalloc.start()
    before = tracemalloc.get_traced_memory()[0]
    for n in range(40):
        pool.give(made.picture(n / 25.0, n).planes)
    grown = tracemalloc.get_traced_memory()[0] - before
    tracemalloc.stop()
    assert grown < 200_000


def test_the_slower_look_up_gives_the_same_picture(monkeypatch: pytest.MonkeyPatch) -> None:
    """An OpenCV without look-up by 16-bit index leaves it to NumPy."""
    fast = frames(3, (0,))[0]
    monkeypatch.setattr(renderer_module, "_BY_OPENCV", False)
    np.testing.assert_array_equal(frames(3, (0,))[0], fast)


def test_controls_that_cannot_be_are_refused() -> None:
    with pytest.raises(UsageError, match="out of range"):
        Renderer(SceneControls(iso=0.0))


def test_truth_knows_where_the_sitter_has_gone() -> None:
    made = Renderer(SceneControls(width=640, height=360, clouds=False))
    boxes = {made.truth(t).regions["cheek"].box for t in np.arange(0.0, 8.0, 0.25)}
    assert len(boxes) > 2
    assert len({made.truth(t).regions["card"].box for t in (0.0, 2.0)}) == 1
