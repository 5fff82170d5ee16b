"""Lays one CLF file down as a plain table, in a process of its own; run by :mod:`analysis.settings.table_clf`.

``python -m analysis.settings.table_child FILE`` writes float32 values as a .npy array to standard output:
(n, 3) where no channel touches another, (n, n, n, 3) otherwise, for inputs from 0 to 1. What goes wrong
is one line on standard output and the exit code.
"""

from __future__ import annotations

import importlib
import io
import sys
from typing import Any

import numpy as np

from analysis.signal.tables import identity_cube

LIBRARY = "PyOpenColorIO"
MISSING, FAULTY = 3, 4
"""Exit codes: the library is not installed; the file is not usable."""
CUBE, LINE = 65, 1021
"""Nodes laid down: steps of four 8-bit codes in 3-D, of a quarter of a code in 1-D."""


def main(path: str) -> int:
    """The exit code; the answer is on standard output."""
    try:
        library: Any = importlib.import_module(LIBRARY)
    except ImportError:
        return MISSING
    library.SetLoggingLevel(library.LOGGING_LEVEL_NONE)
    try:
        values = _laid_down(library, path)
    except library.Exception as error:
        sys.stdout.write(str(error))
        return FAULTY
    # By way of memory: numpy asks a file for its place, which a pipe does not have.
    answer = io.BytesIO()
    np.save(answer, values, allow_pickle=False)
    sys.stdout.buffer.write(answer.getvalue())
    return 0


def _laid_down(library: Any, path: str) -> np.ndarray[Any, np.dtype[np.float32]]:
    file = library.FileTransform(src=path, interpolation=library.INTERP_BEST)
    processor = library.Config.CreateRaw().getProcessor(file)
    if processor.hasChannelCrosstalk():
        inputs = identity_cube(CUBE)
    else:
        inputs = np.repeat(np.linspace(0.0, 1.0, LINE)[:, np.newaxis], 3, axis=1)
    values = np.ascontiguousarray(inputs, np.float32)
    processor.getDefaultCPUProcessor().applyRGB(values)
    return values


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
