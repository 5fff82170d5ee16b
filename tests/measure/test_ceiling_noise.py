"""Texture in a pile-up against the texture that noise would put there."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.measure.ceiling_noise import Texture, texture
from analysis.measure.pileup import Pileup

DICE = np.random.default_rng(5)


def pile(code: int, half: int = 1) -> Pileup:
    return Pileup(code=code, low=code - half, high=code + half, share=0.2, beyond=0.0, contrast=9.0)


def rows(level: float, sigma: float, count: int = 40, width: int = 200) -> np.ndarray:
    return np.rint(level + DICE.normal(0, sigma, (count, width))).astype(np.int16) if sigma else np.full(
        (count, width), round(level), np.int16
    )  # fmt: skip


def test_a_limit_in_a_noisy_picture_is_still() -> None:
    found = texture(np.hstack([rows(200, 0), rows(185, 1.5), rows(150, 1.5)]), pile(200), 1.0)
    assert found.inside == 0.0
    assert found.expected is not None and found.expected > 0.5
    assert found.still


def test_a_white_wall_is_not() -> None:
    found = texture(np.hstack([rows(200, 1.5), rows(185, 1.5), rows(150, 1.5)]), pile(200), 1.0)
    assert found.inside is not None and found.inside > 0.3
    assert not found.still


def test_a_picture_without_noise_shows_nothing() -> None:
    found = texture(np.hstack([rows(200, 0), rows(150, 0), rows(90, 0)]), pile(200), 1.0)
    assert found.elsewhere == 0.0
    assert found.expected is None
    assert not found.still


def test_noise_that_falls_towards_the_highlights_is_not_expected_to_stay() -> None:
    # As in a log curve: half the noise every 25 codes. At the level it would be invisible.
    falling = np.hstack([rows(200, 0), rows(180, 0.5), rows(150, 1.2)])
    assert texture(falling, pile(200), 1.0).expected is None
    assert texture(falling, pile(200), 1.0, even=True).expected is not None


def test_far_below_alone_shows_less_than_near() -> None:
    near = texture(np.hstack([rows(200, 0), rows(188, 1.5)]), pile(200), 1.0)
    far = texture(np.hstack([rows(200, 0), rows(120, 1.5)]), pile(200), 1.0)
    assert near.expected is not None
    assert far.expected is None or far.expected < near.expected


def test_ten_bits_see_noise_that_eight_do_not() -> None:
    fine = np.hstack([rows(800, 0), rows(750, 0.9), rows(700, 0.9)])
    assert texture(fine, pile(800, 3), 4.0).still
    coarse = (fine // 4).astype(np.int16)
    assert not texture(coarse, pile(200), 1.0).still


@pytest.mark.parametrize("shape", [(0, 50), (3, 0), (3, 1), (3, 3), (1, 4)])
def test_too_little_to_judge(shape: tuple[int, int]) -> None:
    found = texture(np.full(shape, 200, np.int16), pile(200), 1.0)
    assert found == Texture(inside=None, expected=None, elsewhere=0.0)


def test_edges_do_not_count() -> None:
    """Stripes of two levels far apart: no pair within the width of a pile-up crosses an edge."""
    stripes = np.tile(np.repeat(np.array([60, 200], np.int16), 10), (20, 10))
    found = texture(stripes, pile(200), 1.0)
    assert (found.inside, found.elsewhere) == (0.0, 0.0)
