"""Runs a command in this process, as the program's own entry does, and gives back what it said."""

from __future__ import annotations

import io
import signal
from collections.abc import Callable
from pathlib import Path

import pytest

from analysis.signal.curves import adopt
from tests.tui.cli.program import Said
from tui.cli import main

NEW = {"curves": "tui.cli.curves", "characterise": "tui.cli.characterise"}


def program(home: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Callable[..., Said]:
    """A function that takes the words after ``stopkeeper`` (and ``stdin=``); settings lie below ``home``."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(home))
    for name, module in NEW.items():
        monkeypatch.setitem(main.COMMANDS, name, (module, name))

    def run(*arguments: str, stdin: str = "") -> Said:
        monkeypatch.setattr("sys.stdin", io.StringIO(stdin))
        before = signal.getsignal(signal.SIGTERM)
        try:
            code = main.run(arguments)
        finally:
            signal.signal(signal.SIGTERM, before)
            adopt([])
        out, err = capsys.readouterr()
        return Said(code, out, err)

    return run
