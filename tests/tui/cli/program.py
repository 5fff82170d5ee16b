"""Runs the installed program as a user does and gives back what it said."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import NamedTuple

PROGRAM = [sys.executable, "-m", "tui.cli.main"]
ROOT = Path(__file__).parents[3]


class Said(NamedTuple):
    code: int
    out: str
    err: str


def environment(home: Path, **more: str) -> dict[str, str]:
    """A clean environment: nothing of the developer's own settings, terminal or SSH reaches the program."""
    kept = {k: v for k, v in os.environ.items() if k in {"PATH", "LD_LIBRARY_PATH", "OPENBLAS_CORETYPE", "PYTHONPATH"}}
    return {**kept, "HOME": str(home), "LANG": "C.UTF-8", "TERM": "xterm-256color", **more}


def stopkeeper(*arguments: str, home: Path, stdin: bytes | None = b"", timeout: float = 60.0, **env: str) -> Said:
    """Run ``stopkeeper ARGUMENTS`` without a terminal; what stands on its outputs must be text."""
    done = subprocess.run(
        [*PROGRAM, *arguments],
        input=stdin,
        capture_output=True,
        timeout=timeout,
        cwd=ROOT,
        env=environment(home, **env),
        check=False,
    )
    return Said(done.returncode, done.stdout.decode(), done.stderr.decode())


def one_line(said: Said, code: int) -> str:
    """The one line of an error: this exit code, nothing else on either output, never a traceback."""
    assert said.code == code, said
    assert "Traceback" not in said.err + said.out
    lines = said.err.splitlines()
    assert len(lines) == 1, said.err
    assert lines[0].startswith("stopkeeper: ")
    return lines[0]
