"""Tables in files: what is read, and the one line for each that is not."""

from __future__ import annotations

import importlib
import os
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from analysis.model.errors import SettingsError
from analysis.settings import table_child, table_files
from analysis.settings.table_clf import INSTALL, read_clf
from analysis.settings.table_files import load_table
from analysis.signal.curves import curve
from analysis.signal.tables import identity_cube
from analysis.signal.viewing import through_table

LINE = "LUT_1D_SIZE 2\n0 0 0\n1 1 1\n"
DEPTHS = 'inBitDepth="32f" outBitDepth="32f"'


def clf(*nodes: str) -> bytes:
    head = '<?xml version="1.0" encoding="UTF-8"?>\n<ProcessList xmlns="urn:AMPAS:CLF:v3.0" id="lake" '
    return (head + 'compCLFversion="3.0">\n' + "\n".join(nodes) + "\n</ProcessList>\n").encode()


MATRIX = f'<Matrix {DEPTHS}><Array dim="3 3">0.5 0.5 0 0 1 0 0.25 0 0.75</Array></Matrix>'


def fault(path: Path) -> str:
    with pytest.raises(SettingsError) as caught:
        load_table(path)
    line = str(caught.value)
    assert "\n" not in line
    assert str(path) in line
    assert caught.value.todo
    return line


@pytest.fixture
def library() -> Any:
    return pytest.importorskip("PyOpenColorIO", reason="OpenColorIO is not installed")


@pytest.mark.parametrize("name", ["lake.cube", "LAKE.CUBE", "at $HOME %d é.cube"])
def test_a_cube_file(name: str, tmp_path: Path) -> None:
    path = tmp_path / name
    path.write_text(LINE)
    table = load_table(path)
    assert table.title == name
    np.testing.assert_array_equal(table.values, [[0, 0, 0], [1, 1, 1]])


def test_a_title_of_its_own_in_an_old_code_page(tmp_path: Path) -> None:
    path = tmp_path / "lake.cube"
    path.write_bytes(b'# caf\xe9\nTITLE "evening"\n' + LINE.encode())
    assert load_table(path).title == "evening"


@pytest.mark.parametrize(
    "name,content,said",
    [
        ("lake.txt", LINE.encode(), "not a kind of table that can be read; use .cube or .clf"),
        ("lake", LINE.encode(), "not a kind of table"),
        ("lake.cube", b"", "the file is empty; export"),
        ("lake.cube", b" \n\t\n", "the file is empty"),
        ("lake.cube", LINE.encode("utf-16"), "not plain text; save it as text in UTF-8"),
        ("lake.cube", bytes(range(256)), "not plain text"),
        ("lake.cube", b"LUT_1D_SIZE 2\n0 0 0\n", "it ends after 1 of 2 rows"),
        ("lake.cube", b"LUT_1D_SIZE 2\n0 0 \xff\n1 1 1", 'line 2: "0 0'),
        ("lake.clf", b"", "the file is empty"),
        ("lake.clf", clf(MATRIX).decode().encode("utf-16"), "not plain text"),
    ],
)
def test_one_clear_line(name: str, content: bytes, said: str, tmp_path: Path) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    assert said in fault(path)


def test_what_is_no_file(tmp_path: Path) -> None:
    assert "No such file or directory; check the path" in fault(tmp_path / "none.cube")
    (tmp_path / "folder.cube").mkdir()
    assert "not a file; name a file" in fault(tmp_path / "folder.cube")
    os.mkfifo(tmp_path / "pipe.cube")  # opening it would wait for a writer for ever
    assert "not a file" in fault(tmp_path / "pipe.cube")
    (tmp_path / "loop.cube").symlink_to(tmp_path / "loop.cube")
    fault(tmp_path / "loop.cube")


def test_a_huge_file_is_not_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "lake.cube"
    with path.open("wb") as file:
        file.truncate(table_files.LARGEST + 1)  # takes no room on the disk
    assert "larger than 64 MiB; export a table of 65 nodes" in fault(path)
    path.write_text(LINE)
    monkeypatch.setattr(table_files, "LARGEST", len(LINE) - 1)
    assert "larger than" in fault(path)
    monkeypatch.setattr(table_files, "LARGEST", len(LINE))
    assert load_table(path).size == 2


# The Academy's format, through OpenColorIO.


def test_without_the_library_the_line_names_the_command(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(table_child, "LIBRARY", "no_such_library")
    assert table_child.main("anything") == table_child.MISSING
    assert not capsys.readouterr().out
    stand_in = (sys.executable, "-c", f"import sys; sys.exit({table_child.MISSING})")
    with pytest.raises(SettingsError) as caught:
        read_clf(clf(MATRIX), "lake.clf", command=stand_in)
    assert str(caught.value) == f"lake.clf: CLF files need OpenColorIO; install it with {INSTALL}, or use a .cube file"


def test_the_process_itself_without_or_with_the_library(tmp_path: Path) -> None:
    """No stand-in: whatever is installed here."""
    path = tmp_path / "lake.clf"
    path.write_bytes(clf(MATRIX))
    try:
        importlib.import_module("PyOpenColorIO")
    except ImportError:
        assert INSTALL in fault(path)
    else:
        assert load_table(path).is_cube


@pytest.mark.parametrize(
    "program,said",
    [
        ("import time; time.sleep(60)", "not read within 0.3 s; use a smaller table"),
        ("import os; os.abort()", "OpenColorIO ended with -6 over it"),
        ("import sys; print('failed with: At line 7: torn'); sys.exit(4)", "line 7: not a usable CLF file: torn; "),
        ("import sys; sys.exit(4)", "not a usable CLF file: no reason given"),
        (
            "import io, sys, numpy; b = io.BytesIO(); numpy.save(b, numpy.full((2, 3), numpy.nan)); "
            "sys.stdout.buffer.write(b.getvalue())",
            "not finite",
        ),
    ],
)
def test_a_library_that_misbehaves_costs_one_line(program: str, said: str) -> None:
    seconds = 0.3 if "sleep" in program else 30.0
    with pytest.raises(SettingsError) as caught:
        read_clf(clf(MATRIX), "lake.clf", seconds, (sys.executable, "-c", program))
    assert said in str(caught.value)
    assert len(str(caught.value).splitlines()) == 1


def test_no_process_to_be_had() -> None:
    with pytest.raises(SettingsError, match="cannot be read: No such file or directory; free some memory"):
        read_clf(clf(MATRIX), "lake.clf", command=("/no/such/program",))


@pytest.mark.parametrize(
    "node,said",
    [
        ('<Reference inBitDepth="32f" outBitDepth="32f" path="/etc/passwd"/>', "line 3: Reference has no place"),
        ("<a:Reference path='x'/>", "a:Reference has no place in a table"),
        ("<!DOCTYPE a [<!ENTITY b 'c'>]>", "line 3: !DOCTYPE has no place"),
        (f'<LUT1D {DEPTHS}><Array dim="2 1">\n0 NaN</Array></LUT1D>', 'line 4: "NaN" is not a finite number'),
        (f'<LUT1D {DEPTHS}><Array dim="2 1">-inf 1</Array></LUT1D>', '"-inf" is not a finite number'),
    ],
)
def test_what_the_library_would_follow_or_overlook(node: str, said: str) -> None:
    with pytest.raises(SettingsError) as caught:
        read_clf(clf(node), "lake.clf", command=("/no/such/program",))  # it does not come so far
    assert said in str(caught.value)


def test_a_matrix(library: Any, tmp_path: Path) -> None:
    """CLF Matrix: out = M in, by rows (S-2014-006)."""
    path = tmp_path / "lake $HOME.clf"
    path.write_bytes(clf("<Description>nan or inf in words is no harm</Description>", MATRIX))
    table = load_table(path)
    colours = np.random.default_rng(1).random((200, 3))
    wanted = colours @ np.array([[0.5, 0.5, 0], [0, 1, 0], [0.25, 0, 0.75]]).T
    np.testing.assert_allclose(table.apply(colours), wanted, atol=1e-5)
    assert table.title == "lake $HOME.clf"


def test_a_line_for_each_channel(library: Any) -> None:
    node = f'<LUT1D {DEPTHS}><Array dim="3 3">0 0 1  0.25 0.5 0.5  1 1 0</Array></LUT1D>'
    table = read_clf(clf(node), "lake.clf")
    assert not table.is_cube
    np.testing.assert_allclose(table.apply(np.array([0.25, 0.5, 0.75])), (0.125, 0.5, 0.25), atol=1e-5)


def test_a_cube_whose_blue_changes_fastest(library: Any) -> None:
    """S-2014-006: in the Array of a LUT3D blue changes fastest, the other way round than in .cube files."""
    rows = " ".join(f"{r} {g} {b * 0.5}" for r in (0, 1) for g in (0, 1) for b in (0, 1))
    table = read_clf(clf(f'<LUT3D {DEPTHS}><Array dim="2 2 2 3">{rows}</Array></LUT3D>'), "lake.clf")
    np.testing.assert_allclose(table.values, identity_cube(65) * (1, 1, 0.5), atol=1e-6)


def test_a_whole_rendering_stays_within_a_code_of_the_library(library: Any, tmp_path: Path) -> None:
    """ACEScct to linear, a matrix, a power: the table laid down, through the 8-bit picture, against the library."""
    log = (
        f'<Log {DEPTHS} style="cameraLogToLin"><LogParams base="2" linSideSlope="1" linSideOffset="0" '
        'logSideSlope="0.0570776255707763" logSideOffset="0.554794520547945" linSideBreak="0.0078125"/></Log>'
    )
    power = f'<Exponent {DEPTHS} style="basicFwd"><ExponentParams exponent="0.4166667"/></Exponent>'
    raw = clf(log, MATRIX, power)
    path = tmp_path / "lake.clf"
    path.write_bytes(raw)
    rng = np.random.default_rng(4)
    picture = rng.integers(20, 150, (60, 80, 3), dtype=np.uint8)
    exact = np.ascontiguousarray((picture / 255.0).reshape(-1, 3), np.float32)
    processor = library.Config.CreateRaw().getProcessor(library.FileTransform(src=str(path)))
    processor.getDefaultCPUProcessor().applyRGB(exact)
    seen = through_table(load_table(path)).apply(picture).reshape(-1, 3)
    missed = np.abs(seen - np.clip(exact, 0, 1) * 255.0)
    assert np.percentile(missed, 99) <= 1.0
    assert missed.max() <= 3.0
    # And the library's ACEScct is ours: an 18 % card through log and power.
    grey = read_clf(clf(log, power), "lake.clf").apply(np.full(3, curve("acescct").middle))
    np.testing.assert_allclose(grey, 0.18**0.4166667, atol=1e-3)


@pytest.mark.parametrize(
    "raw,said",
    [
        (b"hello", "not a usable CLF file: it is not a CTF/CLF file"),
        (b"<a/>", "not a usable CLF file"),
        (clf(), "No color operator in file"),
        (clf("<Matrix"), "not a usable CLF file"),
        (clf(MATRIX)[:-20], "not a usable CLF file"),
        (clf(MATRIX.replace("0.25", "x")), "line 3: not a usable CLF file: Illegal values"),
        (clf(MATRIX.replace("0.25", "")), "line 3: not a usable CLF file: Expected 3x3 Array values, found 8"),
        (clf(f'<LUT3D {DEPTHS}><Array dim="9999 9999 9999 3">0</Array></LUT3D>'), "Illegal array dimensions"),
    ],
)
def test_a_faulty_clf_file(library: Any, raw: bytes, said: str, tmp_path: Path) -> None:
    path = tmp_path / "lake.clf"
    path.write_bytes(raw)
    line = fault(path)
    assert said in line
    assert "table.clf" not in line
