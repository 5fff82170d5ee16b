"""Runs every section of the benchmark: ``python -m tests.bench [SECTION ...]``.

A section is a module of this folder with a function ``run() -> list[Row]``.
"""

from __future__ import annotations

import importlib
import os
import pkgutil
import platform
import sys
from pathlib import Path

import av
import cv2
import numpy as np

import tests.bench


def sections() -> list[str]:
    """Names of the modules that have something to run."""
    names = [module.name for module in pkgutil.iter_modules(tests.bench.__path__) if module.name != "__main__"]
    return [name for name in names if hasattr(importlib.import_module(f"tests.bench.{name}"), "run")]


def machine() -> str:
    """What the figures were measured on."""
    model = platform.processor() or platform.machine()
    about = Path("/proc/cpuinfo")
    if about.exists():
        found = [line.split(":", 1)[1].strip() for line in about.read_text().splitlines() if "model name" in line]
        model = found[0] if found else model
    load = os.getloadavg()[0]
    return (
        f"{model}, {os.cpu_count()} cores, load {load:.2f}; Python {platform.python_version()}, "
        f"NumPy {np.__version__}, OpenCV {cv2.__version__}, PyAV {av.__version__}"
    )


def main(wanted: list[str]) -> int:
    """Print the report; 1 when a budget is exceeded, 2 for an unknown section."""
    known = sections()
    unknown = [name for name in wanted if name not in known]
    if unknown:
        print(f"no section {', '.join(unknown)}; there are {', '.join(known)}", file=sys.stderr)
        return 2
    print(machine())
    over = 0
    for name in wanted or known:
        for row in importlib.import_module(f"tests.bench.{name}").run():
            print(f"{row.section:22} {row.name:72} {row.value:9.2f} {row.unit:12} {row.verdict()}", flush=True)
            over += row.verdict().startswith(("OVER", "BELOW"))
    return 1 if over else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
