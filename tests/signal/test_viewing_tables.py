"""Pictures through the operator's table: the quick 8-bit form against exact interpolation, and its limits."""

from __future__ import annotations

import threading

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from analysis.model.frame import Encoding
from analysis.signal.tables import LookUpTable, identity_cube
from analysis.signal.viewing import ViewingTransform, through_table, viewing_for
from tests.support.colour_library import colour_library

LOG = Encoding(bits=10, range="narrow", matrix="bt709", curve="acescct")
RAMP = np.repeat(np.arange(256, dtype=np.uint8)[np.newaxis, :, np.newaxis], 3, axis=2)
SMALL = np.random.default_rng(11).integers(0, 256, (90, 160, 3), dtype=np.uint8)


def wave(colours: np.ndarray) -> np.ndarray:
    """A grade that mixes channels and bends, of the kind tables are made of."""
    mixed = colours @ np.array([[0.8, 0.15, 0.05], [0.1, 0.8, 0.1], [0.0, 0.2, 0.8]]).T
    return np.clip(mixed, 0.0, 1.0) ** 0.7 * 1.1 - 0.05


def cube(size: int, **more: object) -> LookUpTable:
    return LookUpTable(values=wave(identity_cube(size)).astype(np.float32), **more)  # type: ignore[arg-type]


def miss(view: ViewingTransform, table: LookUpTable, picture: np.ndarray) -> float:
    """Largest distance in codes from the exact answer, the rounding to a whole code left out."""
    exact = np.clip(table.apply(picture / 255.0), 0.0, 1.0) * 255.0
    return float(np.abs(view.apply(picture) - exact).max()) - 0.5


@pytest.mark.parametrize("size", [2, 3, 17, 33, 65])
def test_identity_changes_no_code(size: int) -> None:
    view = through_table(LookUpTable(values=identity_cube(size).astype(np.float32)))
    np.testing.assert_array_equal(view.apply(SMALL), SMALL)
    np.testing.assert_array_equal(view.apply(RAMP), RAMP)


@pytest.mark.parametrize("size", [2, 256, 4096])
def test_identity_line_changes_no_code(size: int) -> None:
    line = np.repeat(np.linspace(0.0, 1.0, size)[:, np.newaxis], 3, axis=1).astype(np.float32)
    np.testing.assert_array_equal(through_table(LookUpTable(values=line)).apply(SMALL), SMALL)


@pytest.mark.parametrize("size", [2, 3, 8, 17, 32, 33, 64, 65, 96])
def test_a_grade_within_half_a_code_of_exact(size: int) -> None:
    table = cube(size)
    assert miss(through_table(table), table, SMALL) < 0.5


@pytest.mark.parametrize("size", [2, 33, 4096])
def test_a_line_gives_the_nearest_code(size: int) -> None:
    ramp = np.linspace(0.0, 1.0, size)[:, np.newaxis]
    table = LookUpTable(values=wave(np.repeat(ramp, 3, axis=1)).astype(np.float32))
    assert miss(through_table(table), table, SMALL) < 1e-6


@pytest.mark.parametrize(
    "low,high",
    [((-1.0, -1.0, -1.0), (4.0, 4.0, 4.0)), ((0.2, 0.1, 0.3), (0.6, 0.9, 0.8)), ((0.5, -3.0, 0.0), (9.0, 1.0, 1.0)),
     ((2.0, 2.0, 2.0), (3.0, 3.0, 3.0))],
)  # fmt: skip
@pytest.mark.parametrize("size", [2, 17, 33])
def test_input_ranges_of_any_kind(low: tuple[float, ...], high: tuple[float, ...], size: int) -> None:
    table = cube(size, low=low, high=high)
    view = through_table(table)
    assert miss(view, table, SMALL) < 1.0
    assert miss(view, table, RAMP) < 1.0


def test_the_wildest_table_within_the_step_of_the_interpolation() -> None:
    """OpenCV places a point in steps of 1/32 between lines: at most 1/64 of what two neighbours differ, per axis."""
    rng = np.random.default_rng(2)
    table = LookUpTable(values=rng.integers(0, 2, (33, 33, 33, 3)).astype(np.float32))
    assert miss(through_table(table), table, SMALL) <= 2 * 255 / 64 + 0.1


@pytest.mark.parametrize("channel", [0, 1, 2])
def test_channels_are_not_exchanged(channel: int) -> None:
    """A table that shows one channel only."""
    values = np.zeros((5, 5, 5, 3), np.float32)
    values[..., channel] = identity_cube(5)[..., channel]
    seen = through_table(LookUpTable(values=values)).apply(SMALL)
    np.testing.assert_array_equal(seen[..., channel], SMALL[..., channel])
    assert not np.delete(seen, channel, axis=2).any()


def test_rows_and_columns_of_the_picture_stay() -> None:
    picture = np.zeros((3, 7, 3), np.uint8)
    picture[2, 5] = (255, 10, 40)
    seen = through_table(LookUpTable(values=identity_cube(9).astype(np.float32))).apply(picture)
    np.testing.assert_array_equal(seen, picture)


def test_colours_beyond_the_screen_stop_at_its_ends() -> None:
    values = (identity_cube(2) * 3.0 - 1.0).astype(np.float32)
    seen = through_table(LookUpTable(values=values)).apply(RAMP)[0, :, 0]
    assert (seen[:85] == 0).all()
    assert (seen[171:] == 255).all()
    assert (np.diff(seen.astype(int)) >= 0).all()


@pytest.mark.parametrize("size", [2, 33, 65])
def test_grey_stays_grey_in_a_neutral_table(size: int) -> None:
    values = identity_cube(size) ** 0.6
    seen = through_table(LookUpTable(values=values.astype(np.float32))).apply(RAMP).astype(int)
    assert np.ptp(seen, axis=2).max() <= 1  # blue is exact, red and green in steps of 1/32
    assert (np.diff(seen[0, :, 0]) >= 0).all()


def test_same_colours_as_colour_science() -> None:
    """The whole way against colour-science's trilinear interpolation, whose tables are indexed red, green, blue."""
    trilinear = colour_library().algebra.table_interpolation_trilinear
    table = cube(17)
    expected = trilinear(SMALL / 255.0, table.values.transpose(2, 1, 0, 3).astype(np.float64)) * 255.0
    assert np.abs(through_table(table).apply(SMALL) - np.clip(expected, 0, 255)).max() <= 1.0


def test_the_table_is_what_is_chosen() -> None:
    table = cube(5, title="lake evening")
    view = viewing_for(LOG, "table", table)
    assert view.label == "table lake evening"
    np.testing.assert_array_equal(view.apply(SMALL), through_table(table).apply(SMALL))
    assert viewing_for(LOG, "auto", table).label == "acescct shown as bt709"


VIEWS = {
    "as it comes": viewing_for(LOG, "signal"),
    "own": viewing_for(LOG, "auto"),
    "wide": viewing_for(Encoding(bits=10, range="narrow", matrix="bt2020", curve="hlg"), "auto"),
    "cube": through_table(cube(33)),
    "line": through_table(LookUpTable(values=np.array([[0, 0, 0], [1, 0.5, 0.25]], np.float32))),
}
PICTURES = st.tuples(st.integers(0, 40), st.integers(0, 40)).flatmap(
    lambda shape: arrays.arrays(np.uint8, (*shape, 3), elements=st.integers(0, 255), fill=st.integers(0, 255))
)


@pytest.mark.parametrize("name", VIEWS)
@settings(max_examples=30)
@given(picture=PICTURES, order=st.sampled_from(["plain", "turned", "mirrored", "every second", "read-only"]))
def test_any_picture_comes_back_in_its_shape(name: str, picture: np.ndarray, order: str) -> None:
    if order == "turned":
        picture = picture.transpose(1, 0, 2)
    elif order == "mirrored":
        picture = picture[::-1, ::-1]
    elif order == "every second":
        picture = picture[::2, ::2]
    elif order == "read-only":
        picture.flags.writeable = False
    before = picture.copy()
    seen = VIEWS[name].apply(picture)
    assert (seen.shape, seen.dtype) == (picture.shape, np.uint8)
    np.testing.assert_array_equal(picture, before)
    if picture.size:
        one = VIEWS[name].apply(np.ascontiguousarray(picture[-1:, -1:]))
        np.testing.assert_array_equal(seen[-1:, -1:], one)  # each pixel by itself


def test_several_threads_may_use_one_transform() -> None:
    expected = VIEWS["cube"].apply(SMALL)
    wrong: list[int] = []

    def work() -> None:
        wrong.extend(n for n in range(30) if not np.array_equal(VIEWS["cube"].apply(SMALL), expected))

    threads = [threading.Thread(target=work) for _ in range(4)]
    for each in threads:
        each.start()
    for each in threads:
        each.join(30.0)
    assert not wrong
