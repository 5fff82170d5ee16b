"""Densities as cells: nothing is lost or invented, dots stand where the level is, noise does not flicker."""

from __future__ import annotations

import unicodedata
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.tui.synthetic import BINS, LOW, STEP, density, picture
from tui.cells import DOTS, PictureCells, TraceCells, brightness, fit, pack, resample
from tui.palette import GREY_FIRST, GREY_STEPS


@given(st.integers(1, 60), st.integers(1, 60), st.integers(1, 90), st.integers(1, 90), st.integers(0, 9))
def test_resampling_keeps_every_count(strips: int, bins: int, columns: int, rows: int, seed: int) -> None:
    counts = np.random.default_rng(seed).integers(0, 50, (strips, bins)).astype(np.float32)
    got = resample(counts, columns, np.linspace(0, bins, rows + 1, dtype=np.float32))
    assert got.shape == (columns, rows)
    assert got.sum() == pytest.approx(counts.sum(), rel=1e-4, abs=1e-2)
    assert got.min() >= -1e-3


def test_resampling_whole_steps_equals_numpy_sums() -> None:
    counts = np.arange(12 * 8, dtype=np.float32).reshape(12, 8)
    got = resample(counts, 3, np.arange(0, 9, 2, dtype=np.float32))
    np.testing.assert_allclose(got, counts.reshape(3, 4, 4, 2).sum(axis=(1, 3)))


def test_what_lies_outside_the_scale_is_left_out() -> None:
    counts = np.ones((1, 10), np.float32)
    got = resample(counts, 1, np.array([-5, 0, 5, 15], np.float32))
    np.testing.assert_allclose(got, [[0, 5, 5]])


@given(st.integers(0, 255))
def test_braille_dots_are_the_ones_unicode_names(pattern: int) -> None:
    # Unicode names its braille characters by the dots they have: BRAILLE PATTERN DOTS-1256.
    place = {1: (0, 0), 2: (1, 0), 3: (2, 0), 4: (0, 1), 5: (1, 1), 6: (2, 1), 7: (3, 0), 8: (3, 1)}
    dots = [number for number in place if pattern >> (number - 1) & 1]
    lit = np.zeros((4, 2), bool)
    for number in dots:
        lit[place[number]] = True
    character = chr(pack(lit, "braille")[0, 0])
    expected = " " if not dots else unicodedata.lookup(f"BRAILLE PATTERN DOTS-{''.join(map(str, dots))}")
    assert character == expected


@pytest.mark.parametrize(
    ("upper", "lower", "name"),
    [(0, 0, "SPACE"), (1, 0, "UPPER HALF BLOCK"), (0, 1, "LOWER HALF BLOCK"), (1, 1, "FULL BLOCK")],
)
def test_half_blocks_are_the_ones_unicode_names(upper: int, lower: int, name: str) -> None:
    lit = np.array([[upper], [lower]], bool)
    assert unicodedata.name(chr(pack(lit, "blocks")[0, 0])) == name


def flat(level: float, columns: int = 80) -> np.ndarray:
    """Counts of a picture that has one level everywhere."""
    counts = np.zeros((columns, BINS), np.float32)
    counts[:, int((level - LOW) / STEP)] = 100
    return counts


@pytest.mark.parametrize("glyphs", ["braille", "blocks", "shade", "ascii"])
@pytest.mark.parametrize("level", [0.2, 18.4, 50.0, 99.6])
def test_a_flat_level_is_a_line_where_the_level_is(glyphs: str, level: float) -> None:
    rows = 24
    codes = TraceCells(glyphs).draw(flat(level), LOW, STEP, (40, rows), (-8.0, 112.0))
    lines, columns = np.nonzero(codes != 0x20)
    assert set(columns) == set(range(40)), "the line goes through every column"
    expected = (112.0 - level) / 120 * rows
    assert set(np.abs(lines + 0.5 - expected) < 1.0) == {True}


def test_ascii_and_shade_use_only_their_own_characters() -> None:
    counts = density(picture()[1])
    ascii_codes = TraceCells("ascii").draw(counts, LOW, STEP, (60, 20), (-8.0, 110.0))
    assert ascii_codes.max() < 0x7F
    shade = TraceCells("shade").draw(counts, LOW, STEP, (60, 20), (-8.0, 110.0))
    assert set(map(chr, np.unique(shade))) <= set(" ░▒▓█")


def test_denser_parts_are_drawn_with_more_dots() -> None:
    counts = np.zeros((40, BINS), np.float32)
    counts[:, 40:80] = 9  # the same number of levels, nine times as many pixels
    counts[:, 120:160] = 1
    codes = TraceCells("braille").draw(counts, LOW, STEP, (40, 24), (LOW, LOW + BINS * STEP))
    dots = np.array([[bin(int(code) - 0x2800).count("1") if code >= 0x2800 else 0 for code in row] for row in codes])
    upper, lower = dots[:12].sum(), dots[12:].sum()
    assert lower > 2 * upper > 0


@pytest.mark.parametrize("glyphs", ["braille", "blocks", "shade", "ascii"])
def test_a_glint_is_never_lost_between_the_dots(glyphs: str) -> None:
    for strip in range(30, 46):
        counts = np.zeros((80, BINS), np.float32)
        counts[:, 60:100] = 10
        counts[strip, 230] = 4  # one percent of one strip
        codes = TraceCells(glyphs).draw(counts, LOW, STEP, (40, 24), (-8.0, 110.0))
        assert (codes[:3] != 0x20).any(), strip


def test_noise_changes_few_cells() -> None:
    cells = TraceCells("braille")
    span = (-8.0, 110.0)
    frames = [cells.draw(density(picture(seed)[1]), LOW, STEP, (80, 20), span).copy() for seed in range(12)]
    changed = [(a != b).mean() for a, b in pairwise(frames[4:])]
    fresh = [TraceCells("braille").draw(density(picture(seed)[1]), LOW, STEP, (80, 20), span) for seed in (0, 1)]
    assert np.mean(changed) < 0.6 * (fresh[0] != fresh[1]).mean()


def test_another_picture_is_shown_at_once() -> None:
    cells = TraceCells("braille")
    size, span = (40, 20), (-8.0, 110.0)
    cells.draw(flat(20), LOW, STEP, size, span)
    after = cells.draw(flat(80), LOW, STEP, size, span)
    np.testing.assert_array_equal(after, TraceCells("braille").draw(flat(80), LOW, STEP, size, span))


def test_forgetting_leaves_no_ghost() -> None:
    cells = TraceCells("braille")
    size, span = (80, 20), (-8.0, 110.0)
    cells.draw(density(picture(0)[1]), LOW, STEP, size, span)
    cells.forget()
    counts = density(picture(1, light=1.02)[1])
    np.testing.assert_array_equal(
        cells.draw(counts, LOW, STEP, size, span), TraceCells("braille").draw(counts, LOW, STEP, size, span)
    )


def test_empty_picture_is_blank_and_no_warning() -> None:
    codes = TraceCells("braille").draw(np.zeros((4, BINS), np.float32), LOW, STEP, (10, 5), (-8.0, 110.0))
    assert set(codes.ravel()) == {0x20}


@given(st.floats(0, 1e6, width=32), st.integers(1, 400))
def test_brightness_stays_between_none_and_full(count: float, dots: int) -> None:
    value = brightness(np.full((3, dots), count, np.float32))
    assert 0 <= value.min() <= value.max() <= 1


def test_small_picture_greys_follow_the_light() -> None:
    ramp = np.repeat(np.linspace(0, 255, 24).astype(np.uint8)[None, :, None], 12, axis=0).repeat(3, axis=2)
    codes, inks = PictureCells("braille", greys=True).draw(ramp, 24, 6)
    assert set(codes.ravel()) == {0x20}, "upper and lower half are equal here"
    lower = (inks[0].astype(int) - GREY_FIRST) % GREY_STEPS
    assert list(lower) == sorted(lower)
    assert lower[0] == 0
    assert lower[-1] == GREY_STEPS - 1


def test_small_picture_with_deadband_keeps_still_under_noise() -> None:
    cells = PictureCells("braille", greys=True)
    rnd = np.random.default_rng(0)
    base = rnd.integers(40, 200, (90, 160, 1)).repeat(3, axis=2)
    drawn = []
    for _ in range(6):
        noisy = np.clip(base + rnd.normal(0, 2, base.shape), 0, 255).astype(np.uint8)
        drawn.append(cells.draw(noisy, 32, 9)[1].copy())
    assert max((a != b).mean() for a, b in pairwise(drawn)) < 0.05


@pytest.mark.parametrize("glyphs", ["ascii", "shade"])
def test_small_picture_without_greys_uses_a_ramp(glyphs: str) -> None:
    small = np.zeros((40, 40, 3), np.uint8)
    small[:, 20:] = 255
    codes, _ = PictureCells(glyphs, greys=True).draw(small, 10, 5)
    assert set(codes[:, :5].ravel()) == {0x20}
    assert {chr(code) for code in codes[:, 5:].ravel()} == {"#" if glyphs == "ascii" else "█"}


@given(st.integers(1, 9000), st.integers(1, 9000), st.integers(1, 120), st.integers(1, 60))
def test_fit_stays_in_its_box(width: int, height: int, columns: int, rows: int) -> None:
    across, down = fit(width, height, columns, rows)
    assert 1 <= across <= columns
    assert 1 <= down <= rows


@pytest.mark.parametrize(("width", "height"), [(1920, 1080), (640, 480), (1080, 1920), (2048, 858)])
def test_fit_keeps_the_proportions(width: int, height: int) -> None:
    across, down = fit(width, height, 80, 40)
    assert across / (2 * down) == pytest.approx(width / height, rel=0.05)


def test_dots_of_every_glyph_set_are_known() -> None:
    assert DOTS == {"braille": (2, 4), "blocks": (1, 2), "shade": (1, 1), "ascii": (1, 1)}
