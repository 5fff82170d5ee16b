"""Every failure is one printable line."""

from __future__ import annotations

import inspect

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.model import errors
from analysis.model.errors import StopkeeperError

KINDS = [kind for _, kind in inspect.getmembers(errors, inspect.isclass) if issubclass(kind, StopkeeperError)]


@given(st.text(max_size=60), st.text(max_size=60), st.text(max_size=60))
def test_whatever_stands_in_it_stays_one_line_a_terminal_only_prints(what: str, where: str, todo: str) -> None:
    line = StopkeeperError(what, where, todo).line()
    assert line.isprintable() and len(line.splitlines()) <= 1


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_has_an_exit_code_a_shell_knows(kind: type[StopkeeperError]) -> None:
    assert kind.exit_code in (1, 2)
    assert str(kind("lost", "bow camera", "plug it in")) == "bow camera: lost; plug it in"


def test_the_parts_are_kept() -> None:
    error = StopkeeperError("no\n picture", "stern\tcamera")
    assert (error.what, error.where, error.todo) == ("no picture", "stern camera", "")
    assert str(error) == "stern camera: no picture"
