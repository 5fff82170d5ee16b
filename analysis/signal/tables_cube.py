"""Reads .cube text, the form in which the trade exchanges 1-D and 3-D colour tables.

Two descriptions are in use and both are read: the Cube LUT Specification 1.0 (2013), with TITLE,
LUT_1D_SIZE or LUT_3D_SIZE, DOMAIN_MIN and DOMAIN_MAX; and the form of grading systems, which gives the
input range as LUT_1D_INPUT_RANGE or LUT_3D_INPUT_RANGE. Lines that begin with # are remarks; keywords
come before the rows; each row is red, green, blue, and in a 3-D table red changes fastest. A file that
holds a 1-D and a 3-D table at once is refused, as the specification does.
"""

from __future__ import annotations

import math

import numpy as np

from analysis.model.errors import SettingsError
from analysis.signal.tables import LookUpTable, Triple

LARGEST_3D, LARGEST_1D = 256, 65536
"""Most nodes along an axis (Cube LUT Specification 1.0)."""
LARGEST_NUMBER = 65504.0
"""Beyond the largest half float no table of a picture means anything."""
_SIZES = ("LUT_1D_SIZE", "LUT_3D_SIZE")
_RANGES = ("LUT_1D_INPUT_RANGE", "LUT_3D_INPUT_RANGE")
_DOMAIN = ("DOMAIN_MIN", "DOMAIN_MAX")
_KNOWN = ("TITLE", *_SIZES, *_DOMAIN, *_RANGES)
_SMALLEST_RANGE = 1e-6
_EXPORT = "export the table again"

Row = tuple[float, ...]


def parse_cube(text: str, where: str) -> LookUpTable:
    """The table of a .cube text; ``where`` names the file in errors.

    Raises SettingsError, one line with the file and where possible the line, for anything else.

    >>> parse_cube("LUT_1D_SIZE 2\\n0 0 0\\n1 1 0.5\\n", "warm.cube").values.tolist()
    [[0.0, 0.0, 0.0], [1.0, 1.0, 0.5]]
    >>> parse_cube("LUT_1D_SIZE 2\\n0 0 0\\n", "warm.cube")
    Traceback (most recent call last):
    ...
    analysis.model.errors.SettingsError: warm.cube: it ends after 1 of 2 rows; the file is cut short: ...
    """
    reader = _Reader(where)
    for number, line in enumerate(text.removeprefix("\ufeff").splitlines(), 1):
        content = line.strip()
        if content and not content.startswith("#"):
            reader.take(content, number)
    return reader.table()


class _Reader:
    """Gathers keywords, then rows, of one text."""

    def __init__(self, where: str) -> None:
        self._where = where
        self._said: dict[str, tuple[int, Row]] = {}
        self._title = ""
        self._rows: list[Row] = []
        self._wanted = 0

    def take(self, content: str, number: int) -> None:
        where = f"{self._where}: line {number}"
        if content[0].isalpha() and not _is_word_for_no_number(content):
            self._keyword(content, number, where)
            return
        if not self._wanted:
            self._begin(where)
        if len(self._rows) == self._wanted:
            size = self._size()
            raise SettingsError(
                f"more than the {self._wanted} rows of {size}", where, f"remove them or mend {size.split()[0]}"
            )
        self._rows.append(_numbers(content, 3, where, "a row is red, green and blue"))

    def table(self) -> LookUpTable:
        if not self._wanted:
            self._begin(self._where)
        if len(self._rows) < self._wanted:
            said = f"it ends after {len(self._rows)} of {self._wanted} rows"
            raise SettingsError(said, self._where, f"the file is cut short: {_EXPORT}")
        low, high = self._input()
        values = np.array(self._rows, np.float32)
        if "LUT_3D_SIZE" in self._said:
            size = round(self._said["LUT_3D_SIZE"][1][0])
            values = values.reshape(size, size, size, 3)
        return LookUpTable(values=values, low=low, high=high, title=self._title)

    def _keyword(self, content: str, number: int, where: str) -> None:
        word, _, rest = content.partition(" ") if "\t" not in content else content.replace("\t", " ").partition(" ")
        if word not in _KNOWN:
            raise SettingsError(f'"{_short(word)}" is no keyword of a .cube file', where, f"known: {', '.join(_KNOWN)}")
        if self._rows:
            raise SettingsError(f"{word} stands after the first row", where, "put keywords above the rows")
        if word in self._said:
            raise SettingsError(f"{word} was given on line {self._said[word][0]} already", where, "keep one of them")
        if word == "TITLE":
            self._title = _short(rest.strip().strip('"'))
            self._said[word] = number, ()
        elif word in _SIZES:
            self._said[word] = number, (_size(rest, word, where),)
        else:
            self._said[word] = number, _numbers(rest, 2 if word in _RANGES else 3, where, word)

    def _begin(self, where: str) -> None:
        """Before the first row: the size must be known by now."""
        given = [word for word in _SIZES if word in self._said]
        if not given:
            raise SettingsError(
                "no LUT_1D_SIZE or LUT_3D_SIZE before the rows", where, "give the size, or check that this is a table"
            )
        if len(given) > 1:
            raise SettingsError(
                "LUT_1D_SIZE and LUT_3D_SIZE in one file", where, "export one table: 3-D, or 1-D without the other"
            )
        size = round(self._said[given[0]][1][0])
        self._wanted = size if given[0] == "LUT_1D_SIZE" else size**3

    def _size(self) -> str:
        word = next(word for word in _SIZES if word in self._said)
        return f"{word} {self._said[word][1][0]:.0f}"

    def _input(self) -> tuple[Triple, Triple]:
        """Lowest and highest input, however the file says it."""
        own = "LUT_3D_INPUT_RANGE" if "LUT_3D_SIZE" in self._said else "LUT_1D_INPUT_RANGE"
        ranges, domain = [w for w in _RANGES if w in self._said], [w for w in _DOMAIN if w in self._said]
        if ranges and ranges != [own]:
            stray = next(word for word in ranges if word != own)
            raise SettingsError(f"{stray} does not belong to {self._size()}", self._at(stray), f"use {own}")
        if ranges and domain:
            raise SettingsError(
                f"the input range is given by {own} and {domain[0]}", self._at(domain[0]), "keep one of them"
            )
        low, high = (0.0, 0.0, 0.0), (1.0, 1.0, 1.0)
        if ranges:
            least, most = self._said[own][1]
            low, high = (least,) * 3, (most,) * 3
        if "DOMAIN_MIN" in self._said:
            low = _triple(self._said["DOMAIN_MIN"][1])
        if "DOMAIN_MAX" in self._said:
            high = _triple(self._said["DOMAIN_MAX"][1])
        for least, most in zip(low, high, strict=True):
            if most - least < _SMALLEST_RANGE:
                last = (ranges or domain)[-1]
                raise SettingsError(
                    f"the input range goes from {least:g} to {most:g}", self._at(last), "the lower number comes first"
                )
        return low, high

    def _at(self, word: str) -> str:
        return f"{self._where}: line {self._said[word][0]}"


def _triple(row: Row) -> Triple:
    red, green, blue = row
    return red, green, blue


def _is_word_for_no_number(content: str) -> bool:
    """Whether a line begins with nan or inf: a bad row, not an unknown keyword."""
    return content.split(maxsplit=1)[0].casefold() in {"nan", "inf", "infinity"}


def _size(text: str, word: str, where: str) -> int:
    most = LARGEST_1D if word == "LUT_1D_SIZE" else LARGEST_3D
    given = text.strip()
    if not (given.isascii() and given.isdigit() and len(given) < 10):
        raise SettingsError(f'{word} is "{_short(given)}"', where, f"write a whole number from 2 to {most}")
    if not 2 <= int(given) <= most:
        raise SettingsError(f"{word} is {int(given)}", where, f"it must be from 2 to {most}")
    return int(given)


def _numbers(text: str, count: int, where: str, what: str) -> Row:
    words = text.split()
    if len(words) != count:
        raise SettingsError(
            f'{len(words)} number{"" if len(words) == 1 else "s"} instead of {count} in "{_short(text)}"',
            where,
            f"{what}: {_EXPORT}",
        )
    try:
        if "_" in text or not text.isascii():  # Python would read 1_0 and digits of other scripts as numbers
            raise ValueError
        row = tuple(map(float, words))
    except ValueError:
        raise SettingsError(f'"{_short(text)}" is not {count} numbers', where, f"mend it, or {_EXPORT}") from None
    for value in row:
        if not abs(value) <= LARGEST_NUMBER:
            said = "is not finite" if not math.isfinite(value) else "is too large"
            raise SettingsError(f'a number in "{_short(text)}" {said}', where, _EXPORT)
    return row


def _short(text: str) -> str:
    line = " ".join("".join(char if char.isprintable() else " " for char in text).split())
    return line if len(line) <= 40 else line[:39] + "…"
