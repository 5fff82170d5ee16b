"""The house rules that a machine can check: who may import whom, and how large a file may grow."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]

# Each room may import itself and the rooms below it (design: one way only).
BELOW: dict[str, set[str]] = {
    "model": set(),
    "signal": {"model"},
    "measure": {"model", "signal"},
    "exposure": {"model", "signal", "measure"},
    "alarm": {"model", "signal", "measure"},
    "settings": {"model", "signal", "measure", "exposure", "alarm"},
    "engine": {"model", "signal", "measure", "exposure", "alarm", "settings"},
    "feed": {"model", "signal", "measure", "exposure", "alarm", "settings", "engine"},
    "lookout": {"model", "signal", "measure"},
    "journal": {"model", "signal", "measure", "exposure", "alarm", "settings", "engine"},
    "output": {"model", "signal", "measure", "exposure", "alarm", "settings", "engine"},
    "report": {"model", "signal", "measure", "exposure", "alarm", "settings", "engine"},
}
BELOW["watch"] = set(BELOW) - {"watch"}
PURE = {"model", "signal", "measure", "exposure", "alarm", "engine"}
IMPURE_MODULES = {
    "time", "os", "threading", "socket", "sqlite3", "av", "sounddevice", "subprocess", "asyncio",
    "multiprocessing", "select", "signal", "queue", "concurrent", "textual", "click",
}


def sources(top: str) -> list[Path]:
    return sorted(p for p in (ROOT / top).rglob("*.py") if "__pycache__" not in p.parts)


def imports(path: Path) -> list[str]:
    found = []
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            found += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            found.append(node.module or "")
            if node.module == "analysis":
                found += [f"analysis.{alias.name}" for alias in node.names]
    return found


def room(path: Path) -> str:
    part = path.relative_to(ROOT / "analysis").parts[0]
    return part.removesuffix(".py")


@pytest.mark.parametrize("path", sources("analysis"), ids=lambda p: str(p.relative_to(ROOT)))
def test_analysis_imports_only_downwards(path: Path) -> None:
    here = room(path)
    for name in imports(path):
        parts = name.split(".")
        assert parts[0] not in {"tui", "textual", "rich", "click", "tests"}, f"{path} imports {name}"
        if parts[0] == "analysis" and len(parts) > 1:
            assert here == parts[1] or parts[1] in BELOW.get(here, set()), f"{here} may not import {name}"
        if here in PURE:
            assert parts[0] not in IMPURE_MODULES, f"pure {here} imports {name}"


def test_no_datetime_now_in_pure_rooms() -> None:
    for path in sources("analysis"):
        if room(path) in PURE:
            text = path.read_text()
            assert "datetime.now" not in text and "utcnow" not in text, path


@pytest.mark.parametrize("top,limit", [("analysis", 400), ("tui", 400), ("tests", 500)])
def test_files_stay_small(top: str, limit: int) -> None:
    long = {str(p.relative_to(ROOT)): n for p in sources(top) if (n := len(p.read_text().splitlines())) > limit}
    assert not long


def test_no_rooms_for_odds_and_ends() -> None:
    forbidden = {"utils", "helpers", "common", "manager", "util", "misc"}
    for top in ("analysis", "tui"):
        for path in (ROOT / top).rglob("*"):
            assert path.stem not in forbidden, path


def test_every_room_is_known() -> None:
    rooms = {room(p) for p in sources("analysis")} - {"__init__"}
    assert rooms <= set(BELOW)
