"""The tools the scene is painted with."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.feed.scene.canvas import LIGHTS, Canvas, grain


def test_coordinates_are_heights_from_the_middle() -> None:
    canvas = Canvas(200, 100)
    assert canvas.pixel(0.0, 0.0) == (100.0, 0.0)
    assert canvas.pixel(-1.0, 1.0) == (0.0, 100.0)
    whole = canvas.everything()
    assert float(whole.x[0, 0]) == pytest.approx(-0.995)
    assert float(whole.y[-1, 0]) == pytest.approx(0.995)


def test_a_box_covers_its_own_area() -> None:
    """OpenCV's smooth edges lie outside the polygon: up to a pixel around."""
    canvas = Canvas(400, 200)
    patch = canvas.box(-0.5, 0.25, 0.5, 0.75)
    assert 200 * 100 <= patch.mask.sum() <= 202 * 102
    assert patch.mask.max() == 1.0


@pytest.mark.parametrize("radius", [0.1, 0.25, 0.4])
def test_an_ellipse_covers_pi_a_b(radius: float) -> None:
    canvas = Canvas(400, 400)
    patch = canvas.ellipse(0.0, 0.5, radius, radius * 0.8, 0.01)
    assert patch.mask.sum() == pytest.approx(np.pi * radius * radius * 0.8 * 400**2, rel=0.02)


def test_edges_are_smooth() -> None:
    canvas = Canvas(100, 100)
    mask = canvas.polygon([(-0.31, 0.2), (0.3, 0.27), (0.1, 0.8)]).mask
    assert np.count_nonzero((mask > 0.05) & (mask < 0.95)) > 50


def test_a_polygon_may_lie_outside() -> None:
    canvas = Canvas(40, 40)
    for points in ([(5.0, 0.1), (6.0, 0.1), (6.0, 0.9)], [(-0.1, -3.0), (0.1, -3.0), (0.1, -2.0)]):
        canvas.lay(canvas.polygon(points), (1.0, 1.0, 1.0), sky=1.0)
    assert canvas.cover.max() == 0.0
    assert canvas.reflectance.max() == 0.0


def test_a_layer_covers_what_lay_before_in_the_share_of_its_mask() -> None:
    canvas = Canvas(20, 20)
    canvas.lay(canvas.everything(), (0.2, 0.2, 0.2), sky=1.0, lamp=0.5)
    canvas.lay(canvas.everything().faded(0.25), (0.6, 0.6, 0.6), sky=3.0)
    np.testing.assert_allclose(canvas.reflectance, 0.3, rtol=1e-5)
    np.testing.assert_allclose(canvas.light["sky"], 1.5, rtol=1e-5)
    np.testing.assert_allclose(canvas.light["lamp"], 0.5, rtol=1e-5)


def test_shade_tint_and_shine() -> None:
    canvas = Canvas(20, 20)
    everything = canvas.everything()
    canvas.lay(everything, (0.2, 0.2, 0.2), sky=1.0, sun=2.0)
    canvas.shade(everything, 0.5)
    canvas.tint(everything, 0.5)
    canvas.shine(everything, sun=1.0)
    np.testing.assert_allclose(canvas.reflectance, 0.1, rtol=1e-5)
    np.testing.assert_allclose(canvas.light["sky"], 0.5, rtol=1e-5)
    np.testing.assert_allclose(canvas.light["sun"], 2.0, rtol=1e-5)


def test_softening_keeps_the_sum_of_light() -> None:
    canvas = Canvas(101, 101)
    canvas.lay(canvas.everything(), (0.1, 0.1, 0.1))
    canvas.shine(canvas.ellipse(0.0, 0.5, 0.05, 0.05), sky=1.0)
    before, peak = float(canvas.light["sky"].sum()), float(canvas.light["sky"].max())
    canvas.soften(0.05)
    assert float(canvas.light["sky"].sum()) == pytest.approx(before, rel=1e-3)
    assert float(canvas.light["sky"].max()) < 0.8 * peak


@given(
    width=st.integers(1, 60), height=st.integers(1, 60), x=st.floats(-3, 3), y=st.floats(-2, 3), r=st.floats(0.001, 2)
)
def test_painting_anywhere_at_any_size_is_safe(width: int, height: int, x: float, y: float, r: float) -> None:
    canvas = Canvas(width, height, 0.3)
    canvas.lay(canvas.ellipse(x, y, r, r / 2), (0.5, 0.5, 0.5), **dict.fromkeys(LIGHTS, 1.0))
    canvas.lay(canvas.box(x, y, x + r, y + r, 0.01), (0.5, 0.5, 0.5), sky=1.0)
    assert canvas.reflectance.min() >= 0.0 and canvas.reflectance.max() <= 0.5 + 1e-5
    assert canvas.cover.min() >= 0.0 and canvas.cover.max() <= 1.0 + 1e-5


def test_grain_is_even_and_repeatable() -> None:
    one, two = grain((200, 300), 60, 40, 7), grain((200, 300), 60, 40, 7)
    np.testing.assert_array_equal(one, two)
    assert abs(float(one.mean())) < 0.1
    assert 0.5 < float(one.std()) < 1.1
    assert not np.array_equal(one, grain((200, 300), 60, 40, 8))
    assert grain((0, 5), 3, 3, 1).shape == (0, 5)
