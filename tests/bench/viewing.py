"""What the viewing transform costs: of one small picture in units and milliseconds, and of building it.

One unit is ``cv2.calcHist`` of a 1920 by 1080 luma plane of 8 bits. Unit and transform take turns; times
are processor time of the thread, the median of all turns.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from statistics import median

import cv2
import numpy as np

from analysis.model.frame import Encoding, Matrix
from analysis.signal.tables import LookUpTable, identity_cube
from analysis.signal.tables_cube import parse_cube
from analysis.signal.viewing import ViewingTransform, through_table, viewing_for
from tests.bench.row import Row

TURNS = 200
MOST_MS = 1.0


def run() -> list[Row]:
    """All rows of this section."""
    cv2.setNumThreads(1)
    rng = np.random.default_rng(1)
    plane = rng.integers(0, 256, (1080, 1920), dtype=np.uint8)
    small = rng.integers(0, 256, (90, 160, 3), dtype=np.uint8)
    table = LookUpTable(values=(identity_cube(33) ** 0.6).astype(np.float32))
    ways: list[tuple[str, Callable[[], ViewingTransform]]] = [
        ("bt709, as it is", lambda: viewing_for(_encoding("bt709", "bt709"), "auto")),
        ("acescct shown as bt709 (one list a channel)", lambda: viewing_for(_encoding("acescct", "bt709"), "auto")),
        ("hlg with BT.2020 primaries (3-D, 65 nodes)", lambda: viewing_for(_encoding("hlg", "bt2020"), "auto")),
        ("an operator's 3-D table, 33 nodes", lambda: through_table(table)),
    ]
    rows = []
    for name, build in ways:
        view = build()
        cost, unit = _turns(
            lambda view=view: view.apply(small), lambda: cv2.calcHist([plane], [0], None, [256], [0, 256])
        )
        rows.append(Row(section="viewing 160x90", name=name, value=cost / unit, unit="units"))
        rows.append(Row(section="viewing 160x90", name=name, value=cost * 1e3, unit="ms", most=MOST_MS))
        built = median(_processor_time(build) for _ in range(5))
        rows.append(Row(section="viewing, once a format", name=name, value=built * 1e3, unit="ms"))
    text = "LUT_3D_SIZE 65\n" + "".join(f"{r:.6f} {g:.6f} {b:.6f}\n" for r, g, b in identity_cube(65).reshape(-1, 3))
    parsed = _processor_time(lambda: parse_cube(text, "bench"))
    rows.append(Row(section="viewing, once", name="reading a .cube of 65 nodes", value=parsed * 1e3, unit="ms"))
    return rows


def _encoding(curve: str, matrix: Matrix) -> Encoding:
    return Encoding(bits=10, range="narrow", matrix=matrix, curve=curve)


def _turns(work: Callable[[], object], count: Callable[[], object]) -> tuple[float, float]:
    work()
    costs, units = [], []
    for _ in range(TURNS):
        units.append(_processor_time(count))
        costs.append(_processor_time(work))
    return median(costs), median(units)


def _processor_time(work: Callable[[], object]) -> float:
    start = time.thread_time()
    work()
    return time.thread_time() - start
