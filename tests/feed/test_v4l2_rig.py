"""The device rig says in words why it cannot work on a machine; what it runs is tested in tests/device."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest

RIG = Path(__file__).parents[1] / "device" / "rig.sh"

pytestmark = pytest.mark.skipif(shutil.which("bash") is None, reason="no bash here")


def run(*arguments: str, path: Path | None = None, home: Path | None = None) -> subprocess.CompletedProcess[str]:
    environment = {"PATH": str(path) if path else os.environ["PATH"], "HOME": str(home or "/nonexistent")}
    command = [shutil.which("bash") or "bash", str(RIG), *arguments]
    return subprocess.run(command, env=environment, capture_output=True, text=True, timeout=60)


def tools(folder: Path, **scripts: str) -> Path:
    """A folder of commands: the real ``uname`` and what a test puts beside it."""
    folder.mkdir()
    for name, script in scripts.items():
        (folder / name).write_text(f"#!{shutil.which('bash')}\n{script}\n")
        (folder / name).chmod(0o755)
    return folder


@pytest.mark.parametrize("arguments", [(), ("out",)])
def test_bad_use(arguments: tuple[str, ...]) -> None:
    done = run(*arguments)
    assert done.returncode == 2 and "usage: bash tests/device/rig.sh OUTDIR COMMAND" in done.stderr


def test_another_machine(tmp_path: Path) -> None:
    done = run("out", "true", path=tools(tmp_path / "bin", uname="echo aarch64"))
    assert done.returncode == 77 and "rig: skipped: only x86-64 machines are supported" in done.stderr


def test_another_distribution(tmp_path: Path) -> None:
    done = run("out", "true", path=tools(tmp_path / "bin", uname="echo x86_64"))
    assert done.returncode == 77 and "needs Debian's apt-get and dpkg" in done.stderr


def test_missing_packages_are_named_or_fail_in_words(tmp_path: Path) -> None:
    """Nothing installed and nothing that installs: root is told what failed, others what to install."""
    path = tools(
        tmp_path / "bin", uname="echo x86_64", dpkg="exit 0", **{"apt-get": "exit 100", "dpkg-query": "exit 1"}
    )
    done = run("out", "true", path=path, home=tmp_path)
    assert done.returncode == 77
    line = next(line for line in done.stderr.splitlines() if line.startswith("rig: skipped"))
    assert "apt-get install --no-install-recommends qemu-system-x86 busybox-static" in line
    assert ("install first, as root" in line) is (os.geteuid() != 0)
