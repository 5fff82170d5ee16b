"""Builds the wheel and runs the program from it, in a clean environment outside the tree.

Run as ``python -m tests.house.wheel_check``; it needs the network for the wheel's dependencies.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path

ROOT = Path(__file__).parents[2]


def run(command: list[str], cwd: Path, env: dict[str, str] | None = None) -> str:
    done = subprocess.run(command, cwd=cwd, env=env, capture_output=True, text=True, timeout=600)
    if done.returncode != 0:
        sys.exit(f"{' '.join(command)} ended with {done.returncode}\n{done.stdout}{done.stderr}")
    return done.stdout


def main() -> None:
    with tempfile.TemporaryDirectory(prefix="wheel-") as folder:
        there = Path(folder)
        run([sys.executable, "-m", "build", "--wheel", "--outdir", str(there), str(ROOT)], ROOT)
        wheel = next(there.glob("*.whl"))
        names = zipfile.ZipFile(wheel).namelist()
        for wanted in ("analysis/data/configs/default.toml", "analysis/data/recordings/README.md"):
            assert wanted in names, f"{wanted} is not in the wheel"
        run([sys.executable, "-m", "venv", str(there / "env")], there)
        bin_ = there / "env" / "bin"
        run([str(bin_ / "python"), "-m", "pip", "install", "--quiet", str(wheel)], there)
        home = there / "home"
        home.mkdir()
        clean = {"PATH": f"{bin_}:/usr/bin:/bin", "HOME": str(home), "LANG": "C.UTF-8", "TERM": "xterm-256color"}
        if "PIP_INDEX_URL" in os.environ:
            clean["PIP_INDEX_URL"] = os.environ["PIP_INDEX_URL"]
        program = str(bin_ / "stopkeeper")
        print(run([program, "--version"], there, clean).strip())
        line = run([program, "read", "scene:boathouse", "--json", "--frames", "2"], there, clean).splitlines()[-1]
        reading = json.loads(line)
        assert reading["validity"] == "good" and 0 < reading["luma"]["p50"] < 100, line
        shipped = run(
            [str(bin_ / "python"), "-c", "from analysis.settings.places import shipped; print(shipped('recordings'))"],
            there, clean,
        ).strip()  # fmt: skip
        assert str(ROOT) not in shipped, f"the wheel uses the tree: {shipped}"
        for clip in sorted(Path(shipped).glob("boathouse-*.*")):
            out = run([program, "read", str(clip), "--frames", "3"], there, clean)
            assert out.count("\n") == 3, out
            print(f"{clip.name}: {out.splitlines()[0]}")
        print("the wheel works outside the tree")


if __name__ == "__main__":
    main()
