"""Reads the Academy's Common LUT Format (CLF, S-2014-006) through OpenColorIO, which is optional.

The library works in a process of its own with a deadline, on a copy of the file: it can write warnings
to the terminal, it keeps files in a cache by name, and one of its calls was seen never to return. The
watch gets a plain table of 65 nodes an axis (1021 where no channel touches another) and never imports it.
"""

from __future__ import annotations

import io
import re
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

from analysis.model.errors import SettingsError
from analysis.settings.table_child import FAULTY, MISSING
from analysis.signal.tables import LookUpTable
from analysis.signal.tables_cube import LARGEST_NUMBER

INSTALL = "pip install 'stopkeeper[luts]'"
DEADLINE = 60.0
"""Seconds for reading one file; a table of 65 nodes takes well under one."""
_COMMAND = (sys.executable, "-m", "analysis.settings.table_child")
# A document type can grow without end, and a Reference names other files of this computer: a table needs neither.
_REFUSED = re.compile(rb"<!DOCTYPE|<!ENTITY|<(?:\w+:)?Reference\b")

_ARRAY = re.compile(rb"<Array\b[^>]*>([^<]*)")
_NOT_FINITE = re.compile(rb"(?<![\w.])[+-]?(?:nan|inf|infinity)(?![\w.])", re.IGNORECASE)


def read_clf(raw: bytes, where: str, seconds: float = DEADLINE, command: tuple[str, ...] = _COMMAND) -> LookUpTable:
    """The table of a CLF file's bytes, its title the file's name.

    Raises SettingsError in one line: the library is not installed, or what it says of the file.
    """
    _refuse(raw, where)
    try:
        with tempfile.TemporaryDirectory(prefix="stopkeeper-") as folder:
            copy = Path(folder) / "table.clf"
            copy.write_bytes(raw)
            done = subprocess.run(
                (*command, str(copy)), stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
                timeout=seconds, check=False,
            )  # fmt: skip
    except subprocess.TimeoutExpired:
        raise SettingsError(f"not read within {seconds:g} s", where, "use a smaller table, or a .cube file") from None
    except OSError as error:
        raise SettingsError(
            f"cannot be read: {error.strerror or error}", where, "free some memory and disk, or use a .cube file"
        ) from None
    if done.returncode == MISSING:
        raise SettingsError("CLF files need OpenColorIO", where, f"install it with {INSTALL}, or use a .cube file")
    if done.returncode == FAULTY:
        raise _fault(done.stdout.decode("utf-8", "replace"), where)
    if done.returncode != 0:
        raise SettingsError(f"OpenColorIO ended with {done.returncode} over it", where, "use a .cube file")
    values = np.load(io.BytesIO(done.stdout), allow_pickle=False)
    if not np.all(np.abs(values) <= LARGEST_NUMBER):
        raise SettingsError("it makes colours that are not finite", where, "export the table again")
    return LookUpTable(values=values, title=Path(where).name)


def _refuse(raw: bytes, where: str) -> None:
    """What the library would follow or quietly read as zero, and should not."""
    found = _REFUSED.search(raw)
    if found:
        said = f"{found.group().decode()[1:]} has no place in a table"
        raise SettingsError(said, _line(raw, found.start(), where), "export the table again")
    if b"halfDomain" in raw:  # such a list holds an output for every half float, those that are no numbers too
        return
    for array in _ARRAY.finditer(raw):
        bad = _NOT_FINITE.search(array.group(1))
        if bad:
            said = f'"{bad.group().decode()}" is not a finite number'
            raise SettingsError(said, _line(raw, array.start(1) + bad.start(), where), "export the table again")


def _line(raw: bytes, at: int, where: str) -> str:
    before = raw.count(b"\n", 0, at)
    return f"{where}: line {before + 1}"


def _fault(said: str, where: str) -> SettingsError:
    """The library's story in one line: its last reason, and the line of the file where it names one."""
    reason = " ".join(said.split())
    for mark in ("failed with:", "Error is:", "parsing error:", "Parsing error:"):
        reason = reason.rpartition(mark)[2].strip()
    at = re.search(r"At line \(?(\d+)\)?[:.]?", reason)
    if at:
        where = f"{where}: line {at.group(1)}"
        reason = f"{reason[: at.start()]} {reason[at.end() :]}"
    reason = re.sub(r"'?\S*table\.clf'? ?", "it ", reason)
    short = " ".join(reason.split()).strip(" .")
    return SettingsError(f"not a usable CLF file: {short[:160] or 'no reason given'}", where, "export the table again")
