"""The .cube text: what is read, against the descriptions and colour-science, and what is refused, in one line."""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.model.errors import SettingsError
from analysis.signal.tables import LookUpTable, identity_cube
from analysis.signal.tables_cube import parse_cube
from tests.support.colour_library import colour_library

WHERE = "boathouse.cube"
LINE = "LUT_1D_SIZE 2\n0 0 0\n1 1 1\n"
CUBE = "LUT_3D_SIZE 2\n" + "".join(f"{r} {g} {b}\n" for b in (0, 1) for g in (0, 1) for r in (0, 1))


def written(values: np.ndarray, head: str = "") -> str:
    """A table as .cube text, with all digits of float32."""
    word = "LUT_1D_SIZE" if values.ndim == 2 else "LUT_3D_SIZE"
    rows = "".join(f"{r:.9g} {g:.9g} {b:.9g}\n" for r, g, b in values.reshape(-1, 3))
    return f"{head}{word} {len(values)}\n{rows}"


def fault(text: str) -> str:
    with pytest.raises(SettingsError) as caught:
        parse_cube(text, WHERE)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_red_changes_fastest() -> None:
    """Cube LUT Specification 1.0: in a 3-D table red changes fastest, blue slowest."""
    table = parse_cube("LUT_3D_SIZE 2\n0 0 0\n.1 .2 .3\n0 0 0\n0 0 0\n.4 .5 .6\n0 0 0\n0 0 0\n0 0 0\n", WHERE)
    np.testing.assert_allclose(table.apply(np.array([1.0, 0.0, 0.0])), (0.1, 0.2, 0.3), atol=1e-7)
    np.testing.assert_allclose(table.apply(np.array([0.0, 0.0, 1.0])), (0.4, 0.5, 0.6), atol=1e-7)


@pytest.mark.parametrize("size", [2, 3, 17, 33])
def test_identity_cube_changes_nothing(size: int) -> None:
    table = parse_cube(written(identity_cube(size)), WHERE)
    colours = np.random.default_rng(size).random((500, 3))
    np.testing.assert_allclose(table.apply(colours), colours, atol=1e-6)
    assert table.is_cube
    assert table.size == size


def test_one_dimensional_columns_are_red_green_blue() -> None:
    table = parse_cube("LUT_1D_SIZE 3\n0 0 1\n.25 .5 .5\n1 1 0\n", WHERE)
    np.testing.assert_allclose(table.apply(np.array([0.25, 0.5, 0.75])), (0.125, 0.5, 0.25), atol=1e-7)
    assert not table.is_cube


def test_inputs_beyond_the_range_count_as_its_bounds() -> None:
    """Both descriptions: inputs outside the range are clipped to it; outputs are free."""
    for text in (LINE, CUBE):
        table = parse_cube("DOMAIN_MIN -1 -1 -1\nDOMAIN_MAX 3 3 3\n" + text, WHERE)
        np.testing.assert_allclose(table.apply(np.array([-9.0, 1.0, 9.0])), (0.0, 0.5, 1.0), atol=1e-7)
    assert parse_cube("LUT_1D_SIZE 2\n-2 0 0\n7 1 1\n", WHERE).apply(np.array([1.0, 0, 0]))[0] == 7.0


def test_domain_of_each_channel() -> None:
    table = parse_cube("DOMAIN_MIN 0 0.5 0\nDOMAIN_MAX 1 1.5 2\n" + LINE, WHERE)
    assert (table.low, table.high) == ((0.0, 0.5, 0.0), (1.0, 1.5, 2.0))
    np.testing.assert_allclose(table.apply(np.array([0.5, 1.0, 0.5])), (0.5, 0.5, 0.25), atol=1e-7)


@pytest.mark.parametrize("text,word", [(LINE, "LUT_1D_INPUT_RANGE"), (CUBE, "LUT_3D_INPUT_RANGE")])
def test_input_range_of_grading_systems(text: str, word: str) -> None:
    table = parse_cube(f"{word} -0.5 1.5\n{text}", WHERE)
    assert (table.low, table.high) == ((-0.5,) * 3, (1.5,) * 3)


def test_what_stands_around_the_numbers() -> None:
    head = '\ufeff# lake light\r\n\r\nTITLE "Boathouse, \u00e9vening"\r\n\tLUT_1D_SIZE\t2 \r\n'
    text = head + "  0  0\t0\r\n# middle\r\n+1.0 1E0 .1e1\r\n\r\n"
    table = parse_cube(text, WHERE)
    assert table.title == "Boathouse, \u00e9vening"
    np.testing.assert_array_equal(table.values, [[0, 0, 0], [1, 1, 1]])


@pytest.mark.parametrize("kind", ["IridasCube", "ResolveCube"])
@pytest.mark.parametrize("shape", [(7, 3), (5, 5, 5, 3), (17, 17, 17, 3)])
def test_same_table_as_colour_science(kind: str, shape: tuple[int, ...], tmp_path: Path) -> None:
    """Parsing and interpolation against colour-science's readers of both descriptions."""
    colour = colour_library()
    if kind == "IridasCube":
        head = 'TITLE "wave"\nDOMAIN_MIN -0.1 0 0.05\nDOMAIN_MAX 1.2 1 0.9\n'
        low, high = np.array((-0.1, 0, 0.05)), np.array((1.2, 1, 0.9))
    else:
        word = "LUT_1D_INPUT_RANGE" if len(shape) == 2 else "LUT_3D_INPUT_RANGE"
        head, low, high = f'TITLE "wave"\n{word} -0.1 1.2\n', np.full(3, -0.1), np.full(3, 1.2)
    rng = np.random.default_rng(5)
    text = written(rng.uniform(-0.2, 1.3, shape), head)
    path = tmp_path / "wave.cube"
    path.write_text(text)
    colours = rng.uniform(low, high, (400, 3))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        theirs = getattr(colour.io, f"read_LUT_{kind}")(str(path))
        if len(shape) == 2:  # one column each: the library's own interpolation of a 3x1D table
            expected = theirs.apply(colours)
        else:
            trilinear = colour.algebra.table_interpolation_trilinear
            expected = trilinear((colours - low) / (high - low), theirs.table)
    np.testing.assert_allclose(parse_cube(text, WHERE).apply(colours), expected, atol=2e-6)


@pytest.mark.parametrize("shape", [(9, 3), (5, 5, 5, 3), (33, 33, 33, 3)])
def test_same_colours_as_opencolorio(shape: tuple[int, ...], tmp_path: Path) -> None:
    library: Any = pytest.importorskip("PyOpenColorIO", reason="OpenColorIO is not installed")
    rng = np.random.default_rng(6)
    text = written(rng.random(shape), "DOMAIN_MIN 0 0 0\nDOMAIN_MAX 1 1 1\n")
    path = tmp_path / "wave.cube"
    path.write_text(text)
    file = library.FileTransform(src=str(path), interpolation=library.INTERP_LINEAR)
    processor = library.Config.CreateRaw().getProcessor(file).getDefaultCPUProcessor()
    colours = rng.random((400, 3)).astype(np.float32)
    expected = colours.copy()
    processor.applyRGB(expected)
    np.testing.assert_allclose(parse_cube(text, WHERE).apply(colours), expected, atol=2e-5)


@pytest.mark.parametrize(
    "text,said",
    [
        ("", "no LUT_1D_SIZE or LUT_3D_SIZE before the rows; give the size"),
        ("# only a remark\n", "boathouse.cube: no LUT_1D_SIZE"),
        ("0 0 0\n", "boathouse.cube: line 1: no LUT_1D_SIZE"),
        ("LUT_1D_SIZE 2\n", "it ends after 0 of 2 rows; the file is cut short"),
        ("LUT_3D_SIZE 2\n0 0 0\n", "boathouse.cube: it ends after 1 of 8 rows"),
        (CUBE + "0 0 0\n", "line 10: more than the 8 rows of LUT_3D_SIZE 2; remove them or mend LUT_3D_SIZE"),
        ("LUT_1D_SIZE 1\n0 0 0\n", "line 1: LUT_1D_SIZE is 1; it must be from 2 to 65536"),
        ("LUT_1D_SIZE 65537\n", "line 1: LUT_1D_SIZE is 65537; it must be from 2 to 65536"),
        ("LUT_3D_SIZE 257\n", "line 1: LUT_3D_SIZE is 257; it must be from 2 to 256"),
        ("LUT_3D_SIZE 0\n", "LUT_3D_SIZE is 0"),
        ("LUT_3D_SIZE -3\n", 'LUT_3D_SIZE is "-3"; write a whole number from 2 to 256'),
        ("LUT_3D_SIZE 2.5\n", 'LUT_3D_SIZE is "2.5"'),
        ("LUT_3D_SIZE\n", 'LUT_3D_SIZE is ""'),
        ("LUT_3D_SIZE 3 3 3\n", 'LUT_3D_SIZE is "3 3 3"'),
        ("LUT_3D_SIZE 99999999999999999999\n", 'LUT_3D_SIZE is "99999999999999999999"'),
        ("LUT_3D_SIZE ٣\n", 'LUT_3D_SIZE is "٣"'),
        ("LUT_1D_SIZE 2\nLUT_1D_SIZE 2\n", "line 2: LUT_1D_SIZE was given on line 1 already; keep one of them"),
        ("LUT_1D_SIZE 2\nLUT_3D_SIZE 2\n0 0 0\n", "LUT_1D_SIZE and LUT_3D_SIZE in one file"),
        ("LUT_1D_SIZE 2\n0 0 0\nTITLE late\n1 1 1\n", "line 3: TITLE stands after the first row"),
        ("LUT_1D_SIZE 2\n0 0\n1 1 1\n", 'line 2: 2 numbers instead of 3 in "0 0"'),
        ("LUT_1D_SIZE 2\n0 0 0 0\n1 1 1\n", "line 2: 4 numbers instead of 3"),
        ("LUT_1D_SIZE 2\n0 0 zero\n1 1 1\n", 'line 2: "0 0 zero" is not 3 numbers'),
        ("LUT_1D_SIZE 2\n0 0 1_0\n1 1 1\n", 'line 2: "0 0 1_0" is not 3 numbers'),
        ("LUT_1D_SIZE 2\n0 0 ١\n1 1 1\n", 'line 2: "0 0 ١" is not 3 numbers'),
        ("LUT_1D_SIZE 2\n0,0 0,0 0,0\n1 1 1\n", "is not 3 numbers"),
        ("LUT_1D_SIZE 2\n0 nan 0\n1 1 1\n", 'line 2: a number in "0 nan 0" is not finite'),
        ("LUT_1D_SIZE 2\nNaN 0 0\n1 1 1\n", 'line 2: a number in "NaN 0 0" is not finite'),
        ("LUT_1D_SIZE 2\n0 0 -inf\n1 1 1\n", "is not finite"),
        ("LUT_1D_SIZE 2\n0 0 1e999\n1 1 1\n", "is not finite"),
        ("LUT_1D_SIZE 2\n0 0 1e30\n1 1 1\n", "is too large"),
        ("SHAPE 3\n" + LINE, 'line 1: "SHAPE" is no keyword of a .cube file; known: TITLE, LUT_1D_SIZE'),
        ("DOMAIN_MIN 0 0\n" + LINE, 'line 1: 2 numbers instead of 3 in "0 0"; DOMAIN_MIN'),
        ("DOMAIN_MIN 0 0 inf\n" + LINE, "line 1: a number"),
        ("DOMAIN_MIN 1 0 0\nDOMAIN_MAX 0 1 1\n" + LINE, "line 2: the input range goes from 1 to 0; the lower number"),
        ("DOMAIN_MIN 1 0 0\n" + LINE, "line 1: the input range goes from 1 to 1"),
        ("DOMAIN_MAX 0 1 1\n" + LINE, "line 1: the input range goes from 0 to 0"),
        ("LUT_1D_INPUT_RANGE 1 0\n" + LINE, "line 1: the input range goes from 1 to 0"),
        ("LUT_1D_INPUT_RANGE 0\n" + LINE, "line 1: 1 number instead of 2"),
        ("LUT_3D_INPUT_RANGE 0 1\n" + LINE, "line 1: LUT_3D_INPUT_RANGE does not belong to LUT_1D_SIZE 2; use LUT_1D"),
        ("LUT_1D_INPUT_RANGE 0 1\nDOMAIN_MIN 0 0 0\n" + LINE, "line 2: the input range is given by"),
        ("PK\x03\x04\x14\x08", "is no keyword of a .cube file"),
        ("<?xml version='1.0'?>\n<ProcessList/>", "boathouse.cube: line 1: no LUT_1D_SIZE"),
    ],
)  # fmt: skip
def test_one_clear_line(text: str, said: str) -> None:
    line = fault(text)
    assert said in line
    assert line.startswith(WHERE)
    assert "; " in line, "what to do is missing"


def test_long_lines_are_quoted_short() -> None:
    assert len(fault("LUT_1D_SIZE 2\n" + "x" * 1_000_000)) < 250
    assert len(fault("LUT_1D_SIZE 2\n" + "0 " * 100_000)) < 200
    assert len(parse_cube(f"TITLE {'long ' * 9999}\n{LINE}", WHERE).title) <= 40


def test_stops_at_the_first_row_too_many() -> None:
    """A wrong size must not let an endless file fill the memory."""
    assert "line 4: more than the 2 rows" in fault("LUT_1D_SIZE 2\n" + "0 0 0\n" * 1000 + "rubbish")


GOOD = [
    "TITLE x", "LUT_1D_SIZE 2", "LUT_3D_SIZE 2", "LUT_1D_SIZE 3", "DOMAIN_MIN 0 0 0", "DOMAIN_MAX 1 1 1",
    "LUT_1D_INPUT_RANGE 0 1", "LUT_3D_INPUT_RANGE -1 2", "0 0 0", "1 1 1", "0.5 .5 5e-1", "# remark", "",
]  # fmt: skip
NUMBERS = st.tuples(*[st.floats(width=32)] * 3).map(lambda row: " ".join(map(str, row)))
ROWS = st.lists(st.one_of(st.sampled_from(GOOD), st.text(max_size=20), NUMBERS), max_size=12)


@given(ROWS)
def test_any_text_is_a_table_or_one_line(lines: list[str]) -> None:
    text = "\n".join(lines)
    try:
        table = parse_cube(text, WHERE)
    except SettingsError as error:
        assert str(error).startswith(WHERE)
        assert len(str(error).splitlines()) == 1
        assert error.todo
    else:
        assert_usable(table)


@given(st.data())
def test_a_damaged_table_is_a_table_or_one_line(data: st.DataObject) -> None:
    whole = data.draw(st.sampled_from([LINE, CUBE, "DOMAIN_MIN 0 0 0\nDOMAIN_MAX 1 1 1\n" + CUBE]))
    at = data.draw(st.integers(0, len(whole) - 1))
    until = data.draw(st.integers(at, len(whole)))
    text = whole[:at] + data.draw(st.text(max_size=5)) + whole[until:]
    try:
        table = parse_cube(text, WHERE)
    except SettingsError as error:
        assert len(str(error).splitlines()) == 1
    else:
        assert_usable(table)


def assert_usable(table: LookUpTable) -> None:
    assert np.isfinite(table.values).all()
    assert np.isfinite(table.apply(np.array([[-1.0, 0.5, 2.0], [0.0, 1.0, 0.3]]))).all()
