"""The painted scene and its palette: nothing lost in the sorting, every pose whole, any size."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.feed.scene import palette
from analysis.feed.scene import stage as stage_module
from analysis.feed.scene.canvas import Canvas
from analysis.feed.scene.lights import LightLevels
from analysis.feed.scene.stage import Stage
from tests.feed.scene.pictures import STILL, renderer

GREY = LightLevels(sky=1.0, sun=0.0, lamp=0.0)
ALL = LightLevels(sky=1.0, sun=1.0, lamp=1.0)


@pytest.fixture(scope="module")
def stage() -> Stage:
    return Stage(480, 270, "intermediate")


@pytest.mark.parametrize("levels,worst", [(GREY, 0.02), (ALL, 0.15)])
def test_sorting_into_kinds_changes_no_pixel_much(levels: LightLevels, worst: float) -> None:
    """Against the light before sorting: a hundredth of a stop by lake light, and the mean kept exactly."""
    rng = np.random.default_rng(4)
    base = np.exp2(rng.uniform(-7.0, 1.0, (60, 80, 1))).astype(np.float32)
    pixels = np.stack([base * (0.6, 0.5, 0.4), base * (0.1, 0.08, 0.06), base * (0.02, 0.014, 0.008)]).astype(
        np.float32
    )
    made, index = palette.build(pixels)
    before = np.tensordot([levels.sky, levels.sun, levels.lamp], pixels, axes=1)
    after = np.moveaxis(made.under(levels)[:, index], 0, -1)
    assert np.abs(np.log2(after / before)).max() < worst
    np.testing.assert_allclose(after.mean(axis=(0, 1)), before.mean(axis=(0, 1)), rtol=1e-4)


def test_a_pixel_of_the_palette_finds_itself() -> None:
    pixels = np.random.default_rng(1).uniform(0.01, 1.0, (3, 30, 40, 3)).astype(np.float32)
    made, index = palette.build(pixels)
    np.testing.assert_array_equal(made.index(pixels), index)


def test_more_colours_than_fit_are_merged() -> None:
    pixels = np.random.default_rng(2).uniform(0.001, 1.0, (3, 300, 400, 3)).astype(np.float32)
    made, index = palette.build(pixels)
    assert made.kinds <= 65536
    assert index.dtype == np.uint16
    assert int(index.max()) < made.kinds


def test_the_card_is_even_and_eighteen_percent(stage: Stage) -> None:
    left, top, right, bottom = stage.box("card")
    light = stage.palette.under(GREY)[:, stage.index()[top:bottom, left:right]]
    luminance = np.tensordot([0.2126, 0.7152, 0.0722], light, axes=1)
    np.testing.assert_allclose(luminance, 0.18, rtol=0.01)


def test_poses_move_the_sitter_and_nothing_else(stage: Stage) -> None:
    rest, moved = stage.index(), stage.index(3, 2)
    light = stage.palette.under(GREY)[1]
    assert np.array_equal(rest[:, :180], moved[:, :180])
    face = np.s_[85:115, 315:355]
    shifted = np.s_[87:117, 318:358]
    assert np.mean(light[rest[face]] == light[moved[shifted]]) > 0.99


def test_a_pose_that_comes_back_is_the_same_picture(stage: Stage) -> None:
    once = stage.index(1, 1).copy()
    stage.index(0, 0)
    np.testing.assert_array_equal(stage.index(1, 1), once)
    assert not stage.index(1, 1).flags.writeable


@pytest.mark.parametrize("move", [(0, 0), (5, -5), (-400, 0), (0, 400)])
def test_boxes_stay_in_the_picture(stage: Stage, move: tuple[int, int]) -> None:
    for name in stage.regions:
        left, top, right, bottom = stage.box(name, *move)
        assert left >= 0 and top >= 0 and right <= 480 and bottom <= 270


@pytest.mark.parametrize("size", [(1, 1), (2, 2), (5, 3), (64, 36), (200, 40), (40, 200), (333, 177)])
def test_any_size_can_be_painted(size: tuple[int, int]) -> None:
    made = renderer(**STILL, width=size[0], height=size[1], layout="gray")
    assert made.picture(0.0, 0).planes[0].shape == (size[1], size[0])
    assert made.truth(0.0).clipped.any <= 100.0


def test_large_pictures_are_painted_smaller_and_enlarged(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(stage_module, "LARGEST_CANVAS", 480 * 270)
    big = Stage(960, 540, "intermediate")
    assert big.enlarged == 2
    assert big.reach() == (480, 270)
    index = big.index(2, 1)
    assert index.shape == (540, 960)
    np.testing.assert_array_equal(index[::2, ::2], index[1::2, 1::2])
    left, top, right, bottom = big.box("card")
    assert right - left > 20 and bottom - top > 20
    assert len(np.unique(index[top:bottom, left:right])) < 20


def test_an_upright_picture_keeps_the_sitter_in_it() -> None:
    truth = renderer(**STILL, width=180, height=320, layout="gray").truth(0.0)
    for name in ("forehead", "cheek", "shade-cheek"):
        left, top, right, bottom = truth.regions[name].box
        assert 20 < left < right < 160
        assert top < bottom < 200


def test_soft_edges_have_no_dark_seam() -> None:
    """The first layer on an empty canvas has its own colour right up to its soft edge."""
    canvas = Canvas(60, 60)
    canvas.lay(canvas.ellipse(0.0, 0.5, 0.3, 0.3, 0.2), (0.5, 0.5, 0.5), sky=1.0)
    touched = canvas.cover > 0.01
    assert np.mean((canvas.cover > 0.05) & (canvas.cover < 0.95)) > 0.02
    np.testing.assert_allclose(canvas.reflectance[touched], 0.5, rtol=1e-3)
    np.testing.assert_allclose(canvas.light["sky"][touched], 1.0, rtol=1e-3)


def test_the_lamp_lights_the_hull_and_not_the_lake() -> None:
    made = renderer(**STILL, width=480, height=270)
    dark, lit = made.truth(0.0, GREY).regions, made.truth(0.0, LightLevels(sky=1.0, sun=0.0, lamp=1.0)).regions
    assert lit["lamp"].stops - dark["lamp"].stops > 4.0
    assert lit["lake"].stops == pytest.approx(dark["lake"].stops, abs=0.01)
    assert lit["card"].stops == pytest.approx(dark["card"].stops, abs=0.01)
